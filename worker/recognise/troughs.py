"""Floors of two slopes that meet in a valley or over a ridge, between upright walls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from schemas.base import Vec3, cross, dot, norm, scale, unit
from schemas.feature import FeatureClass
from schemas.tolerances import LIMIT, SAME_LENGTH, SQUARE
from worker.recognise.access import Sight
from worker.recognise.curved import LONG
from worker.recognise.extent import extent
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess, hollow, is_wall
from worker.recognise.through_slots import OVER


@dataclass(frozen=True, eq=False)
class Trough:
    """What a recess with a floor of two slopes is, and its ends and travel, where it is a slot or step."""

    class_: FeatureClass
    ends: str | None
    travel: Vec3 | None


def trough_of(shape: PartShape, recess: Recess) -> Trough | None:
    """The trough that a recess is whose slopes rise or fall along its walls; None for any other, vees among them.

    Slopes that run out at the mouth are the flanks of a vee, walls at its ends are no cheeks.
    """
    slopes = _slopes(shape, recess)
    if not slopes:
        return None
    line = unit(cross(*(shape.patches[s[0]].surface.axis for s in slopes)))
    across = unit(cross(recess.axis, line))
    ends = [
        _edge(shape, recess, slope, way) for slope, way in zip(slopes, _outward(shape, slopes, across), strict=True)
    ]
    walled = [end for end in ends if end.other in recess.patches]
    top = top_of(shape, recess)
    if any(max(dot(p, recess.axis) for p in e.points) > top - OVER for e in ends if e not in walled):
        return None
    cheeks = _cheeks(shape, recess, line)
    if len(walled) == 2 and len(cheeks) < 2:
        return Trough("slot", "open flat" if cheeks else "open open", line)
    if len(cheeks) < 2:
        one = not cheeks and len(walled) == 1
        return Trough("step", None, across if cheeks else line) if one or (cheeks and not walled) else None
    if len(walled) == 2:
        return Trough("closed_pocket", None, None)
    return _between(shape, recess, (cheeks, across), walled)


def _between(
    shape: PartShape, recess: Recess, sides: tuple[Sequence[int], Vec3], walled: Sequence[Rim]
) -> Trough | None:
    """A slot between two cheeks along a direction, with one wall at its end or none; a pocket where it is short."""
    cheeks, travel = sides
    if not walled:
        return Trough("slot", "open open", travel)
    normal, end = shape.patches[cheeks[0]].surface.axis, shape.patches[walled[0].other]
    (low, high), (near, far) = extent(shape, cheeks, normal), extent(shape, recess.patches, travel)
    if end.surface.kind == "cylinder":
        fits = hollow(end) and abs(2 * end.surface.radius - (high - low)) < SAME_LENGTH
        return Trough("slot", "open radiused", travel) if fits else Trough("open_pocket", None, travel)
    long = far - near >= LONG * (high - low) - LIMIT
    return Trough("slot", "open flat", travel) if long else Trough("open_pocket", None, travel)


def _slopes(shape: PartShape, recess: Recess) -> list[tuple[int, ...]]:
    """The two planes, in however many pieces, that lean in a recess and meet in a level line; else none.

    The line and the slopes' feet may be rounded.
    """
    leaning = [p for p in recess.patches if not is_wall(shape.patches[p], recess.axis)]
    sets: dict[int, list[int]] = {}
    for p in leaning:
        if shape.patches[p].surface.kind == "plane":
            sets.setdefault(shape.carriers[p], []).append(p)
    if recess.floors or len(sets) != 2 or len(leaning) == len(recess.patches):
        return []
    first, second = sorted(sets.values())
    line = cross(*(shape.patches[s[0]].surface.axis for s in (first, second)))
    rest = [shape.patches[p] for p in leaning if p not in first and p not in second]
    level = norm(line) > SQUARE and abs(dot(line, recess.axis)) < SQUARE * norm(line)
    joint = [p for p in rest if set(p.smooth) & set(first) and set(p.smooth) & set(second)]
    meet = joint or any(r.other in second for p in first for r in shape.patches[p].rims)
    return [tuple(first), tuple(second)] if level and meet and all(hollow(p) for p in rest if p not in joint) else []


def _outward(shape: PartShape, slopes: Sequence[Sequence[int]], across: Vec3) -> list[Vec3]:
    """For each slope the way across from the line in which they meet."""
    middles = [sum(extent(shape, slope, across)) / 2 for slope in slopes]
    first = 1.0 if middles[0] > middles[1] else -1.0
    return [scale(across, first), scale(across, -first)]


def _edge(shape: PartShape, recess: Recess, slope: Sequence[int], way: Vec3) -> Rim:
    """The longest edge, of those that reach furthest, at which a slope ends on one way."""
    rims = [r for p in slope for r in shape.patches[p].rims if r.other not in slope]
    reach = {id(r): max(dot(p, way) for p in r.points) for r in rims}
    far = max(reach.values())
    return max((r for r in rims if reach[id(r)] > far - OVER), key=lambda r: (_width(r, way), r.length))


def _width(rim: Rim, way: Vec3) -> float:
    """How far an edge goes without going that way, to the micrometre (mm): sides of a slope only end where it does."""
    along = [dot(p, way) for p in rim.points]
    return round(rim.length - (max(along) - min(along)), 3)


def _cheeks(shape: PartShape, recess: Recess, line: Vec3) -> list[int]:
    """One flat wall for each side on which walls look along a line."""
    walls = [p for p in recess.patches if shape.patches[p].surface.kind == "plane"]
    ways = (line, scale(line, -1.0))
    sides = [[p for p in walls if dot(shape.patches[p].surface.axis, way) > 1 - SQUARE**2] for way in ways]
    return [side[0] for side in sides if side]


def over_ridges(shape: PartShape, sight: Sight, recesses: Sequence[Recess]) -> list[Recess]:
    """The recesses, two halves of a trough put together whose slopes meet in a ridge below both walls' tops."""
    found = list(recesses)
    owner = {p: r for r in recesses for p in r.patches if _is_half(shape, r)}
    for p, half in owner.items():
        for rim in shape.patches[p].rims:
            other = owner.get(rim.other)
            if other and other is not half and half in found and other in found and _is_ridge(shape, half, other, rim):
                patches = tuple(sorted({*half.patches, *other.patches}))
                seen = tuple(d for d in half.seen if d in other.seen and sight.sees(patches, d))
                found[found.index(half)] = replace(half, patches=patches, seen=seen)
                found.remove(other)
    return found


def _is_half(shape: PartShape, recess: Recess) -> bool:
    """True for one upright plane over one that slopes away from it, with or without a round between them."""
    patches = [shape.patches[p] for p in recess.patches]
    flat = [p for p in patches if p.surface.kind == "plane"]
    rest = all(hollow(p) and not is_wall(p, recess.axis) for p in patches if p not in flat)
    return rest and len(flat) == 2 and not recess.floors and sum(is_wall(p, recess.axis) for p in flat) == 1


def _is_ridge(shape: PartShape, a: Recess, b: Recess, rim: Rim) -> bool:
    """True for the level edge between the slopes of two halves whose walls face each other and rise above it."""
    walls = [next(p for p in r.patches if is_wall(shape.patches[p], r.axis)) for r in (a, b)]
    facing = dot(*(shape.patches[w].surface.axis for w in walls)) < -1 + SQUARE**2
    crest = max(dot(p, a.axis) for p in rim.points)
    level = crest - min(dot(p, a.axis) for p in rim.points) < OVER
    under = all(extent(shape, (w,), a.axis)[1] > crest + OVER for w in walls)
    return dot(a.axis, b.axis) > 1 - SQUARE**2 and facing and level and under and rim.convexity == "convex"
