"""Floors that a slot flush with their wall cuts off from it: relief grooves at a step's foot, T-slots beside a wall.

What runs along the edge of a floor and is no wider than it was cut into it, when its far wall goes on above it: that
wall is the floor's as well, and the slot's own depth is counted from the floor.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from schemas.base import Vec3, add, cross, dot, norm, scale, sub
from schemas.tolerances import LEDGE, LIMIT, SQUARE
from worker.recognise.access import Sight
from worker.recognise.channels import Channel
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, directions, is_floor, is_wall, sees_own
from worker.recognise.strips import line_of
from worker.recognise.through_slots import OVER

SHARES = (0.1, 0.5, 0.9)
"""At these parts of the slot's length nothing may stand over it between the floor's edge and the far wall."""


@dataclass(frozen=True, eq=False)
class _Gap:
    """``near``: the wall of a slot that begins at a floor's edge; ``far``: the one across, which goes on above it."""

    floor: int
    near: int
    far: int
    up: Vec3
    level: float


def with_flush_floors(
    shape: PartShape,
    sight: Sight,
    recesses: Sequence[Recess],
    channels: Sequence[Channel],
    others: tuple[Collection[int], Sequence[tuple[int, ...]]],
) -> tuple[list[Recess], list[Channel]]:
    """Recesses and channels, those flush with a wall as deep as they go below the floor, and that floor's recess.

    ``others``: planes that belong to no recess, and the patches of each hole.
    """
    owners = {f: r for r in recesses for f in r.floors if not r.core}
    free = {*others[0], *owners}
    found = [_gaps(shape, r.patches, _flat_walls(shape, r), r.axis, free) for r in recesses]
    more = [[] if c.is_dovetail else _gaps(shape, c.patches, c.necks, c.halves[0].up, free) for c in channels]
    flush = {g.floor for gaps in (*found, *more) for g in gaps}
    beyond = [_beyond(shape, sight, m, free - flush) for m in (*(r.patches for r in recesses), *others[1])]
    over = _over(shape, sight, owners, [gap for gaps in (*found, *more, *beyond) for gap in gaps])
    old = {id(r) for r, _ in over if r}
    kept = [_below(r, gaps) for r, gaps in zip(recesses, found, strict=True) if id(r) not in old]
    cut = [replace(c, top=min(g.level for g in gs)) if gs else c for c, gs in zip(channels, more, strict=True)]
    return kept + [new for _, new in over], cut


def _flat_walls(shape: PartShape, recess: Recess) -> list[int]:
    flat = (p for p in recess.patches if shape.patches[p].surface.kind == "plane")
    return [p for p in flat if is_wall(shape.patches[p], recess.axis)] if not recess.shared else []


def _gaps(
    shape: PartShape, members: Collection[int], walls: Sequence[int], up: Vec3, free: Collection[int]
) -> list[_Gap]:
    """The floors beside some walls that have one of them beyond the other."""
    found: dict[tuple[int, int], _Gap] = {}
    for near in walls:
        for rim in shape.patches[near].rims:
            other = shape.patches[rim.other]
            if rim.convexity != "convex" or rim.curve != "line" or rim.other not in free or rim.other in members:
                continue
            if is_floor(other, up) and (gap := _gap(shape, near, rim, walls, members, up)):
                found.setdefault((gap.floor, gap.near), gap)
    return list(found.values())


def _gap(
    shape: PartShape, near: int, rim: Rim, walls: Sequence[int], members: Collection[int], up: Vec3
) -> _Gap | None:
    """The gap between a floor's edge and the wall across; None where that does not go on, or the gap is wider."""
    way, level = shape.patches[near].surface.axis, dot(rim.points[0], up)
    across = [(w, far) for far in walls if (w := _apart(shape, near, far)) > 0]
    high = [(w, far) for w, far in across if extent(shape, (far,), up)[1] > level + LEDGE]
    if not high or min(high)[0] > min(across)[0] + OVER or extent(shape, (near,), up)[1] > level + OVER:
        return None
    width, far = min(high)
    fits = ends_at(shape, rim, way, width, members) and _is_free(shape, rim, way, scale(up, OVER), width)
    return _Gap(rim.other, near, far, up, level) if fits else None


def ends_at(shape: PartShape, rim: Rim, way: Vec3, width: float, members: Collection[int]) -> bool:
    """True when a plane ends at an edge, there alone for some patches, as far as it goes, and is as wide as the gap.

    What they go round, or run past on another side, is an island in them or a corner.
    """
    low, end = extent(shape, (rim.other,), way)
    last = [r for r in shape.patches[rim.other].rims if min(dot(p, way) for p in r.points) > end - OVER]
    at_end = dot(rim.points[0], way) > end - OVER
    theirs = [r for r in shape.patches[rim.other].rims if r.other in members]
    return at_end and width < end - low + LIMIT and all(r.other in members for r in last) and len(theirs) == len(last)


def edges_into(shape: PartShape, members: Collection[int], free: Collection[int]) -> list[Rim]:
    """The straight edges at which free planes end at some patches, as those see them."""
    edges = [r for p in members for r in shape.patches[p].rims if r.convexity == "convex" and r.curve == "line"]
    return [r for r in edges if r.other in free and shape.patches[r.other].surface.kind == "plane"]


def _normal(shape: PartShape, rim: Rim) -> Vec3:
    return shape.patches[rim.other].surface.axis


def _beyond(shape: PartShape, sight: Sight, members: Collection[int], free: Collection[int]) -> list[_Gap]:
    """The floors and walls that some patches keep apart: what relieves the corner in which they would meet."""
    edges = edges_into(shape, members, free)
    floors = [edge for edge in edges if sight.is_square(_normal(shape, edge))]
    pairs = [(a, b) for a in floors for b in edges if a.other != b.other]
    found = [gap for a, b in pairs if (gap := _relieved(shape, a, b, members))]
    return sorted(found, key=lambda g: _rise(shape, g))[:1]


def _rise(shape: PartShape, gap: _Gap) -> tuple[float, ...]:
    """How high the wall over a floor is, and which way the floor looks: the lower one first, then the upper."""
    return (round(extent(shape, (gap.far,), gap.up)[1] - gap.level, 3), *(-c for c in gap.up[::-1]))


def _relieved(shape: PartShape, edge: Rim, other: Rim, members: Collection[int]) -> _Gap | None:
    """The gap between the edges of a floor and a wall that would meet in an inner corner; None for others."""
    up, way = shape.patches[edge.other].surface.axis, scale(shape.patches[other.other].surface.axis, -1.0)
    if abs(dot(up, way)) > SQUARE or norm(cross(line_of(edge), line_of(other))) > SQUARE:
        return None
    gap = sub(other.points[0], edge.points[0])
    width, rise = dot(gap, way), dot(gap, up)
    ends = ends_at(shape, edge, way, width, members) and ends_at(shape, other, scale(up, -1.0), rise, members)
    if min(width, rise) < 0 or not ends or not _is_free(shape, edge, way, scale(up, rise + OVER), width):
        return None
    near = next(p for p in members if any(r.edge == edge.edge for r in shape.patches[p].rims))
    return _Gap(edge.other, near, other.other, up, dot(edge.points[0], up))


def _apart(shape: PartShape, a: int, b: int) -> float:
    """How far apart two planes are that face each other (mm); 0 or less for others."""
    p, q = shape.patches[a].surface, shape.patches[b].surface
    return dot(sub(q.origin, p.origin), p.axis) if dot(p.axis, q.axis) < -1 + SQUARE**2 else 0.0


def _is_free(shape: PartShape, rim: Rim, way: Vec3, over: Vec3, width: float) -> bool:
    """True when from so far over the floor's edge there is air to the far wall, and the wall is there."""
    line = sub(rim.points[-1], rim.points[0])
    starts = [add(add(rim.points[0], line, share), over) for share in SHARES]
    met = [crossings(shape, start, way, OVER / 2, width + OVER) for start in starts]
    return all(len(hits) > 0 and min(hits) > width - OVER for hits in met)


def _below(recess: Recess, gaps: Sequence[_Gap]) -> Recess:
    """A recess as far as it lies below the floors that it is cut into."""
    return replace(recess, span=(-math.inf, min(g.level for g in gaps))) if gaps else recess


def _over(
    shape: PartShape, sight: Sight, owners: dict[int, Recess], found: Sequence[_Gap]
) -> list[tuple[Recess | None, Recess]]:
    """The recesses over some slots, each with what its floor was the recess of before."""
    sets: list[list[_Gap]] = []
    for gap in found:
        home = next((s for s in sets if _is_one(shape, owners, s, gap)), None)
        if home is None:
            sets.append([gap])
        else:
            home.append(gap)
    return [(owners.get(gaps[0].floor), _recess(shape, sight, owners, gaps)) for gaps in sets]


def _is_one(shape: PartShape, owners: dict[int, Recess], gaps: Sequence[_Gap], gap: _Gap) -> bool:
    """True for another gap of one floor, or for a piece of a floor that has a wall's carrier in common."""
    first = gaps[0]
    if any(g.floor == gap.floor for g in gaps) or (
        first.floor in owners and owners.get(gap.floor) is owners[first.floor]
    ):
        return True
    level = shape.carriers[first.floor] == shape.carriers[gap.floor]
    return level and any(shape.carriers[g.far] == shape.carriers[gap.far] for g in gaps)


def _recess(shape: PartShape, sight: Sight, owners: dict[int, Recess], gaps: Sequence[_Gap]) -> Recess:
    """The recess of a floor, with the walls across the gaps at its edge as its own."""
    up, level = gaps[0].up, max(g.level for g in gaps)
    before = [owners[f] for f in dict.fromkeys(g.floor for g in gaps) if f in owners]
    floors = tuple(sorted({g.floor for g in gaps}.union(*(r.floors for r in before))))
    inner = tuple(sorted({*floors}.union(*(r.patches for r in before))))
    patches = tuple(sorted({*inner, *(g.far for g in gaps)}))
    behind = tuple(sorted({(g.near, g.far) for g in gaps}))
    bridged = tuple(sorted({p for r in before for p in r.bridged}))
    recess = Recess(patches, up, floors, (), inner, True, bridged, patches, (level, math.inf), behind=behind)
    ways = directions(shape, sight, patches)
    return replace(recess, seen=tuple(d for d in ways if _sees(shape, sight, recess, gaps, d)))


def _sees(shape: PartShape, sight: Sight, recess: Recess, gaps: Sequence[_Gap], way: Vec3) -> bool:
    """True when a straight tool sees the floor and, above it, the walls across the gaps."""
    if abs(dot(way, recess.axis)) > 1 - SQUARE**2:
        return sees_own(sight, recess, recess.patches, way)
    return sees_own(sight, recess, recess.core, way) and all(_is_seen(shape, recess, g.far, way) for g in gaps)


def _is_seen(shape: PartShape, recess: Recess, wall: int, way: Vec3) -> bool:
    """True when nothing stands before a wall above the floor, at some places of it."""
    surface, (low, _) = shape.patches[wall].surface, recess.span or (0.0, 0.0)
    if dot(surface.axis, way) < -SQUARE:
        return False
    along = cross(recess.axis, surface.axis)
    spans = extent(shape, recess.floors, along), (low, extent(shape, (wall,), recess.axis)[1])
    for a in SHARES:
        for b in SHARES:
            start = scale(surface.axis, dot(surface.origin, surface.axis) + OVER)
            start = add(start, along, spans[0][0] + a * (spans[0][1] - spans[0][0]))
            start = add(start, recess.axis, spans[1][0] + b * (spans[1][1] - spans[1][0]))
            if crossings(shape, start, way, 0.0, math.inf):
                return False
    return True
