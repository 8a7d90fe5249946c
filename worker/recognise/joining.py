"""Recesses that something else cut in two: pieces with the same floor and walls, and nothing but air between."""

from __future__ import annotations

from schemas.base import Vec3, add, dot, norm, scale, sub, unit
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape
from worker.recognise.recesses import SQUARE, Recess, is_wall

OVER = 0.05
"""The air between two pieces is looked for this far above their floors (mm)."""


def joined(shape: PartShape, sight: Sight, recesses: list[Recess]) -> list[Recess]:
    """The recesses, with pieces of one slot or step put together."""
    found: list[Recess] = []
    by_walls: dict[tuple[int, int], list[int]] = {}
    for recess in recesses:
        keys = _keys(shape, recess)
        near = sorted({i for key in keys for i in by_walls.get(key, ())})
        home = next((i for i in near if _one_recess(shape, found[i], recess)), None)
        if home is None:
            home = len(found)
            found.append(recess)
        else:
            found[home] = _together(shape, sight, found[home], recess)
        for key in keys:
            by_walls.setdefault(key, []).append(home)
    return found


def _keys(shape: PartShape, recess: Recess) -> set[tuple[int, int]]:
    """Carriers of floor and wall: pieces of one recess have a pair in common."""
    if not recess.floors or recess.shared or not any(_is_open(shape, recess, f) for f in recess.floors):
        return set()
    floor = shape.carriers[recess.floors[0]]
    return {(floor, shape.carriers[w]) for w in recess.patches if w not in recess.floors}


def _is_open(shape: PartShape, recess: Recess, floor: int) -> bool:
    """True when the floor runs out somewhere; a recess walled all round has no other piece."""
    outline = shape.patches[floor].loops[0]
    return any(r.convexity == "convex" and r.other not in recess.patches for r in outline)


def _one_recess(shape: PartShape, a: Recess, b: Recess) -> bool:
    if dot(a.axis, b.axis) < 1 - SQUARE**2:
        return False
    ours, theirs = _side_walls(shape, a, b), {shape.carriers[w] for w in _side_walls(shape, b, a)}
    return bool(ours) and {shape.carriers[w] for w in ours} == theirs and _air_between(shape, a, b)


def _side_walls(shape: PartShape, a: Recess, b: Recess) -> list[int]:
    """The flat walls of a piece that run along the line to the other piece."""
    line = unit_between(shape, a, b)
    if line is None:
        return []
    walls = [p for p in a.patches if p not in a.floors and shape.patches[p].surface.kind == "plane"]
    return [
        w for w in walls if is_wall(shape.patches[w], a.axis) and abs(dot(shape.patches[w].surface.axis, line)) < 0.1
    ]


def unit_between(shape: PartShape, a: Recess, b: Recess) -> Vec3 | None:
    """Direction from one floor's middle to the other's; None when they coincide."""
    gap = sub(middle(shape, b), middle(shape, a))
    return unit(gap) if norm(gap) > 1e-6 else None


def middle(shape: PartShape, recess: Recess) -> Vec3:
    """The middle of a recess' floors, a little above them."""
    axes: tuple[Vec3, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    place: Vec3 = (0.0, 0.0, 0.0)
    for axis in axes:
        low, high = extent(shape, recess.floors, axis)
        place = add(place, axis, (low + high) / 2)
    level = dot(shape.patches[recess.floors[0]].surface.origin, recess.axis)
    return add(place, recess.axis, level + OVER - dot(place, recess.axis))


def _air_between(shape: PartShape, a: Recess, b: Recess) -> bool:
    start, end = middle(shape, a), middle(shape, b)
    line = sub(end, start)
    length = norm(line)
    return length < 1e-6 or not crossings(shape, start, scale(line, 1 / length), 0.0, length)


def _together(shape: PartShape, sight: Sight, a: Recess, b: Recess) -> Recess:
    patches = tuple(sorted({*a.patches, *b.patches}))
    line = unit_between(shape, a, b)
    bridged = {*a.bridged, *b.bridged}
    for recess, way in ((a, 1.0), (b, -1.0)):
        for floor in recess.floors:
            for other in shape.patches[floor].neighbours:
                surface = shape.patches[other].surface
                if line and other not in patches and surface.kind == "plane" and way * dot(surface.axis, line) > 0.1:
                    bridged.add(other)
                if other not in patches and surface.kind == "cylinder" and surface.hollow:
                    bridged.add(other)
    seen = tuple(d for d in sight.distinct([*a.seen, *b.seen]) if sight.sees(patches, d))
    floors = tuple(sorted({*a.floors, *b.floors}))
    return Recess(patches, a.axis, floors, seen, bridged=tuple(sorted(bridged)))
