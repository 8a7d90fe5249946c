"""Passages that cross, and pockets that one runs flush with: rings of walls that meet along a direction all round."""

from __future__ import annotations

import math
from collections.abc import Sequence

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import LEDGE, OUTER, SQUARE
from worker.recognise.access import Sight
from worker.recognise.bulges import area_vector
from worker.recognise.extent import extent, extent_between
from worker.recognise.patches import PartShape
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import (
    Recess,
    components,
    floors_of,
    hollow,
    is_wall,
    joined_to,
    long_direction,
    sees_own,
)
from worker.recognise.strips import line_of, straight

_Ring = tuple[Vec3, tuple[int, ...]]
"""Walls that meet along a direction, all round, with that."""


def crossing_rings(
    shape: PartShape, sight: Sight, group: tuple[int, ...], tried: tuple[Vec3, ...]
) -> tuple[list[Recess], list[int]]:
    """Passages right through, as rings of walls; where passages cross, a wall may belong to several.

    How large one is is told by the walls that are no other's, where these face each other: others run on.
    """
    rings = [(d, ring) for d in tried for ring in _rings(shape, [p for p in group if is_wall(shape.patches[p], d)], d)]
    found = _floored_rings(shape, sight, group, rings)
    taken = {p for r in found for p in r.patches}
    below = frozenset(taken)
    for axis in tried:
        if any(norm(cross(axis, r.axis)) < SQUARE for r in found):
            continue
        for ring in (ring for d, ring in rings if d == axis):
            core = tuple(p for p in ring if p not in taken and sight.sees((p,), axis))
            if len(core) >= 2 and _face_each_other(shape, core):
                seen = tuple(d for d in (axis, sight.known(scale(axis, -1.0))) if sight.sees(core, d))
                own = tuple(p for p in _unshared(rings, axis, ring) if p not in taken)
                own = own if _face_each_other(shape, own) and len(own) < len(ring) else ()
                own = core if not own and below.intersection(ring) else own
                best = one_of(shape, own or ring, list(seen)) if len(seen) > 1 else axis
                found.append(Recess(ring, best, (), seen, core, own=own))
                taken.update(core)
            else:
                windows = _windows_as_wide(shape, sight, ring, taken, axis)
                found += windows
                taken.update(p for window in windows for p in window.core)
    shared = {p for r in found for p in r.patches}
    return found, [p for p in group if p not in shared]


def _unshared(rings: Sequence[_Ring], axis: Vec3, ring: tuple[int, ...]) -> tuple[int, ...]:
    """The walls of a ring that no ring of another direction has."""
    others = {p for d, other in rings if norm(cross(axis, d)) > SQUARE for p in other}
    return tuple(p for p in ring if p not in others)


def _windows_as_wide(
    shape: PartShape, sight: Sight, ring: tuple[int, ...], taken: set[int], axis: Vec3
) -> list[Recess]:
    """The passages under walls, level with the pocket between and as wide: their own is what bounds them there above.

    How far each goes is told by that, how high by what it looks at.
    """
    own = [p for p in ring if p not in taken]
    parts = [] if len(own) == len(ring) or _face_each_other(shape, own) else components(shape, own)
    found = []
    for way in (axis, sight.known(scale(axis, -1.0))):
        end = extent(shape, ring, way)[1]
        for free in (p for p in parts if extent(shape, p, way)[1] > end - OUTER):
            looks = [unit(shape.patches[p].looks) for p in free]
            walls = tuple(p for p in ring if p in free or all(p not in part for part in parts))
            opposite = [p for p in walls if any(dot(shape.patches[p].normal, d) < -0.5 for d in looks)]
            span = (extent(shape, free, way)[0], math.inf)
            feet = tuple(_foot(shape, p, o) for p in free for o in opposite)
            window = Recess(walls, way, (), (way,), core=free, own=free, span=span, reach=feet)
            if opposite and sees_own(sight, window, free, way):
                found.append(window)
    return found


def _foot(shape: PartShape, wall: int, opposite: int) -> Vec3:
    """Where a line from a wall meets another squarely."""
    place, surface = shape.patches[wall].point, shape.patches[opposite].surface
    return add(place, surface.axis, -dot(sub(place, surface.origin), surface.axis))


def _face_each_other(shape: PartShape, walls: Sequence[int]) -> bool:
    looks = [look for w in walls if norm(look := shape.patches[w].looks) > 0]
    return any(dot(unit(a), unit(b)) < -0.5 for a in looks for b in looks)


def _floored_rings(shape: PartShape, sight: Sight, group: tuple[int, ...], rings: Sequence[_Ring]) -> list[Recess]:
    """Pockets that a passage from aside runs flush with: rings of walls that all stand on one floor, which is seen.

    Their size is told by the walls that no other ring has: the others go on along the passage, as a floor does that
    is level with its sill. So is one told that something hides which stands on it. A passage as wide as the pocket
    leaves nothing but the upper part of a wall over it, above which the size is told by all walls.
    """
    found: list[Recess] = []
    for axis, ring in sorted(rings, key=lambda r: _deep(shape, *r)):
        floors, over = _floors_under(shape, group, rings, axis, ring)
        if len(floors) != 1 or (over and any(set(r.floors) & {*ring, *floors} for r in found)):
            continue
        run_on = {p for d, other in rings if norm(cross(axis, d)) > SQUARE for p in other}
        run_on |= set() if sight.sees(floors, axis) else set(floors)
        own = tuple(sorted({*floors, *ring} - run_on))
        if not run_on.intersection({*ring, *floors}) or not sight.sees(own, axis):
            continue
        near = set(joined_to(shape, floors[0])).intersection(group) - run_on
        beside = [o for o in near if not is_wall(shape.patches[o], axis)]
        posts = _posts(shape, {*group} - {*ring, *floors, *beside}, floors[0]) if floors[0] in run_on else []
        patches = tuple(sorted({*ring, *floors, *beside, *posts}))
        over = over if over or _face_each_other(shape, own) else _over(shape, rings, axis, ring)
        above = (max(extent(shape, (p,), axis)[0] for p in over), math.inf) if over else None
        own = ring if over else own
        found.append(Recess(patches, axis, floors, (axis,), own, shared=True, own=own, span=above))
    return found


def _floors_under(
    shape: PartShape, group: tuple[int, ...], rings: Sequence[_Ring], axis: Vec3, ring: tuple[int, ...]
) -> tuple[tuple[int, ...], set[int]]:
    """The floors on which all walls of a ring stand, and those that end over what takes their foot instead.

    That is the passage, with the smaller mouth, whose side such a floor is.
    """
    crossing = [(d, other) for d, other in rings if norm(cross(axis, d)) > SQUARE]
    tops = _over(shape, rings, axis, ring)
    whole, part = [], {}
    for floor in floors_of(shape, group, axis):
        standing = _round_floor(shape, group, floor)
        over = {p for p in ring if shape.carriers[p] not in standing}
        passages = [other for other in crossing if floor in other[1]]
        if not over:
            whole.append(floor)
        elif over <= tops and all(
            _mouth(shape, rings, axis, ring) > _mouth(shape, rings, *p) + LEDGE for p in passages
        ):
            part[floor] = over
    if whole or len(part) != 1:
        return tuple(whole), set()
    return tuple(part), next(iter(part.values()))


def _over(shape: PartShape, rings: Sequence[_Ring], axis: Vec3, ring: tuple[int, ...]) -> set[int]:
    """The walls of a ring that end over a wall of another."""
    others = {p for d, other in rings if norm(cross(axis, d)) > SQUARE for p in other}
    return {p for p in ring if p not in others and others.intersection(shape.patches[p].convex)}


def _mouth(shape: PartShape, rings: Sequence[_Ring], axis: Vec3, ring: tuple[int, ...]) -> float:
    """How large a ring of walls is above those that end over others (mm2)."""
    x = long_direction(shape, Recess(ring, axis, (), ()))
    low = max((extent(shape, (p,), axis)[0] for p in _over(shape, rings, axis, ring)), default=-math.inf)
    spans = [extent_between(shape, ring, d, axis, (low, math.inf)) for d in (x, cross(axis, x))]
    return (spans[0][1] - spans[0][0]) * (spans[1][1] - spans[1][0])


def _deep(shape: PartShape, axis: Vec3, ring: tuple[int, ...]) -> float:
    low, high = extent(shape, ring, axis)
    return round(high - low, 3)


def _posts(shape: PartShape, free: set[int], floor: int) -> list[int]:
    """What stands on a floor away from its edge: feet of a bridge, over which the floor goes on."""
    edge, *inner = ({r.other for r in loop} for loop in shape.patches[floor].loops)
    feet = {p for loop in inner for p in loop}
    return [p for part in components(shape, free) if feet & set(part) and not edge & set(part) for p in part]


def _round_floor(shape: PartShape, group: tuple[int, ...], floor: int) -> set[int]:
    """The carriers of what stands on a floor, over fillets too."""
    near = set(joined_to(shape, floor))
    fillets = [o for o in near if o in group and hollow(shape.patches[o])]
    return {shape.carriers[p] for p in near.union(*(joined_to(shape, o) for o in fillets))}


def _rings(shape: PartShape, walls: list[int], axis: Vec3) -> list[tuple[int, ...]]:
    """Walls that meet along the axis, all round: every one of them has a neighbour on both sides."""
    members = set(walls)
    meets = {w: {o for o in _along(shape, w, axis) if o in members} for w in walls}
    while True:
        loose = [w for w in meets if len(meets[w] & set(meets)) < 2]
        if not loose:
            break
        for w in loose:
            del meets[w]
    found = []
    left = set(meets)
    while left:
        ring, waiting = [], [min(left)]
        while waiting:
            index = waiting.pop()
            if index in left:
                left.discard(index)
                ring.append(index)
                waiting += [o for o in meets[index] if o in left]
        found.append(tuple(sorted(ring)))
    return found


def _along(shape: PartShape, index: int, axis: Vec3) -> set[int]:
    rims = [r for r in straight(shape.patches[index].rims) if r.convexity != "convex"]
    return {r.other for r in rims if norm(cross(line_of(r), axis)) < SQUARE}


def one_of(shape: PartShape, group: tuple[int, ...], ways: list[Vec3]) -> Vec3:
    """Of ways in that suit alike the one that is least deep, then by where its mouth is, and what faces it most.

    Which way the part lies comes last: it decides between ways that nothing else tells apart.
    """
    if len(ways) == 1:
        return ways[0]
    looks = area_vector(shape.patches[p] for p in group)

    def order(d: Vec3) -> tuple[float, ...]:
        low, high = extent(shape, group, d)
        top = top_of(shape, Recess(group, d, (), ()))
        return (round(high - low, 2), -round(top - low, 2), -round(dot(looks, d), 1), -d[2], -d[1], -d[0])

    return min(ways, key=order)
