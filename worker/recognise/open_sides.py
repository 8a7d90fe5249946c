"""To how many sides a recess is open: what runs smoothly round a gap, or bends inwards, is still the same side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate, pairwise

from schemas.base import Vec3, cross, dot, sub
from worker.recognise.patches import Rim

TURN = math.radians(60)
"""The edge of a floor comes to another side when it has turned so far outwards.

Ours: the corner of a block turns it by 90 degrees, a corner that is broken by 45 twice by 45."""


def side_faces(loop: Sequence[Rim], is_open: Sequence[bool], axis: Vec3) -> list[int]:
    """For each side a floor is open to the patch that bounds it longest, in the order of the floor's edge.

    ``loop`` runs with the floor on its left, seen against ``axis``; ``is_open``: which of its edges have no wall.
    """
    start = next((i for i, here in enumerate(is_open) if here and not is_open[i - 1]), 0)
    stretches: list[list[Rim]] = [[]]
    for k in range(start, start + len(loop)):
        if is_open[k % len(loop)]:
            stretches[-1].append(loop[k % len(loop)])
        elif stretches[-1]:
            stretches.append([])
    return [longest(side) for stretch in stretches if stretch for side in _sides(stretch, axis)]


def longest(rims: Sequence[Rim]) -> int:
    """The patch beyond the longest of some edges."""
    return max(rims, key=lambda r: (round(r.length, 6), -r.other)).other


def _sides(stretch: list[Rim], axis: Vec3) -> list[list[Rim]]:
    """The straight edges of a stretch parted where it turns outwards for good; all of it where none is straight.

    Round a bite it turns back again; the rounds at the ends of a gap are no sides of their own.
    """
    turned = _headings(stretch, axis)
    lines = [(r, t) for r, t in zip(stretch, turned, strict=True) if r.curve == "line"]
    if not lines:
        return [stretch]
    for_good = list(accumulate((t for _, t in reversed(lines)), min))[::-1]
    numbers = [int((t - for_good[0] + math.pi / 2 - TURN) // (math.pi / 2)) for t in for_good]
    return [[r for (r, _), n in zip(lines, numbers, strict=True) if n == number] for number in sorted(set(numbers))]


def _headings(stretch: list[Rim], axis: Vec3) -> list[float]:
    """How far a stretch has turned to the left, about ``axis``, where each of its edges begins (radians)."""
    found: list[float] = []
    turned, before = 0.0, None
    for rim in stretch:
        for k, (a, b) in enumerate(pairwise(rim.points)):
            way = sub(b, a)
            turned += math.atan2(dot(cross(before, way), axis), dot(before, way)) if before else 0.0
            before = way
            if k == 0:
                found.append(turned)
    return found
