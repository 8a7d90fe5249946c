"""Recesses cut into the wall of a deeper one level with its floor, blind or right through to another side: their floor
and the deeper one's are one plane, over which that wall goes on. Each is told for itself, up to the wall's plane."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from schemas.base import Vec3, dot, scale
from schemas.tolerances import SAME_LENGTH, SQUARE
from worker.recognise.access import Sight
from worker.recognise.crossing_rings import one_of
from worker.recognise.extent import extent
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, components, directions, floors_of, hollow, is_wall, joined_to
from worker.recognise.through_slots import OVER

Door = tuple[tuple[int, ...], int]
"""The patches of a recess in a wall but for the floor, and the wall."""


def with_doorways(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> list[Recess]:
    """The recess of a group in whose walls others are cut level with its floor, and those; none for any other."""
    for floor in _roofed(shape, sight, group):
        up = sight.known(shape.patches[floor].surface.axis)
        parts = components(shape, [p for p in group if p != floor])
        rest = tuple(sorted(p for part in parts if sight.sees(part, up) for p in part))
        hidden = [part for part in parts if not set(part) <= set(rest)]
        doors = [(part, lip) for part in hidden if (lip := _lip(shape, sight, part, floor)) in rest]
        if doors and len(doors) == len(hidden) and not floors_of(shape, rest, up):
            ways = tuple(d for d in directions(shape, sight, (floor, *rest)) if sight.sees(rest, d))
            behind = tuple(sorted({pair for door in doors for pair in _behind(shape, floor, door)}))
            patches = tuple(sorted((floor, *rest)))
            own = Recess(patches, up, (floor,), ways, core=rest, shared=True, own=rest, behind=behind)
            own = replace(own, reach=_before(shape, floor, [lip for _, lip in doors]))
            return [own, *_paired(shape, sight, [_door(shape, sight, floor, door) for door in doors])]
    return []


def _roofed(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> list[int]:
    """The planes of a group on which a wall stands that goes on over an edge of what hangs over."""
    members = set(group)
    found = []
    for floor in (p for p in group if shape.patches[p].surface.kind == "plane"):
        up = shape.patches[floor].surface.axis
        over = {o for wall in _standing(shape, floor) & members for o in shape.patches[wall].convex} & members
        found += [floor] if any(not sight.faces_it(o, up) for o in over) else []
    return sorted(found, key=lambda p: shape.patches[p].order)


def _standing(shape: PartShape, floor: int) -> set[int]:
    """The plane walls on a floor, over fillets too."""
    up = shape.patches[floor].surface.axis
    near = {*joined_to(shape, floor), *(wall for wall, _ in _fillets(shape, floor))}
    return {o for o in near if shape.patches[o].surface.kind == "plane" and is_wall(shape.patches[o], up)}


def _fillets(shape: PartShape, floor: int) -> list[tuple[int, int]]:
    """What a floor is cut together with over a fillet, each with that."""
    up = shape.patches[floor].surface.axis
    beside = [o for o in shape.patches[floor].smooth if hollow(shape.patches[o]) and not is_wall(shape.patches[o], up)]
    return [(wall, fillet) for fillet in beside for wall in joined_to(shape, fillet) if wall != floor]


def _lip(shape: PartShape, sight: Sight, part: tuple[int, ...], floor: int) -> int:
    """The plane wall on the floor, behind which some patches that stand on it too lie, and over whose roof it goes on;
    -1 where they lie otherwise."""
    up = shape.patches[floor].surface.axis
    over = {o for p in part if not sight.faces_it(p, up) for o in shape.patches[p].convex}
    lips = sorted(over & _standing(shape, floor))
    level = floor in {o for p in part for o in joined_to(shape, p)}
    if not level or len({shape.carriers[o] for o in lips}) != 1:
        return -1
    into = shape.patches[lips[0]].surface.axis
    widens = floors_of(shape, part, scale(into, -1.0))  # then something else is cut from the far side
    return lips[0] if not widens and extent(shape, part, into)[1] < _front(shape, floor, lips[0]) + OVER else -1


def _front(shape: PartShape, floor: int, wall: int) -> float:
    """How far the foot of a wall reaches the way it looks, its fillets with it (mm)."""
    feet = {wall, *(fillet for o, fillet in _fillets(shape, floor) if o == wall)}
    return extent(shape, feet, shape.patches[wall].surface.axis)[1]


def _level(shape: PartShape, wall: int, way: Vec3) -> float:
    return dot(shape.patches[wall].surface.origin, way)


def _behind(shape: PartShape, floor: int, door: Door) -> set[tuple[int, int]]:
    """What bounds the floor behind a wall, each with that wall."""
    part, lip = door
    into, front = shape.patches[lip].surface.axis, _front(shape, floor, lip) + OVER
    loop = shape.patches[floor].loops[0]
    within = [all(dot(p, into) < front for p in r.points) for r in loop]
    start = next((k for k, here in enumerate(within) if not here), 0)
    stretches: list[list[int]] = [[]]
    for k in range(start, start + len(loop)):
        if within[k % len(loop)]:
            stretches[-1].append(loop[k % len(loop)].other)
        elif stretches[-1]:
            stretches.append([])
    mine = {o for stretch in stretches if set(stretch) & set(part) for o in stretch}
    elsewhere = {r.other for r, here in zip(loop, within, strict=True) if not here}
    return {(o, lip) for o in mine - elsewhere - {lip}}


def _before(shape: PartShape, floor: int, lips: Sequence[int]) -> tuple[Vec3, ...]:
    """The ends of the floor's outer edges that lie behind none of some walls."""
    ways = [(shape.patches[lip].surface.axis, _front(shape, floor, lip) - OVER) for lip in lips]
    ends = [p for r in shape.patches[floor].loops[0] for p in (r.points[0], r.points[-1])]
    return tuple(p for p in ends if all(dot(p, way) > level for way, level in ways))


def _door(shape: PartShape, sight: Sight, floor: int, door: Door) -> Recess:
    """What is cut into a wall: from outside where a tool sees it from there, else read from before the wall."""
    part, lip = door
    into = sight.known(shape.patches[lip].surface.axis)
    out = sight.known(scale(into, -1.0))
    seen = tuple(d for d in directions(shape, sight, (floor, *part)) if sight.sees(part, d))
    if out in seen:
        axis, span = out, (_level(shape, lip, out), math.inf)
    elif seen and into not in seen:
        axis, span = max(seen, key=lambda d: (bool(floors_of(shape, part, d)), sight.is_square(d), d)), None
    else:
        axis, span = into, (-math.inf, _level(shape, lip, into))
    floors, patches = floors_of(shape, part, axis), tuple(sorted((floor, *part)))
    return Recess(patches, axis, floors, seen, core=part, shared=bool(floors), own=part, span=span)


def _paired(shape: PartShape, sight: Sight, doors: list[Recess]) -> list[Recess]:
    """Passages that lead out on both sides in one line as one."""
    found: list[Recess] = []
    for door in doors:
        mate = next((o for o in found if _in_line(shape, o, door)), None)
        if mate is None:
            found.append(door)
            continue
        core = tuple(sorted({*mate.core, *door.core}))
        patches = tuple(sorted({*mate.patches, *door.patches}))
        ways = (mate.axis, door.axis)
        seen = tuple(d for d in ways if sight.sees(core, d))
        best = one_of(shape, core, list(ways))
        found[found.index(mate)] = Recess(patches, best, (), seen, core=core, own=core)
    return found


def _in_line(shape: PartShape, a: Recess, b: Recess) -> bool:
    """True for passages that lead out opposite ways between the same planes."""
    if a.floors or b.floors or dot(a.axis, b.axis) > -1 + SQUARE**2:
        return False
    ways = [shape.patches[p].surface.axis for p in a.core if shape.patches[p].surface.kind == "plane"]
    spans = [zip(extent(shape, a.core, d), extent(shape, b.core, d), strict=True) for d in ways]
    return all(abs(p - q) < SAME_LENGTH for pairs in spans for p, q in pairs)
