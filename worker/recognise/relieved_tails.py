"""Dovetails whose inner corners a relief takes away: floor and flanks, which meet nowhere any more, are one.

In a groove a relief at either side keeps the floor apart from two flanks that hang over it; at the foot of a dovetail
that stands out, one does.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.flush_floors import edges_into, ends_at
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape, Rim
from worker.recognise.reading import read
from worker.recognise.recesses import Recess
from worker.recognise.strips import line_of
from worker.recognise.through_slots import OVER
from worker.recognise.undercuts import LEANS, tail_draft


def relieved_tails(
    shape: PartShape, sight: Sight, reliefs: Sequence[tuple[int, ...]], lone: Collection[int]
) -> tuple[list[Draft], list[Recess]]:
    """The dovetail grooves, and what runs along a dovetail that stands out; ``lone``: planes in no recess."""
    flanks: dict[int, dict[int, set[int]]] = {}
    for members in reliefs:
        for floor, flank in _pairs(shape, sight, members, lone):
            flanks.setdefault(floor, {}).setdefault(flank, set()).update(members)
    drafts: list[Draft] = []
    recesses: list[Recess] = []
    for floor, sides in sorted(flanks.items()):
        draft = _groove(shape, floor, sorted(sides)) if len(sides) == 2 else None
        drafts += [draft] if draft else []
        if len(sides) == 1:
            bridged = tuple(sorted(set().union(*sides.values())))
            found = read(shape, sight, tuple(sorted((floor, *sides))))
            recesses += [replace(found[0], bridged=bridged)] if len(found) == 1 else []
    return drafts, recesses


def _pairs(shape: PartShape, sight: Sight, members: Collection[int], lone: Collection[int]) -> list[tuple[int, int]]:
    """Floors, square to the outside, with the flank that hangs over them beyond some patches."""
    edges = edges_into(shape, members, lone)
    square = [sight.is_square(shape.patches[edge.other].surface.axis) for edge in edges]
    floors, flanks = (
        [e for e, is_floor in zip(edges, square, strict=True) if is_floor is way] for way in (True, False)
    )
    return [(a.other, b.other) for a in floors for b in flanks if _hangs(shape, a, b, members)]


def _hangs(shape: PartShape, floor: Rim, flank: Rim, members: Collection[int]) -> bool:
    """True where a flank looks down at a floor, and both end at the patches between: the relief of their corner."""
    up, normal = (shape.patches[rim.other].surface.axis for rim in (floor, flank))
    line = line_of(floor)
    leans = dot(up, normal) < -LEANS and norm(cross(up, normal)) > LEANS and abs(dot(normal, line)) < SQUARE
    gap = sub(flank.points[0], floor.points[0])
    if not leans or norm(cross(line, line_of(flank))) > SQUARE or dot(gap, up) < OVER or dot(gap, normal) > -OVER:
        return False
    out = unit(add(normal, up, -dot(normal, up)))
    return ends_at(shape, floor, scale(out, -1.0), 0.0, members) and ends_at(
        shape, flank, scale(up, -1.0), 0.0, members
    )


def _groove(shape: PartShape, floor: int, flanks: list[int]) -> Draft | None:
    """The dovetail of a floor between two flanks that look at each other; None for others."""
    up = shape.patches[floor].surface.axis
    outs: list[Vec3] = [shape.patches[p].surface.axis for p in flanks]
    line = cross(up, outs[0])
    if norm(cross(unit(line), cross(up, outs[1]))) > SQUARE or dot(line, cross(up, outs[1])) > 0:
        return None
    return tail_draft(shape, Recess((*flanks, floor), unit(line), (), ()), floor)
