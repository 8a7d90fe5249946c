"""Pockets sunk from both sides of a part and the windows between them, where they have walls in common."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from schemas.base import Vec3, dot, scale
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.flush import UNDER, Side, ground_level, passages, pocket_of, side_of, window_of
from worker.recognise.levels import by_floor
from worker.recognise.outside import is_round_end
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recesses import Recess, directions, floors_of, hollow, is_wall, sees_own
from worker.recognise.sections import Run


def from_both_sides(shape: PartShape, sight: Sight, group: tuple[int, ...], tried: Iterable[Vec3]) -> list[Recess]:
    """The recesses of a group with floors on both sides of the part; none where it is no such group."""
    for axis in sorted(tried, key=lambda d: (-d[2], -d[1], -d[0])):
        ways = (axis, sight.known(scale(axis, -1.0)))
        if not _fits(shape, sight, group, ways):
            continue
        sides = [_side(shape, sight, group, *pair) for pair in (ways, ways[::-1])]
        found = _read(shape, sight, [side for side in sides if side])
        if found:
            return found
    return []


def _fits(shape: PartShape, sight: Sight, group: tuple[int, ...], ways: tuple[Vec3, Vec3]) -> bool:
    """True for walls along the axis with floors, seen from their own side, at both ends of it.

    Walls may lean on their own side of the floors: outwards, as drafted pockets have them.
    """
    floors = [floors_of(shape, group, way) for way in ways]
    if not all(floors) or not all(sight.sees(f, way) for f, way in zip(floors, ways, strict=True)):
        return False
    rest = [shape.patches[p] for p in group if p not in floors[0] and p not in floors[1]]
    grounds = [ground_level(shape, Recess((), way, found, ())) for way, found in zip(ways, floors, strict=True)]
    return all(is_wall(p, ways[0]) or hollow(p) or _is_drafted(shape, p, ways, grounds) for p in rest)


def _is_drafted(shape: PartShape, patch: Patch, ways: tuple[Vec3, Vec3], grounds: list[float]) -> bool:
    """True for a plane that looks to one side and lies over the deepest floor of that side."""
    if patch.surface.kind != "plane":
        return False
    side = 0 if dot(patch.surface.axis, ways[0]) > 0 else 1
    return extent(shape, (patch.index,), ways[side])[0] > grounds[side] - UNDER


def _side(shape: PartShape, sight: Sight, group: tuple[int, ...], axis: Vec3, other: Vec3) -> Side | None:
    """What is cut from one side: all that looks that way, and the walls that reach over the other side's floors."""
    beyond = -ground_level(shape, Recess((), other, floors_of(shape, group, other), ())) + UNDER
    theirs = {p for p in group if is_wall(shape.patches[p], axis) and extent(shape, (p,), axis)[1] < beyond}
    patches = tuple(p for p in group if sight.faces_it(p, axis) and p not in theirs)
    return side_of(shape, Recess(patches, axis, floors_of(shape, patches, axis), (axis,)))


def _read(shape: PartShape, sight: Sight, sides: list[Side]) -> list[Recess]:
    """Pockets and windows; none where not all walls between the floors are a window's, or one is not seen."""
    if len(sides) != 2:
        return []
    web = sides[0].ground + sides[1].ground > UNDER
    runs = passages(shape, sides, -sides[1].ground) if web else []
    stray = {p for side in sides for p in side.lower} - {p for run in runs for p in run.walls}
    if not all(is_round_end(shape, shape.patches[p]) for p in stray):
        return []
    runs = [run for run in runs if not any(is_round_end(shape, shape.patches[p]) for p in run.walls)]
    pockets = [_pocket(shape, sight, side, runs, -other.ground) for side, other in zip(sides, sides[::-1], strict=True)]
    if not all(sees_own(sight, p, p.patches, p.axis) for p in pockets):
        return []
    parts = [part for p in pockets for part in by_floor(shape, sight, p)]
    return parts + [window_of(shape, sight, sides, run, runs) for run in runs]


def _pocket(shape: PartShape, sight: Sight, side: Side, runs: list[Run], beyond: float) -> Recess:
    """The pocket of a side; walls that it shares must be seen down to its own floor, and the other side's."""
    found = replace(pocket_of(shape, side, runs), span=(max(side.ground, beyond), math.inf))
    tried = directions(shape, sight, found.patches)
    aside = (d for d in tried if d != found.axis and sees_own(sight, found, found.patches, d))
    return replace(found, seen=(found.axis, *aside))
