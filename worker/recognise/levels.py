"""Recesses with floors of several levels, and with a passage below them: one recess a level, and the passage."""

from __future__ import annotations

from schemas.base import dot
from worker.recognise.access import Sight
from worker.recognise.flush import through_below
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, directions, joined_to, standing_on


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
        seen = tuple(d for d in directions(shape, sight, patches) if sight.sees(patches, d))
        found.append(Recess(patches, recess.axis, tuple(level), seen or recess.seen, shared=True))
    return found


def _levels(shape: PartShape, recess: Recess) -> list[list[int]]:
    """Floors grouped: same height and a wall in common."""
    found: list[list[int]] = []
    for floor in recess.floors:
        height = dot(shape.patches[floor].surface.origin, recess.axis)
        near = standing_on(shape, recess, [floor], set(recess.floors))
        for level in found:
            other = dot(shape.patches[level[0]].surface.origin, recess.axis)
            if abs(other - height) < 2e-3 and near & standing_on(shape, recess, level, set(recess.floors)):
                level.append(floor)
                break
        else:
            found.append([floor])
    return found


def _share_out(shape: PartShape, recess: Recess, shares: list[set[int]]) -> None:
    """Patches that stand on no floor go where their neighbours went."""
    left = [p for p in recess.patches if not any(p in s for s in shares)]
    while left:
        moved = []
        for index in left:
            near = set(joined_to(shape, index))
            for share in shares:
                if near & share:
                    moved.append((index, share))
                    break
        if not moved:
            shares[0].update(left)
            return
        for index, share in moved:
            share.add(index)
            left.remove(index)
