"""Recesses that cut through the roof of a T-slot or a dovetail's flank and end over it: the wall there has no floor."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from schemas.base import Vec3, add, cross, dot, norm, scale, sub
from schemas.tolerances import SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.access import Sight
from worker.recognise.corners_apart import with_corners_apart
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.reading import SHARP, cost
from worker.recognise.recesses import Recess, hollow, is_wall, runs_into
from worker.recognise.through_slots import OVER


def over_channels(
    shape: PartShape, sight: Sight, recesses: Sequence[Recess], channels: Sequence[Draft]
) -> list[Recess]:
    """The recesses, each with the walls of its own that stand over undercuts, and its floor closed by them, or where
    one of them comes out in it."""
    found = list(recesses)
    ways = sight.distinct(r.axis for r in recesses if r.floors)
    for piece in [r for r in recesses if any(_stands_over(shape, r, way) for way in ways)]:
        home = next((r for r in found if r is not piece and _is_of(shape, sight, piece, r)), None)
        if home is not None:
            found[found.index(home)] = _together(sight, home, piece)
            found.remove(piece)
    found = with_corners_apart(shape, sight, found)
    travels = {p: c.placement.ref_direction for c in channels if c.class_ == "slot" for p in c.patches}
    return [_over_mouths(shape, _over_gaps(shape, r), travels) for r in found]


def _over_mouths(shape: PartShape, recess: Recess, travels: Mapping[int, Vec3]) -> Recess:
    """The recess with channels that come out in its floor as no way out of it; ``travels``: theirs, by patches."""
    beside = {r.other for f in recess.floors for r in shape.patches[f].rims if r.other in travels}
    theirs = {p for p in beside if abs(dot(travels[p], recess.axis)) > 1 - SQUARE**2}.difference(recess.patches)
    return replace(recess, bridged=tuple(sorted({*recess.bridged, *theirs}))) if theirs else recess


def _stands_over(shape: PartShape, piece: Recess, up: Vec3) -> bool:
    """True for upright walls over an undercut that have no floor there, however they are read alone."""
    if piece.shared or piece.core or piece.behind or (piece.floors and abs(dot(piece.axis, up)) > SQUARE):
        return False
    walls = all(is_wall(shape.patches[p], up) for p in piece.patches)
    return walls and any(_overhangs(shape, p, up) for p in piece.patches)


def _is_of(shape: PartShape, sight: Sight, piece: Recess, recess: Recess) -> bool:
    """True for such walls that go on as a recess's, and are its rather than it theirs, seen from elsewhere."""
    own = recess.floors and not (recess.shared or recess.core or recess.behind)
    if not own or not _stands_over(shape, piece, recess.axis) or not _goes_on(shape, recess, piece):
        return False
    ours = not piece.floors or _cost(shape, recess, piece, recess.axis) < _cost(shape, recess, piece, piece.axis)
    return ours and sight.sees(piece.patches, recess.axis)


def _cost(shape: PartShape, recess: Recess, piece: Recess, way: Vec3) -> float:
    """How ill a direction suits both, with the inner edges along it that walls had at the floor before the undercut."""
    met = {shape.carriers[p] for p in piece.patches if _overhangs(shape, p, recess.axis)}
    alone = met - {shape.carriers[p] for p in recess.patches}
    walls = (shape.patches[shape.of_carrier[c][0]].surface.axis for c in alone)
    gone = sum(abs(dot(axis, way)) < SQUARE for axis in walls) if abs(dot(way, recess.axis)) < SQUARE else 0
    return cost(shape, (*piece.patches, *recess.patches), way) + SHARP * gone


def _overhangs(shape: PartShape, wall: int, up: Vec3) -> bool:
    """True for a wall that stands on the edge of a plane that looks down, or leans over."""
    patch = shape.patches[wall]
    below = (shape.patches[o].surface for o in patch.convex)
    return is_wall(patch, up) and any(s.kind == "plane" and dot(s.axis, up) < -SQUARE for s in below)


def _goes_on(shape: PartShape, recess: Recess, piece: Recess) -> bool:
    """True for walls in which two of a recess that face each other go on, themselves or round a corner, with nothing
    but air between; or one, where those look back at another: such a recess is open across from the one."""
    walls = [shape.patches[p] for p in piece.patches]
    ours = [shape.patches[p] for p in recess.patches if is_wall(shape.patches[p], recess.axis)]
    flat = [w for w in ours if w.surface.kind == "plane"]
    leading = [w.surface for w in flat if _leads_to(shape, w, walls)]
    facing = next((a.axis for a, b in combinations(leading, 2) if _face(a, b)), None)
    looked_at = [
        a.surface for a in flat if any(w.surface.kind == "plane" and _face(a.surface, w.surface) for w in walls)
    ]
    along = (b.axis for b in leading if any(abs(dot(a.axis, b.axis)) < SQUARE for a in looked_at))
    across = facing or next(along, None)
    return across is not None and _is_air(shape, recess, piece, across)


def _face(a: Surface, b: Surface) -> bool:
    """True for planes that look at each other."""
    return dot(a.axis, b.axis) < -1 + SQUARE**2 and dot(sub(b.origin, a.origin), a.axis) > OVER


def _leads_to(shape: PartShape, wall: Patch, others: Sequence[Patch]) -> bool:
    """True where one of some walls lies on a flat one's plane, or is a round corner that runs into it."""
    return any(
        shape.carriers[o.index] == shape.carriers[wall.index] or (hollow(o) and runs_into(o.surface, wall.surface))
        for o in others
    )


def _is_air(shape: PartShape, recess: Recess, piece: Recess, across: Vec3) -> bool:
    along = cross(recess.axis, across)
    level = sum(extent(shape, piece.patches, recess.axis)) / 2
    middle = sum(extent(shape, piece.patches, across)) / 2
    ends = [sum(extent(shape, own, along)) / 2 for own in (recess.floors, piece.patches)]
    start = add(add(scale(across, middle), recess.axis, level), along, ends[0])
    gap = ends[1] - ends[0]
    return not crossings(shape, start, scale(along, math.copysign(1.0, gap)), 0.0, abs(gap))


def _together(sight: Sight, recess: Recess, piece: Recess) -> Recess:
    patches = tuple(sorted({*recess.patches, *piece.patches}))
    ways = sight.distinct((*recess.seen, *piece.seen))
    return replace(recess, patches=patches, seen=tuple(d for d in ways if sight.sees(patches, d)))


def _over_gaps(shape: PartShape, recess: Recess) -> Recess:
    """The recess closed where its floor ends at an undercut that it goes on across: to a wall, or as a floor again."""
    high = [p for p in recess.patches if p not in recess.floors and _overhangs(shape, p, recess.axis)]
    if not high or recess.shared or recess.core or recess.behind:
        return recess
    edges = [r for f in recess.floors for r in shape.patches[f].loops[0] if r.convexity == "convex"]
    edges = [r for r in edges if r.curve == "line" and r.other not in recess.patches]
    walls = {r.other: wall for r in edges if (wall := _wall_ahead(shape, recess, r, high)) is not None}
    gaps = {r.other for r in edges if r.other in walls or _floor_ahead(shape, recess, r)}
    return replace(recess, behind=tuple(sorted(walls.items())), bridged=tuple(sorted({*recess.bridged, *gaps})))


def _wall_ahead(shape: PartShape, recess: Recess, edge: Rim, high: Sequence[int]) -> int | None:
    """The nearest of some walls that looks back at an edge of the floor, with nothing but air between."""
    facing = [(gap, p) for p in high if (gap := _gap(shape, recess, edge, p)) > OVER]
    gap, wall = min(facing, default=(0.0, -1))
    start = add(_middle(edge), recess.axis, OVER)
    reached = wall >= 0 and not crossings(shape, start, _out(recess, edge), OVER, gap - OVER)
    return wall if reached else None


def _gap(shape: PartShape, recess: Recess, edge: Rim, wall: int) -> float:
    surface, out = shape.patches[wall].surface, _out(recess, edge)
    faces = surface.kind == "plane" and dot(surface.axis, out) < -1 + SQUARE**2
    return dot(sub(surface.origin, edge.points[0]), out) if faces else 0.0


def _floor_ahead(shape: PartShape, recess: Recess, edge: Rim) -> bool:
    """True where another floor of a recess begins beyond an edge."""
    out, end = _out(recess, edge), dot(edge.points[0], _out(recess, edge))
    starts = [extent(shape, (f,), out)[0] - end for f in recess.floors]
    gap = min((s for s in starts if s > OVER), default=0.0)
    return gap > 0.0 and not crossings(shape, add(_middle(edge), recess.axis, OVER), out, OVER, gap - OVER)


def _out(recess: Recess, edge: Rim) -> Vec3:
    """Out of a floor over a straight edge: the floor lies left of it."""
    way = cross(sub(edge.points[-1], edge.points[0]), recess.axis)
    return scale(way, 1.0 / norm(way))


def _middle(edge: Rim) -> Vec3:
    return scale(add(edge.points[0], edge.points[-1]), 0.5)
