"""Recesses without a flat floor that a cutter's own shape makes: dishes, round-bottomed grooves, vees, key seats."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.feature import FeatureClass
from schemas.tolerances import LEDGE, SAME_LENGTH, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.borders import circle_of
from worker.recognise.extent import extent
from worker.recognise.loops import round_loop
from worker.recognise.open_sides import sides_of
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.recess_size import breaks_edge, is_square, is_vee
from worker.recognise.recesses import DRAFT, Recess, hollow, is_wall
from worker.recognise.troughs import trough_of
from worker.recognise.vee_courses import vee_course

OUT = 0.5
"""A side that looks along the travel by at least this cosine lets the cutter out."""


@dataclass(frozen=True, eq=False)
class Basin:
    """A floorless recess: what it is, its slot ends, its travel (None: none), the patches beyond its open sides.

    ``sizes`` replace those that straight extents give.
    """

    class_: FeatureClass
    ends: str | None
    travel: Vec3 | None
    open_to: tuple[int, ...]
    sizes: dict[str, object] = field(default_factory=dict)


def basin_of(shape: PartShape, recess: Recess, sunk: frozenset[int] = frozenset()) -> Basin | None:
    """The basin that a recess is; None for one with a floor, a passage, two lone planes or a slanted floor.

    ``sunk``: the patches of all holes and recesses; what they take of its sides opens none of those.
    """
    leaning = [p for p in recess.patches if not is_wall(shape.patches[p], recess.axis)]
    planes = [p for p in leaning if shape.patches[p].surface.kind == "plane"]
    flat = all(shape.patches[p].surface.kind == "plane" for p in recess.patches)
    if recess.floors or not leaning or (flat and (is_vee(shape, recess) or len(planes) < 2)):
        return None
    open_to = _open_to(shape, recess)
    if course := vee_course(shape, recess):
        return Basin("slot", course.ends, None, open_to, course.sizes)
    if trough := trough_of(shape, recess):
        return Basin(trough.class_, trough.ends, trough.travel, open_to)
    vee = flat or _is_rounded_vee(shape, recess, leaning) or _has_coned_ends(shape, leaning)
    if not vee and (planes or not all(hollow(shape.patches[p]) for p in leaning)):
        return None
    if not open_to and _is_ring(shape, leaning):
        return Basin("slot", "loop", None, open_to, _ring_sizes(shape.patches[leaning[0]]))
    if not open_to and (loop := round_loop(shape, recess, leaning)):
        return Basin("slot", "loop", None, open_to, loop)
    travel = _travel(shape, recess, leaning)
    if travel is None:
        open_to = tuple(o for o in open_to if not _is_bored(shape, recess, o))
        return Basin("open_pocket", None, None, open_to) if open_to else _dish(shape, recess)
    ends = [_end(shape, recess, scale(travel, way), open_to, leaning) for way in (1.0, -1.0)]
    beside = [o for o in open_to if o not in sunk]
    aside = [o for o in beside if not any(_lets_out(shape, recess, o, scale(travel, w)) for w in (1.0, -1.0))]
    if aside and not vee:  # a vee's own sides may run out where the part ends
        return Basin("open_pocket", None, travel, open_to)
    return Basin("slot", " ".join(sorted(ends, key=("open", "flat", "radiused", "woodruff").index)), travel, open_to)


def _is_rounded_vee(shape: PartShape, recess: Recess, leaning: list[int]) -> bool:
    """True for one lying round bottom that runs smoothly into two flanks, of which one leans or both do."""
    bottom = [p for p in leaning if shape.patches[p].surface.kind != "plane"]
    if len({shape.carriers[p] for p in bottom}) != 1 or len(bottom) == len(leaning):
        return False
    lying = shape.patches[bottom[0]]
    if lying.surface.kind != "cylinder" or not hollow(lying) or abs(dot(lying.surface.axis, recess.axis)) > SQUARE:
        return False
    beside = {o for p in bottom for o in shape.patches[p].smooth if o in recess.patches}
    flanks = {shape.carriers[o]: shape.patches[o].surface for o in beside if shape.patches[o].surface.kind == "plane"}
    return set(leaning) <= {*bottom, *beside} and len(flanks) == 2


def _has_coned_ends(shape: PartShape, leaning: list[int]) -> bool:
    """True for two flanks with half a hollow cone at one end or both that touches them: as a pointed cutter leaves a
    vee that it does not run out of, whatever is gone of where they met."""
    cones = [p for p in leaning if shape.patches[p].surface.kind == "cone" and hollow(shape.patches[p])]
    planes = [p for p in leaning if shape.patches[p].surface.kind == "plane"]
    flanks = {shape.carriers[p]: shape.patches[p].surface for p in planes}
    known = len(flanks) == 2 and {*cones, *planes} == {*leaning}
    touching = (_touches(flank, shape.patches[c].surface) for c in cones for flank in flanks.values())
    return known and bool(cones) and all(touching)


def _touches(flank: Surface, cone: Surface) -> bool:
    """True for a plane that a cone lies against: through its tip, leaning from its axis as its lines do."""
    lean = abs(dot(flank.axis, cone.axis)) - math.sin(cone.half_angle)
    return abs(lean) < SQUARE and abs(dot(sub(cone.origin, flank.origin), flank.axis)) < SAME_LENGTH


def open_sides(shape: PartShape, recess: Recess) -> int:
    """To how many sides a recess without a floor is open."""
    members = {*(recess.own or recess.patches), *recess.bridged}
    sides = sides_of(shape, members, lambda rim: _is_open(shape, recess, rim), recess.axis)
    return len({shape.carriers[s] for s in sides})


def _open_to(shape: PartShape, recess: Recess) -> tuple[int, ...]:
    """Patches beyond convex edges through which a cutter may come in sideways, one of each carrier."""
    members = {*recess.patches, *recess.bridged}
    found: dict[int, int] = {}
    for index in recess.own or recess.patches:
        for rim in shape.patches[index].rims:
            if rim.other not in members and _is_open(shape, recess, rim):
                found.setdefault(shape.carriers[rim.other], rim.other)
    return tuple(sorted(found.values()))


def _is_open(shape: PartShape, recess: Recess, rim: Rim) -> bool:
    other = shape.patches[rim.other]
    if rim.convexity == "concave" or is_square(other, recess.axis):
        return False
    return not breaks_edge(shape, rim, recess.axis) and not _is_mouth(shape, recess, other)


def _is_mouth(shape: PartShape, recess: Recess, other: Patch) -> bool:
    """True for the round or slanted face that the whole recess is sunk in: its boundary has no other neighbour."""
    return all(
        rim.other in recess.patches or rim.other == other.index for p in recess.patches for rim in shape.patches[p].rims
    )


def _is_bored(shape: PartShape, recess: Recess, other: int) -> bool:
    """True for a hole in the bottom of a dish, which lets no cutter in from the side: a mouth that it has alone."""
    patch, carrier = shape.patches[other], shape.carriers[other]
    loops = [loop for p in recess.patches for loop in shape.patches[p].loops]
    alone = any(all(shape.carriers[r.other] == carrier for r in loop) for loop in loops)
    return alone and hollow(patch) and is_wall(patch, recess.axis)


def _dish(shape: PartShape, recess: Recess) -> Basin:
    """A closed pocket, with a diameter where its whole edge is one circle; a hole may begin in it."""
    edges = [list(loop) for p in recess.patches for loop in shape.patches[p].loops]
    rims = max(edges, key=lambda loop: round(sum(r.length for r in loop), 6), default=[])
    rims = [r for r in rims if r.length > LEDGE]  # the ends of slivers are too short to tell their circles
    circles = [circle_of(r) for r in rims if r.curve == "circle"]
    if len(recess.patches) != 1 or not rims or len(circles) != len(rims) or None in circles:
        return Basin("closed_pocket", None, None, ())
    found = [c for c in circles if c]
    apart = max(max(norm(sub(c[0], found[0][0])), abs(c[2] - found[0][2])) for c in found)
    return Basin("closed_pocket", None, None, (), {"diameter": 2 * found[0][2]} if apart < SAME_LENGTH else {})


def _ring_sizes(ring: Patch) -> dict[str, object]:
    """Middle diameter and width at the mouth of a groove round an axis; it has no length."""
    inner, outer = sorted(_edge_radii(ring))
    return {"diameter": 2 * ring.surface.radius, "width": outer - inner, "length": None}


def _is_ring(shape: PartShape, leaning: list[int]) -> bool:
    """True for one ring whose two edges lie inside and outside the middle of its tube: sunk into a face."""
    ring = shape.patches[leaning[0]]
    if len(leaning) != 1 or ring.surface.kind != "torus" or len(ring.loops) != 2:
        return False
    radii = _edge_radii(ring)
    return min(radii) < ring.surface.radius < max(radii)


def _edge_radii(patch: Patch) -> list[float]:
    surface = patch.surface
    rests = [sub(loop[0].points[0], surface.origin) for loop in patch.loops]
    return [norm(add(r, surface.axis, -dot(r, surface.axis))) for r in rests]


def _travel(shape: PartShape, recess: Recess, leaning: list[int]) -> Vec3 | None:
    """The direction a cutter goes: along a lying cylinder or a vee; across the cylinder of a key seat."""
    patches = [shape.patches[p] for p in leaning]
    lying = [p for p in patches if p.surface.kind == "cylinder"]
    if lying and all(norm(cross(p.surface.axis, lying[0].surface.axis)) < SQUARE for p in lying):
        along = lying[0].surface.axis
        lean = dot(along, recess.axis)
        if abs(lean) > DRAFT:
            return None
        if abs(lean) > SQUARE:  # a groove that gets deeper: what is level of its way
            return unit(add(along, recess.axis, -lean))
        across = unit(cross(recess.axis, along))
        return across if _is_seat(shape, recess, along, across) else along
    if patches and all(p.surface.kind in ("plane", "cone") for p in patches):
        sides = {shape.carriers[p.index]: p.surface.axis for p in patches if p.surface.kind == "plane"}
        return _along_flanks(list(sides.values()), recess.axis)
    return None


def _along_flanks(sides: Sequence[Vec3], axis: Vec3) -> Vec3 | None:
    """The level line along which all flanks of a vee run, on either side of one angle or more; None for no such."""
    lines = [cross(sides[0], side) for side in sides[1:]]
    line = max(lines, key=lambda found: round(norm(found), 6), default=(0.0, 0.0, 0.0))
    if norm(line) <= SQUARE or abs(dot(line, axis)) >= SQUARE:
        return None
    line = unit(line)
    across = [dot(side, cross(axis, line)) for side in sides]
    level = all(abs(dot(side, line)) < SQUARE for side in sides)
    return line if level and min(across) < 0 < max(across) else None


def _is_seat(shape: PartShape, recess: Recess, along: Vec3, across: Vec3) -> bool:
    """A key seat: narrower along the cylinder's axis than across it, between two flat cheeks square to that axis."""
    cheeks = [shape.patches[p] for p in recess.patches if is_square(shape.patches[p], along)]
    spans = [extent(shape, recess.own or recess.patches, d) for d in (along, across)]
    walls = [p for p in recess.patches if is_wall(shape.patches[p], recess.axis)]
    return len(cheeks) == len(walls) == 2 and spans[0][1] - spans[0][0] < spans[1][1] - spans[1][0]


def _end(shape: PartShape, recess: Recess, way: Vec3, open_to: tuple[int, ...], leaning: list[int]) -> str:
    if any(_lets_out(shape, recess, o, way) for o in open_to):
        return "open"
    if any(shape.patches[p].surface.kind in ("sphere", "cone") and _lies(shape, recess, p, way) for p in leaning):
        return "radiused"
    walls = [p for p in recess.patches if is_wall(shape.patches[p], recess.axis)]
    if any(shape.patches[p].surface.kind == "cylinder" and _lies(shape, recess, p, way) for p in walls):
        return "radiused"
    bars = [shape.patches[p].surface for p in recess.patches]
    if all(s.kind == "cylinder" and norm(cross(s.axis, way)) < SQUARE for s in bars):  # it runs out of a round bar
        return "open"
    seat = any(
        shape.patches[p].surface.kind == "cylinder" and abs(dot(shape.patches[p].surface.axis, way)) < SQUARE
        for p in leaning
    )
    return "woodruff" if seat else "flat"


def _lets_out(shape: PartShape, recess: Recess, other: int, way: Vec3) -> bool:
    """True when the patch beyond an open side looks along the travel (a round one: lies at that end)."""
    surface = shape.patches[other].surface
    if surface.kind == "plane":
        return dot(surface.axis, way) > OUT
    high = extent(shape, recess.patches, way)[1]
    rims = [r for p in recess.patches for r in shape.patches[p].rims if r.other == other]
    return any(abs(high - max(dot(p, way) for p in rim.points)) < SQUARE * max(abs(high), 1.0) for rim in rims)


def _lies(shape: PartShape, recess: Recess, patch: int, way: Vec3) -> bool:
    """True when the patch reaches the recess' end on that way."""
    return abs(extent(shape, (patch,), way)[1] - extent(shape, recess.patches, way)[1]) < 10 * SQUARE
