"""Round corners that touched one wall of which nothing is left: something wider than its flat took all of that."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from schemas.base import Vec3, add, cross, dot, scale, sub, unit
from schemas.tolerances import SAME_LENGTH, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, half, hollow, is_wall
from worker.recognise.through_slots import OVER

ACROSS = math.sqrt(0.5)
"""Cosine between a wall and what cuts into it, at most. Ours: what runs more along a wall than across it takes it away,
and the recess opens to that."""


def touched_one_wall(shape: PartShape, a: int, b: int) -> bool:
    """True for two round corners that run out of flat walls which face each other, and touched one wall between."""
    return _corner(shape, a) and _corner(shape, b) and turned_at_one_wall(shape, a, b)


def turned_at_one_wall(shape: PartShape, a: int, b: int) -> bool:
    """The same of two round walls both hollow, or both the corners of something that stands up."""
    one, other = (shape.patches[w].surface for w in (a, b))
    walls = [_beside(shape, w) for w in (a, b)]
    if not one.kind == other.kind == "cylinder" or one.hollow != other.hollow or None in walls:
        return False
    p, q = (shape.patches[w].surface for w in walls if w is not None)
    gap = dot(sub(q.origin, p.origin), p.axis) * (1 if one.hollow else -1)
    across = dot(p.axis, q.axis) < -1 + SQUARE**2 and gap > one.radius + other.radius + SAME_LENGTH
    along = cross(one.axis, p.axis)
    level = max(abs(one.radius - other.radius), abs(dot(sub(one.origin, other.origin), along))) < SAME_LENGTH
    if not across or not level or any(_is_cut_along(shape, w, along) for w in (a, b)):
        return False
    return _out(shape, a, along) * _out(shape, b, along) > 0


def _is_cut_along(shape: PartShape, corner: int, along: Vec3) -> bool:
    """True for a corner cut off by what runs along the wall that it touched."""
    beyond = [shape.patches[o].surface for o in shape.patches[corner].convex]
    return any(s.kind == "plane" and abs(dot(s.axis, along)) > ACROSS for s in beyond)


def _corner(shape: PartShape, wall: int) -> bool:
    return shape.patches[wall].surface.kind == "cylinder" and hollow(shape.patches[wall])


def _beside(shape: PartShape, corner: int) -> int | None:
    """The flat wall that a round corner runs out of; None for one between two walls, or none."""
    patch = shape.patches[corner]
    walls = [o for o in {*patch.smooth, *patch.concave} if is_wall(shape.patches[o], patch.surface.axis)]
    flat = [o for o in walls if shape.patches[o].surface.kind == "plane" and o in patch.smooth]
    return min(flat) if flat and len({shape.carriers[o] for o in walls}) == 1 else None


def _out(shape: PartShape, corner: int, along: Vec3) -> float:
    """How far a corner's axis lies past the middle of the flat wall beside it, along that (mm)."""
    wall = _beside(shape, corner)
    middle = sum(extent(shape, (wall,), along)) / 2 if wall is not None else 0.0
    return dot(shape.patches[corner].surface.origin, along) - middle


def ends_beyond(shape: PartShape, patches: Iterable[int]) -> tuple[Vec3, ...]:
    """Where corners among some walls touched a wall that is gone: as far as what they bound was cut."""
    found: list[Vec3] = []
    for corner in sorted({c for pair in _mates(shape, patches) for c in pair}):
        surface, along = shape.patches[corner].surface, _along(shape, corner)
        found.append(add(surface.origin, along, math.copysign(surface.radius, _out(shape, corner, along))))
    return tuple(found)


def _along(shape: PartShape, corner: int) -> Vec3:
    """The way along the flat wall beside a corner."""
    wall = _beside(shape, corner)
    axis = shape.patches[corner].surface.axis
    return half(unit(cross(axis, shape.patches[wall].surface.axis))) if wall is not None else axis


def _mates(shape: PartShape, patches: Iterable[int]) -> list[tuple[int, int]]:
    """All pairs of corners among some walls that touched one wall."""
    loose: list[tuple[Vec3, float, int]] = []
    for corner in patches:
        if _corner(shape, corner) and _beside(shape, corner) is not None:
            along = _along(shape, corner)
            named = (round(along[0], 4), round(along[1], 4), round(along[2], 4))
            loose.append((named, dot(shape.patches[corner].surface.origin, along), corner))
    loose.sort()
    found: list[tuple[int, int]] = []
    for i, (named, height, corner) in enumerate(loose):
        for other in loose[i + 1 :]:
            if other[0] != named or other[1] - height > SAME_LENGTH:
                break
            found += [(corner, other[2])] if touched_one_wall(shape, corner, other[2]) else []
    return found


def across_from(shape: PartShape, nexts: Mapping[int, Sequence[int]]) -> dict[int, int]:
    """Each round corner at the end of a chain of walls with the one that touched the same wall; ``nexts``: the
    neighbours of each wall in its chain."""
    lone = [w for w, near in nexts.items() if len(near) == 1 and _corner(shape, w)]
    found: dict[int, int] = {}
    for a, b in combinations(lone, 2) if len(lone) <= 4 else ():
        if nexts[a] != nexts[b] and touched_one_wall(shape, a, b):
            found |= {a: b, b: a}
    return found


def with_corners_apart(shape: PartShape, sight: Sight, recesses: Sequence[Recess]) -> list[Recess]:
    """The recesses, with two sides without a floor put together that end in corners which touched one wall."""
    found = list(recesses)
    homes = {p: r for r in recesses if _is_side(shape, r) for p in r.patches}
    both = (sorted((homes[a], homes[b]), key=lambda r: r.patches) for a, b in _mates(shape, homes))
    pairs = Counter((first, second) for first, second in both)
    for (a, b), count in pairs.items():
        ends = {sum(_corner(shape, p) for p in side.patches) for side in (a, b)}
        if ends == {count} and a in found and b in found and _is_air(shape, a, b):
            patches = tuple(sorted({*a.patches, *b.patches}))
            seen = tuple(d for d in sight.distinct((*a.seen, *b.seen)) if sight.sees(patches, d))
            found[found.index(a)] = replace(a, patches=patches, seen=seen)
            found.remove(b)
    return found


def _is_side(shape: PartShape, recess: Recess) -> bool:
    """True for one flat wall with a round corner at one end or both, and no floor."""
    if recess.floors or recess.shared or recess.core or len(recess.patches) > 3:
        return False
    round_ = [p for p in recess.patches if _corner(shape, p)]
    flat = [p for p in recess.patches if shape.patches[p].surface.kind == "plane"]
    upright = all(is_wall(shape.patches[p], recess.axis) for p in recess.patches)
    return len(flat) == 1 and bool(round_) and len(recess.patches) == 1 + len(round_) and upright


def _is_air(shape: PartShape, a: Recess, b: Recess) -> bool:
    """True when nothing stands between the middles of two sides."""
    across, far = (_flat(shape, r) for r in (a, b))
    ways = (a.axis, unit(cross(a.axis, across.axis)))
    middle = [sum(extent(shape, a.patches, way)) / 2 for way in ways]
    start = add(add(scale(ways[0], middle[0]), ways[1], middle[1]), across.axis, dot(across.origin, across.axis))
    gap = dot(sub(far.origin, across.origin), across.axis)
    return not crossings(shape, start, across.axis, OVER, gap - OVER)


def _flat(shape: PartShape, recess: Recess) -> Surface:
    return next(s for p in recess.patches if (s := shape.patches[p].surface).kind == "plane")
