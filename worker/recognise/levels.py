"""Recesses with floors of several levels, and with a passage below them: one recess a level, and the passage."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from schemas.base import Vec3, cross, dot, unit
from schemas.tolerances import SAME_LENGTH
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.flush import ground_level, through_below
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, directions, is_wall, joined_to, sees_own, standing_on
from worker.recognise.sections import Stretch, stretches

HEIGHTS = (0.1, 0.5, 0.9)
"""A rib divides two floors where it reaches this share of the wall that they have in common, at each of these."""


def by_floor(shape: PartShape, sight: Sight, recess: Recess) -> list[Recess]:
    """One recess per floor level, and the passage below all; walls go to every floor they stand on."""
    parts = through_below(shape, sight, recess)
    levels = _levels(shape, recess)
    if parts and len(_levels(shape, parts[0])) == len(levels):
        return [*by_floor(shape, sight, parts[0]), *parts[1]]
    if len(levels) < 2:
        return [recess]
    shares = [set(level) for level in levels]
    floors = set(recess.floors)
    for share, level in zip(shares, levels, strict=True):
        share.update(standing_on(shape, recess, level, floors))
    _share_out(shape, recess, shares)
    found = []
    for share, level in zip(shares, levels, strict=True):
        patches = tuple(sorted(share))
        part = Recess(patches, recess.axis, tuple(level), (), shared=True, span=_over(shape, recess, level))
        seen = tuple(d for d in directions(shape, sight, patches) if sees_own(sight, part, patches, d))
        found.append(replace(part, seen=seen or recess.seen))
    return found


def _over(shape: PartShape, recess: Recess, level: list[int]) -> tuple[float, float] | None:
    """The heights between which a level's walls are its own, where those of the whole recess have any."""
    low, high = recess.span or (math.inf, math.inf)
    ground = ground_level(shape, replace(recess, floors=tuple(level)))
    return (max(ground, low), high) if recess.span else None


def _levels(shape: PartShape, recess: Recess) -> list[list[int]]:
    """Floors grouped: same height and a wall in common that goes on from one to the other; the deepest first."""
    floors = set(recess.floors)
    walls = {f: standing_on(shape, recess, [f], floors) for f in recess.floors}
    found: list[list[int]] = []
    for floor in recess.floors:
        near = [level for level in found if any(_one_level(shape, recess, walls, f, floor) for f in level)]
        found = [level for level in found if level not in near] + [[*(f for level in near for f in level), floor]]
    return sorted(found, key=lambda level: _depth(shape, recess, level))


def _depth(shape: PartShape, recess: Recess, level: list[int]) -> tuple[float, ...]:
    """The deepest first, of equals the largest."""
    ground = ground_level(shape, replace(recess, floors=tuple(level)))
    return (round(ground, 3), -round(sum(shape.patches[f].area for f in level), 3))


def _one_level(shape: PartShape, recess: Recess, walls: Mapping[int, set[int]], a: int, b: int) -> bool:
    heights = [dot(shape.patches[f].surface.origin, recess.axis) for f in (a, b)]
    level = abs(heights[0] - heights[1]) < SAME_LENGTH
    return level and any(_goes_on(shape, recess, wall, (a, b)) for wall in walls[a] & walls[b])


def _goes_on(shape: PartShape, recess: Recess, wall: int, floors: tuple[int, int]) -> bool:
    """True when nothing as high as a flat wall stands against it between two floors at its foot."""
    surface = shape.patches[wall].surface
    if surface.kind != "plane" or not is_wall(shape.patches[wall], recess.axis):
        return True
    along = unit(cross(recess.axis, surface.axis))
    spots = [_foot(shape, floor, wall, along) for floor in floors]
    low, high = dot(shape.patches[floors[0]].surface.origin, recess.axis), extent(shape, (wall,), recess.axis)[1]
    levels = [stretches(shape, wall, recess.axis, low + share * (high - low)) for share in HEIGHTS]
    return any(all(_holds(stretch, along, spot) for spot in spots) for found in levels for stretch in found)


def _holds(stretch: Stretch, along: Vec3, spot: float) -> bool:
    ends = sorted(dot(node.place, along) for node in (stretch.left, stretch.right) if node)
    return len(ends) == 2 and ends[0] < spot < ends[1]


def _foot(shape: PartShape, floor: int, wall: int, along: Vec3) -> float:
    """Where along a wall a floor, or the fillet between them, meets it."""
    beside = {floor, *shape.patches[floor].smooth}
    ends = [p for r in shape.patches[wall].rims if r.other in beside for p in (r.points[0], r.points[-1])]
    return sum(dot(p, along) for p in ends[:2]) / 2 if ends else math.nan


def _share_out(shape: PartShape, recess: Recess, shares: list[set[int]]) -> None:
    """Patches that stand on no floor go where most of their neighbours went, to the deepest of equals."""
    left = [p for p in recess.patches if not any(p in s for s in shares)]
    while left:
        near = {p: set(joined_to(shape, p)) for p in left}
        best = {p: max(shares, key=lambda share: len(share & beside)) for p, beside in near.items()}
        moved = [(p, share) for p, share in best.items() if share & near[p]]
        if not moved:
            shares[0].update(left)
            return
        for index, share in moved:
            share.add(index)
            left.remove(index)
