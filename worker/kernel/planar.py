"""Plane regions bounded by lines and arcs, exact: joined, cut, and grown or shrunk by a disc (mm).

A region is plain numbers in the x, y of some frame; ``prism`` of :mod:`worker.kernel.sweep` gives it height.
Growing and shrinking are the Minkowski sum and difference with a disc, so grown corners are round.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import OPENING_LEAST, OPENING_SLACK
from worker.kernel.errors import KernelError
from worker.kernel.planar_edge import (
    Edge,
    EdgeTable,
    Floats,
    Point2,
    angle_of,
    arcs,
    area_under,
    line,
    point_at,
    polar,
    reverse,
    tangent_at,
    windings,
)
from worker.kernel.planar_meet import Known, crossings
from worker.kernel.planar_trace import Loop, closing, trace, welded

Bounds = tuple[float, float, float, float]
SMALLEST_ARC = 1e-7
NEAR = 1e-4
"""Loops closer than this (mm) may touch."""
CLEAR = 1e-3
"""Borders farther apart than this (mm) neither cross nor meet, whatever points are taken for one."""
CUSP = 1e-6
"""Within this (radians) of a half turn the border runs back on itself: the end of a spike or of a notch."""
Rule = Callable[[list[NDArray[np.bool_]]], NDArray[np.bool_]]


@dataclass(frozen=True)
class Region:
    """Closed loops with the inside on their left: outer loops counter-clockwise, holes clockwise."""

    loops: tuple[Loop, ...] = ()

    @cached_property
    def edges(self) -> tuple[Edge, ...]:
        """All edges, loop after loop."""
        return tuple(e for loop in self.loops for e in loop)

    @cached_property
    def area(self) -> float:
        """Area, mm2."""
        return area_under(self.edges)

    @cached_property
    def bounds(self) -> Bounds:
        """xmin, ymin, xmax, ymax; raises ValueError for the empty region."""
        x0, y0 = self.boxes[:, :2].min(axis=0).tolist()
        x1, y1 = self.boxes[:, 2:].max(axis=0).tolist()
        return (x0, y0, x1, y1)

    @cached_property
    def boxes(self) -> Floats:
        """The box of each edge: xmin, ymin, xmax, ymax."""
        return np.array([one.box for one in self.known])

    @cached_property
    def known(self) -> tuple[Known, ...]:
        """Each edge with what meeting another needs."""
        return tuple(map(Known, self.edges))

    @cached_property
    def alone(self) -> tuple[Region, ...]:
        """Each loop as a region of its own (a hole has a negative area)."""
        return tuple(Region((loop,)) for loop in self.loops)

    @cached_property
    def points(self) -> Floats:
        """The start and the middle of each edge."""
        return np.array([p for e in self.edges for p in (e.a, point_at(e, 0.5))])

    @cached_property
    def table(self) -> EdgeTable:
        """The edges as arrays."""
        return EdgeTable(self.edges)

    def __bool__(self) -> bool:
        return bool(self.loops)

    def holds(self, points: Floats) -> NDArray[np.bool_]:
        """Which of the points (N x 2) lie inside."""
        return self.table.winding(points) > 0

    def signed_distance(self, points: Floats) -> Floats:
        """Distance of each point from the boundary, positive inside."""
        return np.where(self.holds(points), 1.0, -1.0) * self.table.distance(points)


NOWHERE = Region()


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Region:
    """The rectangle between two corners."""
    return polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def polygon(points: Sequence[Point2]) -> Region:
    """The polygon through the points, whichever way round they are given."""
    loop = tuple(line(points[i - 1], points[i]) for i in range(len(points)))
    return of_loops([loop])


def half_plane(point: Point2, outward: Point2, reach: float) -> Region:
    """The side of a line that ``outward`` points to, as a square of edge ``2 reach`` that stands on the line."""
    size = math.hypot(*outward)
    ux, uy = outward[0] / size, outward[1] / size
    corners = ((-1, 0), (1, 0), (1, 2), (-1, 2))
    return polygon([(point[0] - reach * (s * uy - t * ux), point[1] + reach * (s * ux + t * uy)) for s, t in corners])


def disc(centre: Point2, radius: float) -> Region:
    """The disc about a centre."""
    return Region((arcs(centre, radius, 0.0, math.tau),))


def of_loops(loops: Iterable[Sequence[Edge]]) -> Region:
    """The region inside clean, separate outer loops; their direction is set right."""
    return Region(tuple(tuple(loop) if area_under(loop) > 0 else _turned(loop) for loop in loops))


def _turned(loop: Sequence[Edge]) -> Loop:
    return tuple(reverse(edge) for edge in loop[::-1])


def inside_of(edges: Sequence[Edge]) -> Region:
    """The points that the edges, taken together, go round (in either direction).

    Where they stop short of each other, or go past, as far as a vertex of the kernel may lie off its edges, what lies
    within cannot be counted by a ray: they are then joined by straight lines first.
    """
    joined = welded(edges)
    try:
        return _gone_round(joined)
    except KernelError:
        gaps = closing(joined)
        if not gaps:
            raise
    return _gone_round([*joined, *gaps])


def _gone_round(edges: Sequence[Edge]) -> Region:
    table = EdgeTable(edges)
    return Region(trace(tuple(map(Known, edges)), lambda points: table.winding(points) != 0))


def contains(region: Region, point: Point2) -> bool:
    """True when the point lies inside."""
    return bool(region) and bool(region.holds(np.array([point]))[0])


def _overlay(regions: Sequence[Region], rule: Rule) -> Region:
    edges = [one for r in regions for one in r.known]
    groups = [number for number, r in enumerate(regions) for _ in r.edges]
    tables = [r.table for r in regions]
    return Region(trace(edges, lambda points: rule(list(windings(tables, points).T > 0)), groups))


def union(regions: Iterable[Region]) -> Region:
    """All regions joined."""
    present = [r for r in regions if r]
    if len(present) < 2:
        return present[0] if present else NOWHERE
    return _overlay(present, lambda found: np.logical_or.reduce(found))


def intersect(a: Region, b: Region) -> Region:
    """What lies in both."""
    if not a or not b or not boxes_meet(a.bounds, b.bounds):
        return NOWHERE
    return _overlay([a, b], lambda found: found[0] & found[1])


def overlap(a: Region, b: Region) -> bool:
    """True when the two share some area."""
    if not a or not b or not boxes_meet(a.bounds, b.bounds):
        return False
    inside = False
    for one, other in ((a, b), (b, a)):
        points = one.points
        held = other.holds(points)
        if (held & (other.table.distance(points) > NEAR)).any():
            return True
        inside = inside or bool(held.any())
    if not inside and not _borders_near(a, b):
        return False
    return bool(intersect(a, b))


def apart(a: Region, b: Region) -> bool:
    """True when no point of the one comes within CLEAR of the other."""
    if not a or not b or not boxes_meet(a.bounds, b.bounds, CLEAR):
        return True
    if _inside_other(a, b) or _inside_other(b, a):
        return False
    near = zip(*(found.tolist() for found in np.nonzero(near_edges(a, b))), strict=True)
    return not any(crossings(a.known[i], b.known[j], CLEAR) for i, j in near)


def _inside_other(a: Region, b: Region) -> bool:
    """True when some loop of the first starts in the second."""
    return bool(b.holds(np.array([loop[0].a for loop in a.loops])).any())


def _borders_near(a: Region, b: Region) -> bool:
    """True where some edge of the one may come within CLEAR of some edge of the other."""
    return bool(near_edges(a, b).any())


def near_edges(a: Region, b: Region) -> NDArray[np.bool_]:
    """Which edges of the two have boxes that come within CLEAR of each other: (edges of a, edges of b)."""
    one, other = a.boxes[:, None, :], b.boxes[None, :, :]
    gap = np.maximum(one[:, :, :2] - other[:, :, 2:], other[:, :, :2] - one[:, :, 2:])
    return np.asarray((gap <= CLEAR).all(axis=2))


def subtract(a: Region, others: Iterable[Region]) -> Region:
    """What lies in ``a`` and in none of the others."""
    present = [r for r in others if r and a and boxes_meet(a.bounds, r.bounds)]
    if not a or not present:
        return a
    return _overlay([a, *present], lambda found: found[0] & ~np.logical_or.reduce(found[1:]))


def near(region: Region, other: Region, gap: float) -> Region:
    """The region without loops that do not matter within ``gap`` of ``other``: for cutting one from the other.

    A loop matters when the boxes come within the gap; a hole only when one has a point in or near the other.
    """
    if not region or not other:
        return NOWHERE
    close = [one for one in region.alone if boxes_meet(one.bounds, other.bounds, gap + NEAR)]
    holes = [one for one in close if one.area <= 0]
    inside = dict(zip(map(id, holes), _reach_into(other, holes), strict=True))
    kept = (one for one in close if one.area > 0 or inside[id(one)] or _comes_near(one, other, gap + NEAR))
    return Region(tuple(one.loops[0] for one in kept))


def _reach_into(other: Region, loops: Sequence[Region]) -> list[bool]:
    """Which of the loops have a point in another region: of a plate's hundreds of holes all are asked at once."""
    if not loops:
        return []
    points = np.concatenate([one.points for one in loops])
    near = _is_beside(points, other.bounds, NEAR)
    held = np.zeros(len(points), bool)
    held[near] = other.holds(points[near])
    starts = np.cumsum([0, *(len(one.points) for one in loops[:-1])])
    return list(map(bool, np.logical_or.reduceat(held, starts)))


def _comes_near(alone: Region, other: Region, gap: float) -> bool:
    """Whether a hole without a point in another region holds one of that one's, or either comes so near the other."""
    own, points = _beside(alone.points, other.bounds, gap), _beside(other.points, alone.bounds, gap)
    if len(points) and ((alone.table.winding(points) != 0).any() or (alone.table.distance(points) <= gap).any()):
        return True
    return bool(len(own) and (other.table.distance(own) <= gap).any())


def _beside(points: Floats, box: Bounds, gap: float) -> Floats:
    """Those of the points (n, 2) that come within a gap of a box: none of the others lies in what it holds, or so
    near."""
    return np.asarray(points[_is_beside(points, box, gap)])


def _is_beside(points: Floats, box: Bounds, gap: float) -> NDArray[np.bool_]:
    low, high = np.array(box[:2]) - 2 * gap, np.array(box[2:]) + 2 * gap
    return np.asarray(((points >= low) & (points <= high)).all(axis=1))


def boxes_meet(a: Bounds, b: Bounds, gap: float = 0.0) -> bool:
    """True when two bounding boxes overlap or come within ``gap``."""
    return a[0] <= b[2] + gap and b[0] <= a[2] + gap and a[1] <= b[3] + gap and b[1] <= a[3] + gap


def components(region: Region) -> tuple[Region, ...]:
    """The connected parts, each with its own holes, in the order of their outer loops."""
    areas = [area_under(loop) for loop in region.loops]
    outer = [loop for loop, area in zip(region.loops, areas, strict=True) if area > 0]
    holes = [loop for loop, area in zip(region.loops, areas, strict=True) if area <= 0]
    mine: list[list[Loop]] = [[] for _ in outer]
    for hole, owner in zip(holes, _owners(holes, outer), strict=True):
        if owner is not None:
            mine[owner].append(hole)
    return tuple(Region((loop, *own)) for loop, own in zip(outer, mine, strict=True))


def _owners(holes: Sequence[Loop], outer: Sequence[Loop]) -> list[int | None]:
    """For each hole the number of the smallest outer loop round it; None where none is."""
    if not holes or not outer:
        return [None] * len(holes)
    middles = np.array([point_at(hole[0], 0.5) for hole in holes])
    around = np.array([Region((loop,)).holds(middles) for loop in outer])
    smallest = np.argmin(np.where(around, np.array([[area_under(loop)] for loop in outer]), np.inf), axis=0)
    return [int(n) if around[n, k] else None for k, n in enumerate(smallest)]


def filled(region: Region) -> Region:
    """The region without its holes."""
    return union(Region((loop,)) for loop in region.loops if area_under(loop) > 0)


def grow(region: Region, amount: float) -> Region:
    """The region grown (or, with a negative amount, shrunk) by a disc of that radius."""
    if not region or amount == 0.0:
        return region
    raw = _offset_edges(region, amount)
    loops = trace(tuple(map(Known, raw)), lambda points: region.signed_distance(points) >= -amount)
    return Region(loops)


def _offset_edges(region: Region, amount: float) -> list[Edge]:
    """Every edge shifted square to itself, and an arc about every corner that opens."""
    found: list[Edge] = []
    for loop in region.loops:
        for before, edge in zip((loop[-1], *loop[:-1]), loop, strict=True):
            found += _corner(before, edge, amount)
            found += _shifted(edge, amount)
    return found


def _shifted(edge: Edge, amount: float) -> list[Edge]:
    """The edge moved to its right by ``amount``; an arc that shrinks to nothing is gone."""
    if edge.centre is None:
        ux, uy = tangent_at(edge, 0.0)
        dx, dy = uy * amount, -ux * amount
        return [line((edge.a[0] + dx, edge.a[1] + dy), (edge.b[0] + dx, edge.b[1] + dy))]
    radius = edge.radius + math.copysign(amount, edge.sweep * amount)
    if radius < SMALLEST_ARC:
        return []
    start = angle_of(edge.centre, edge.a)
    ends = polar(edge.centre, radius, start), polar(edge.centre, radius, start + edge.sweep)
    return [Edge(*ends, edge.centre, radius, edge.sweep)]


def _corner(before: Edge, after: Edge, amount: float) -> list[Edge]:
    (ax, ay), (bx, by) = tangent_at(before, 1.0), tangent_at(after, 0.0)
    turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    if math.pi - abs(turn) < CUSP and turn * amount < 0:  # a spike's sides touch: rounding alone tells which way
        turn += math.copysign(math.tau, amount)
    if turn * amount <= 1e-9 * abs(amount):
        return []
    quarter = -math.pi / 2 if amount > 0 else math.pi / 2
    return list(arcs(after.a, abs(amount), math.atan2(ay, ax) + quarter, turn))


def _opened(region: Region, radius: float) -> Region | None:
    """Shrunk and grown again; None where a neck of just that width is left as a line, whose border is no loop."""
    try:
        return grow(grow(region, -radius), radius)
    except KernelError:
        return None


def open_by_disc(region: Region, radius: float) -> Region:
    """What a disc can cover while it stays inside the region.

    A disc as wide as a slot within LENGTH enters it, and one whose radius is a corner's sweeps that corner: there
    the radius is taken smaller by OPENING_SLACK, or OPENING_LEAST. Slivers of such a difference would be no metal.
    """
    if not region or radius <= OPENING_SLACK:
        return region
    eased = grow(grow(region, OPENING_SLACK - radius), radius - OPENING_SLACK)
    if region.area - eased.area <= 1e-12 * region.area:
        return region
    by_slack = 4.0 * OPENING_SLACK * radius * len(region.edges)
    for slack in (0.0, OPENING_LEAST):
        found = _opened(region, radius - slack)
        if found is not None and eased.area - found.area <= by_slack:
            return found
    return eased
