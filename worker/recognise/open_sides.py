"""To how many sides a recess is open: what runs smoothly round a gap, or bends inwards, is still the same side."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from itertools import accumulate, pairwise

from schemas.base import Vec3, add, cross, dot, norm, sub
from schemas.tolerances import SQUARE
from worker.recognise.patches import PartShape, Patch, Rim, chained

TURN = math.radians(60)
"""The edge of a floor comes to another side when it has turned so far outwards.

Ours: the corner of a block turns it by 90 degrees, a corner that is broken by 45 twice by 45."""


def side_faces(loop: Sequence[Rim], is_open: Sequence[bool], axis: Vec3) -> list[int]:
    """For each side a floor is open to the patch that bounds it longest, in the order of the floor's edge.

    ``loop`` runs with the floor on its left, seen against ``axis``; ``is_open``: which of its edges have no wall.
    """
    start = next((i for i, here in enumerate(is_open) if here and not is_open[i - 1]), _longest_of(loop))
    stretches: list[list[Rim]] = [[]]
    for k in range(start, start + len(loop)):
        if is_open[k % len(loop)]:
            stretches[-1].append(loop[k % len(loop)])
        elif stretches[-1]:
            stretches.append([])
    return [longest(side) for stretch in stretches if stretch for side in _sides(stretch, axis)]


def _longest_of(loop: Sequence[Rim]) -> int:
    """Where in a loop what one patch bounds at a stretch is longest: where a loop begins is by chance."""
    firsts = [i for i in range(len(loop)) if loop[i].other != loop[i - 1].other] or [0]
    ends = [*firsts[1:], firsts[0] + len(loop)]
    sizes = [sum(loop[k % len(loop)].length for k in range(a, b)) for a, b in zip(firsts, ends, strict=True)]
    return max(zip(sizes, firsts, strict=True), key=lambda s: (round(s[0], 3), -s[1]))[1]


def sides_of(shape: PartShape, members: Collection[int], is_open: Callable[[Rim], bool], axis: Vec3) -> list[int]:
    """The same for patches without a floor that are cut together: by the edge all round them.

    An upright wall's own edges lie in its line: nothing comes in through them but where they are all there is.
    """
    owned = [(shape.patches[p], r) for p in sorted(members) for r in shape.patches[p].rims if r.other not in members]
    in_line = {r for patch, r in owned if _is_upright(patch, axis) and _is_straight(r, axis)}
    found: list[int] = []
    for loop in chained([r for _, r in owned]):
        free = [is_open(r) for r in loop]
        across = [here and r not in in_line for r, here in zip(loop, free, strict=True)]
        found += side_faces(loop, across if any(across) else free, axis)
    return found


def _is_upright(patch: Patch, axis: Vec3) -> bool:
    return patch.surface.kind == "plane" and abs(dot(patch.surface.axis, axis)) < SQUARE


def longest(rims: Sequence[Rim]) -> int:
    """The patch that bounds most of some edges, in however many pieces."""
    sizes: dict[int, float] = {}
    for rim in rims:
        sizes[rim.other] = sizes.get(rim.other, 0.0) + rim.length
    return max(sizes, key=lambda o: (round(sizes[o], 3), -o))


def _sides(stretch: list[Rim], axis: Vec3) -> list[list[Rim]]:
    """The edges of a stretch that look straight, parted where it turns outwards for good; all of it where none does.

    Round a bite it turns back again; the rounds at the ends of a gap are no sides of their own.
    """
    turned = _headings(stretch, axis)
    lines = [(r, t) for r, t in zip(stretch, turned, strict=True) if _is_straight(r, axis)]
    if not lines:
        return [stretch]
    for_good = list(accumulate((t for _, t in reversed(lines)), min))[::-1]
    numbers = [int((t - for_good[0] + math.pi / 2 - TURN) // (math.pi / 2)) for t in for_good]
    return [[r for (r, _), n in zip(lines, numbers, strict=True) if n == number] for number in sorted(set(numbers))]


def _is_straight(rim: Rim, axis: Vec3) -> bool:
    """True for an edge that is straight seen along an axis: a line, or an arc that stands upright."""
    ways = [add(way, axis, -dot(way, axis)) for p in rim.points[1:] if (way := sub(p, rim.points[0]))]
    size = max(norm(way) for way in ways)
    return (
        size > SQUARE * rim.length and norm(ways[-1]) > 0 and all(_off(way, ways[-1]) < SQUARE * size for way in ways)
    )


def _off(place: Vec3, line: Vec3) -> float:
    return norm(cross(place, line)) / norm(line)


def _headings(stretch: list[Rim], axis: Vec3) -> list[float]:
    """How far a stretch, seen against ``axis``, has turned to the left where each of its edges begins (radians)."""
    found: list[float] = []
    turned, before = 0.0, None
    for rim in stretch:
        found.append(turned)
        for k, (a, b) in enumerate(pairwise(rim.points)):
            way = sub(b, a)
            way = add(way, axis, -dot(way, axis))
            if norm(way) < SQUARE * norm(sub(b, a)):
                continue
            turned += _turn(before, way, axis) if before else 0.0
            before = way
            if k == 0:
                found[-1] = turned
    return found


def _turn(before: Vec3, way: Vec3, axis: Vec3) -> float:
    """How far an edge turns to the left (radians); straight back, as one seen from its side does, is to the right."""
    turn = math.atan2(dot(cross(before, way), axis), dot(before, way))
    return turn if turn < math.pi - SQUARE else turn - math.tau
