"""T-slots and dovetails: recesses wider below than at their mouth, which no straight tool cuts from above."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from schemas.base import Frame, Vec3, add, cross, dot, norm, scale
from schemas.tolerances import LIMIT, SQUARE
from worker.recognise.extent import extent
from worker.recognise.ids import Draft
from worker.recognise.passages import through_outline
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess, hollow, is_wall
from worker.recognise.strips import line_of, straight

DEEP = 2.0
"""A recess wider than its mouth may be cut from its end when it is no longer than this many times the mouth's width.

Or its foot's narrower side; of a dovetail that alone, which is its depth. Ours: a straight cutter as wide reaches about
so far without special measures."""

DOVETAIL = 3
"""Walls of a dovetail seen from its end: floor and sides."""

LEANS = 0.05
"""A wall hangs over when it looks down by more than this (sine)."""


def undercut_draft(shape: PartShape, recess: Recess, lone: Iterable[int]) -> Draft | None:
    """The T-slot or dovetail that a recess is; None when it is none. ``lone``: planes outside any recess."""
    walls = tuple(p for p in recess.patches if is_wall(shape.patches[p], recess.axis))
    if len(walls) < 3 or any(shape.patches[p].surface.kind != "plane" for p in walls):
        return None
    chain = through_outline(shape, replace(recess, patches=walls, floors=())).runs[0]
    if len(chain) % 2 == 0 or len(chain) != len(walls) or chain[0] == chain[-1]:
        return None
    floor = chain[len(chain) // 2]
    mouth_way = shape.patches[floor].surface.axis
    roof = [p for p in walls if dot(shape.patches[p].surface.axis, mouth_way) < -LEANS]
    across = cross(recess.axis, mouth_way)
    least = 1 if _has_upright_side(shape, chain, mouth_way) else 2
    if len(roof) < least or abs(norm(across) - 1) > SQUARE or not _opens(shape, recess, chain, lone):
        return None
    low, high = extent(shape, recess.patches, recess.axis)
    sides = sorted(extent(shape, (p,), across) for p in (chain[0], chain[-1]))
    mouth = sides[1][0] - sides[0][1]
    foot = _foot(shape, chain, (across, mouth_way))
    if mouth <= 0 or high - low <= DEEP * (foot if len(chain) == DOVETAIL else max(mouth, foot)) + LIMIT:
        return None
    feet = _feet(shape, (chain[0], floor, chain[-1]), across) if len(chain) == DOVETAIL else 0.0
    neck = _neck(shape, roof, lone, mouth_way, recess.axis)
    return _draft(shape, recess, (floor, mouth_way, across), roof, neck, feet)


def tail_draft(shape: PartShape, recess: Recess, floor: int) -> Draft | None:
    """The dovetail of a floor and two flanks that reliefs keep apart, as wide as where their planes meet; None for one
    so short that it may be cut from its end."""
    up, flanks = shape.patches[floor].surface.axis, [p for p in recess.patches if p != floor]
    across = cross(recess.axis, up)
    feet = _feet(shape, (flanks[0], floor, flanks[1]), across)
    low, high = extent(shape, flanks, recess.axis)
    height = top_of(shape, replace(recess, axis=up)) - dot(shape.patches[floor].surface.origin, up)
    if high - low <= DEEP * min(height, feet) + LIMIT:
        return None
    return _draft(shape, recess, (floor, up, across), flanks, [], feet)


def _feet(shape: PartShape, chain: tuple[int, int, int], across: Vec3) -> float:
    """How far apart the planes of two flanks are on that of the floor between them (mm)."""
    one, floor, other = (shape.patches[p].surface for p in chain)
    level = dot(floor.origin, floor.axis)
    a, b = ((dot(s.origin, s.axis) - level * dot(s.axis, floor.axis)) / dot(s.axis, across) for s in (one, other))
    return abs(a - b)


def _has_upright_side(shape: PartShape, chain: tuple[int, ...], up: Vec3) -> bool:
    """True for a dovetail of which one side only hangs over: the other is square to its floor."""
    return len(chain) == DOVETAIL and any(is_wall(shape.patches[p], up) for p in (chain[0], chain[-1]))


def _foot(shape: PartShape, chain: tuple[int, ...], section: tuple[Vec3, Vec3]) -> float:
    """The narrower side of a foot (mm): that of a pocket which a narrow slot leaves by its wall is the pocket."""
    middle = len(chain) // 2
    return min(high - low for low, high in (extent(shape, chain[middle - 1 : middle + 2 : 2], way) for way in section))


def _opens(shape: PartShape, recess: Recess, chain: tuple[int, ...], lone: Iterable[int]) -> bool:
    """True when both ends of the chain run out into an outer plane or a neck, not into another recess."""
    outside = set(lone)
    return all(
        any(r.other in outside for r in straight(shape.patches[end].rims) if _runs_along(r, recess.axis))
        for end in (chain[0], chain[-1])
    )


def _runs_along(rim: Rim, axis: Vec3) -> bool:
    return norm(cross(line_of(rim), axis)) < SQUARE


def _neck(shape: PartShape, roof: list[int], lone: Iterable[int], mouth_way: Vec3, axis: Vec3) -> list[int]:
    """Lone planes that stand on the edges of the roof: the walls of the neck."""
    free = set(lone)
    near = {o for r in roof for o in shape.patches[r].neighbours if o in free}
    normals = {o: shape.patches[o].surface.axis for o in near}
    return sorted(o for o, n in normals.items() if abs(dot(n, mouth_way)) < SQUARE and abs(dot(n, axis)) < SQUARE)


def _far_end(shape: PartShape, recess: Recess) -> str:
    if recess.floors:
        return "flat"
    return "radiused" if any(hollow(shape.patches[p]) for p in recess.patches) else "open"


def _draft(
    shape: PartShape,
    recess: Recess,
    ground: tuple[int, Vec3, Vec3],
    roof: list[int],
    neck: list[int],
    feet: float = 0.0,
) -> Draft:
    """``feet``: how far apart its planes meet, of a dovetail: reliefs may have taken those corners."""
    floor, up, across = ground
    patches = tuple(sorted({*recess.patches, *neck}))
    walls = [p for p in patches if p != floor]  # it may run on, into a hole as deep that lets the cutter in
    spans = [extent(shape, walls, d) for d in (recess.axis, across)]
    bottom, top = dot(shape.patches[floor].surface.origin, up), top_of(shape, Recess(patches, up, (), ()))
    place = add(add(scale(recess.axis, sum(spans[0]) / 2), across, sum(spans[1]) / 2), up, top)
    ends = f"open {_far_end(shape, recess)}"
    square = all(norm(cross(shape.patches[r].surface.axis, up)) < SQUARE for r in roof)
    kind = "T-slot" if square else "dovetail"
    sizes: dict[str, object] = {
        "length": spans[0][1] - spans[0][0],
        "width": feet if feet > spans[1][1] - spans[1][0] + LIMIT else spans[1][1] - spans[1][0],
        "depth": top - bottom,
        "bottom": "planar",
        "ends": ends,
        "open_sides": ends.split().count("open"),
        "undercut": f"{kind}: wider below than at its mouth",
    }
    return Draft("slot", patches, Frame(location=place, axis=up, ref_direction=recess.axis), (), sizes)
