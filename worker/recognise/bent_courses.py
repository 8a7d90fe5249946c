"""Slots of one width whose path bends (ISO 14649-10 general path): straight stretches and arcs that touch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from schemas.tolerances import LIMIT, SAME_LENGTH
from worker.recognise.curved import LONG, Course, Sizes
from worker.recognise.floor_outline import wall_behind
from worker.recognise.loops import gap_of, length_of
from worker.recognise.passages import Outline, distinct
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, is_wall, runs_into

Sides = tuple[Sequence[int], Sequence[int], Sequence[int]]
"""The walls on the left and on the right in one order, and those that end the slot."""


def bent(shape: PartShape, recess: Recess, outline: Outline) -> Course | None:
    """The course of a recess between walls that keep one distance round bends; None for any other.

    ``length`` is that of the middle line (mm), round ends with it. A path with sharp corners is none: that is pockets
    and slots that meet.
    """
    if len(recess.floors) != 1 or recess.shared or outline.islands or len(outline.runs) not in (1, 2):
        return None
    runs = [distinct(shape, run) for run in outline.runs]
    if not all(is_wall(shape.patches[w], recess.axis) for run in runs for w in run):
        return None
    closed = outline.runs[0][0] == outline.runs[0][-1]
    for sides in _parted(runs, closed=closed):
        width = _width(shape, sides[0], sides[1])
        words = [_word(shape, end, sides, width) for end in sides[2]] if width else []
        if width and all(words):
            length = _middle(shape, recess, sides) + width / 2 * words.count("radiused")
            ends = ["open"] * (2 - len(words)) + sorted(words)
            sizes: Sizes = {"width": width, "length": length, "course_of_travel": "general"}
            return Course(" ".join(ends), sizes) if length >= LONG * width - LIMIT else None
    return None


def _parted(runs: Sequence[list[int]], *, closed: bool) -> Iterator[Sides]:
    """Ways to take the walls round a slot for those on its left, on its right and at its ends."""
    chain, many = runs[0], len(runs[0])
    if len(runs) == 2:
        yield chain, runs[1][::-1], ()
    elif not closed and many % 2:
        yield chain[: many // 2], chain[many // 2 + 1 :][::-1], (chain[many // 2],)
    elif closed and many % 2 == 0:
        for i in range(many // 2):
            turned = [*chain[i:], *chain[:i]]
            far = many // 2
            yield turned[1:far], turned[far + 1 :][::-1], (turned[0], turned[far])


def _width(shape: PartShape, left: Sequence[int], right: Sequence[int]) -> float | None:
    """How far two rows of walls are apart, one for one; None where that varies, or where they meet in corners."""
    if len(left) != len(right) or len(left) < 2:
        return None
    pairs = [(shape.patches[a].surface, shape.patches[b].surface) for a, b in zip(left, right, strict=True)]
    gaps = [gap_of(a, b) for a, b in pairs]
    if min(gaps) <= 0 or max(gaps) - min(gaps) > SAME_LENGTH or all(a.kind == "plane" for a, _ in pairs):
        return None
    touching = all(
        b in shape.patches[a].smooth or _touch(shape, a, b) for row in (left, right) for a, b in pairwise(row)
    )
    return gaps[0] if touching else None


def _touch(shape: PartShape, a: int, b: int) -> bool:
    """True for walls of which one runs into the other, wherever they stop."""
    p, q = shape.patches[a].surface, shape.patches[b].surface
    return (p.kind == "cylinder" and runs_into(p, q)) or (q.kind == "cylinder" and runs_into(q, p))


def _word(shape: PartShape, end: int, sides: Sides, width: float) -> str:
    """What an end is: flat, round and as wide as the slot, or nothing that ends one."""
    surface = shape.patches[end].surface
    if surface.kind == "plane":
        beside = shape.patches[end].concave
        return "flat" if sum(w in beside for row in sides[:2] for w in (row[0], row[-1])) == 2 else ""
    round_ = surface.kind == "cylinder" and surface.hollow and abs(2 * surface.radius - width) < SAME_LENGTH
    return "radiused" if round_ else ""


def _middle(shape: PartShape, recess: Recess, sides: Sides) -> float:
    """The mean of the floor's edges along both sides (mm)."""
    carriers = {shape.carriers[w] for row in sides[:2] for w in row}
    rims = shape.patches[recess.floors[0]].loops[0]
    along = [r for r in rims if shape.carriers[wall_behind(shape, recess, r.other)] in carriers]
    return sum(length_of(r) for r in along) / 2
