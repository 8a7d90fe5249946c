"""Lines and arcs in the plane: points on them, where they meet, how far points are from many of them (mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Point2 = tuple[float, float]
Floats = NDArray[np.float64]
HALF_TURN = math.pi * (1 + 1e-9)
MANY = 2**18
"""Pairs of points and edges from which on points are held to the edges near them alone."""
SQUARES = 16
SURELY = 1 + 1e-9
AT_ONCE = 128
"""Points whose windings are counted at once: few share a height, many share the cost of a call."""


@dataclass(frozen=True, slots=True)
class Edge:
    """A straight line (``centre`` None) or an arc of at most half a turn from ``a`` to ``b``.

    ``sweep`` is the signed angle of the arc in radians, counter-clockwise positive.
    """

    a: Point2
    b: Point2
    centre: Point2 | None = None
    radius: float = 0.0
    sweep: float = 0.0


def line(a: Point2, b: Point2) -> Edge:
    """The straight edge between two points."""
    return Edge(a, b)


def arcs(centre: Point2, radius: float, start: float, sweep: float) -> tuple[Edge, ...]:
    """The arc from angle ``start`` over ``sweep`` (radians, signed), in pieces of at most half a turn."""
    count = max(1, math.ceil(abs(sweep) / HALF_TURN))
    angles = [start + sweep * i / count for i in range(count + 1)]
    points = [polar(centre, radius, angle) for angle in angles]
    if abs(abs(sweep) - math.tau) < 1e-12:
        points[-1] = points[0]
    return tuple(Edge(points[i], points[i + 1], centre, radius, sweep / count) for i in range(count))


def polar(centre: Point2, radius: float, angle: float) -> Point2:
    """The point at an angle (radians) and distance from a centre; quarter turns are exact."""
    c, s = math.cos(angle), math.sin(angle)
    whole_c, whole_s = round(c), round(s)
    c = whole_c if abs(c - whole_c) < 1e-15 else c
    s = whole_s if abs(s - whole_s) < 1e-15 else s
    return (centre[0] + radius * c, centre[1] + radius * s)


def angle_of(centre: Point2, point: Point2) -> float:
    """Direction from centre to point, radians."""
    return math.atan2(point[1] - centre[1], point[0] - centre[0])


def distance(p: Point2, q: Point2) -> float:
    """Distance of two points."""
    return math.hypot(p[0] - q[0], p[1] - q[1])


def length(edge: Edge) -> float:
    """Length of an edge."""
    return abs(edge.sweep) * edge.radius if edge.centre else distance(edge.a, edge.b)


def reverse(edge: Edge) -> Edge:
    """The edge walked the other way."""
    return Edge(edge.b, edge.a, edge.centre, edge.radius, -edge.sweep)


def point_at(edge: Edge, t: float) -> Point2:
    """The point at the fraction ``t`` of the edge."""
    if edge.centre is None:
        return (edge.a[0] + t * (edge.b[0] - edge.a[0]), edge.a[1] + t * (edge.b[1] - edge.a[1]))
    return polar(edge.centre, edge.radius, angle_of(edge.centre, edge.a) + t * edge.sweep)


def tangent_at(edge: Edge, t: float) -> Point2:
    """Unit tangent at the fraction ``t``."""
    if edge.centre is None:
        size = distance(edge.a, edge.b)
        return ((edge.b[0] - edge.a[0]) / size, (edge.b[1] - edge.a[1]) / size)
    angle = angle_of(edge.centre, edge.a) + t * edge.sweep + math.copysign(math.pi / 2, edge.sweep)
    return polar((0.0, 0.0), 1.0, angle)


def middle_of(edge: Edge) -> tuple[float, float, float, float]:
    """The point half way along the edge and the unit tangent there: x, y, and the tangent's x, y."""
    if edge.centre is None:
        return (*point_at(edge, 0.5), *tangent_at(edge, 0.5))
    angle = angle_of(edge.centre, edge.a) + 0.5 * edge.sweep
    along = polar((0.0, 0.0), 1.0, angle + math.copysign(math.pi / 2, edge.sweep))
    return (*polar(edge.centre, edge.radius, angle), *along)


def piece(edge: Edge, t0: float, t1: float, a: Point2, b: Point2) -> Edge:
    """The edge between two fractions, with its ends put at given points."""
    return Edge(a, b, edge.centre, edge.radius, edge.sweep * (t1 - t0))


def bounds(edge: Edge) -> tuple[float, float, float, float]:
    """xmin, ymin, xmax, ymax."""
    (ax, ay), (bx, by) = edge.a, edge.b
    if edge.centre is None:
        return (min(ax, bx), min(ay, by), max(ax, bx), max(ay, by))
    points = [edge.a, edge.b, *(polar(edge.centre, edge.radius, i * math.pi / 2) for i in _quarters(edge))]
    xs, ys = zip(*points, strict=True)
    return (min(xs), min(ys), max(xs), max(ys))


def _quarters(edge: Edge) -> range:
    assert edge.centre is not None
    start = angle_of(edge.centre, edge.a)
    low, high = sorted((start, start + edge.sweep))
    return range(math.ceil(low / (math.pi / 2)), math.floor(high / (math.pi / 2)) + 1)


def area_under(edges: Sequence[Edge]) -> float:
    """Signed area inside closed loops of edges, counter-clockwise positive."""
    total = 0.0
    for e in edges:
        total += (e.a[0] * e.b[1] - e.b[0] * e.a[1]) / 2
        total += e.radius**2 * (e.sweep - math.sin(e.sweep)) / 2
    return total


class EdgeTable:
    """Many edges as arrays: winding numbers and distances for many points at once."""

    def __init__(self, edges: Sequence[Edge]) -> None:
        straight = [e for e in edges if e.centre is None]
        bent = [e for e in edges if e.centre is not None]
        self._straight = np.array([(*e.a, *e.b) for e in straight]).reshape(-1, 4)
        self._bent = np.array([(*(e.centre or e.a), e.radius, *_span(e)) for e in bent]).reshape(-1, 5)
        self._ends = np.array([p for e in bent for p in (e.a, e.b)]).reshape(-1, 2)
        self.monotone = np.array([m for e in edges for m in monotone(e)]).reshape(-1, 8)

    def winding(self, points: Floats) -> NDArray[np.int64]:
        """How often the edges go round each point (crossings of the ray towards +x)."""
        if len(points) * len(self.monotone) > MANY:
            return windings((self,), points)[:, 0]
        return np.asarray(_passed(self.monotone, points) @ self.monotone[:, 2], dtype=np.int64)

    def distance(self, points: Floats) -> Floats:
        """Distance of each point from the nearest edge."""
        count = len(self._straight) + len(self._bent)
        if len(points) * count <= MANY:
            return self._among(points, *self._every)
        found = np.empty(len(points))
        for some in _in_squares(points):
            found[some] = self._among(points[some], *self._near(points[some]))
        return found

    @cached_property
    def _every(self) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        return np.ones(len(self._straight), bool), np.ones(len(self._bent), bool)

    def _near(self, points: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """The edges of which one may be the nearest of some point: none of the others comes as near the points' box as
        one of them surely does, whatever the place in it."""
        low, high = points.min(axis=0), points.max(axis=0)
        boxes = (
            (
                np.minimum(self._straight[:, :2], self._straight[:, 2:]),
                np.maximum(self._straight[:, :2], self._straight[:, 2:]),
            ),
            (self._bent[:, :2] - self._bent[:, 2:3], self._bent[:, :2] + self._bent[:, 2:3]),
        )
        least = [np.hypot(*np.maximum(np.maximum(a - high, low - b), 0.0).T) for a, b in boxes]
        most = [np.hypot(*np.maximum(high - a, b - low).T) for a, b in boxes]
        sure = min(each.min(initial=math.inf) for each in most) * SURELY
        return least[0] <= sure, least[1] <= sure

    def _among(self, points: Floats, straight: NDArray[np.bool_], bent: NDArray[np.bool_]) -> Floats:
        x, y = points[:, 0:1], points[:, 1:2]
        ends = self._ends[np.repeat(bent, 2)]
        parts = [
            self._from_straight(x, y, straight),
            self._from_bent(x, y, bent),
            _sized(x - ends[:, 0], y - ends[:, 1]),
        ]
        return np.asarray(np.min(np.concatenate(parts, axis=1), axis=1))

    def _from_straight(self, x: Floats, y: Floats, among: NDArray[np.bool_]) -> Floats:
        ax, ay, bx, by = self._straight[among].T
        dx, dy, rx, ry = bx - ax, by - ay, x - ax, y - ay
        t = np.clip((rx * dx + ry * dy) / (dx * dx + dy * dy), 0.0, 1.0)
        return _sized(rx - t * dx, ry - t * dy)

    def _from_bent(self, x: Floats, y: Floats, among: NDArray[np.bool_]) -> Floats:
        cx, cy, radius, start, size = self._bent[among].T
        rx, ry = x - cx, y - cy
        within = (np.arctan2(ry, rx) - start) % math.tau <= size
        return np.where(within, np.abs(_sized(rx, ry) - radius), np.inf)


def _in_squares(points: Floats) -> list[NDArray[np.intp]]:
    """The numbers of points by the squares that they lie in, SQUARES of them along the longer side of all."""
    low = points.min(axis=0)
    size = max(float((points.max(axis=0) - low).max()) / SQUARES, 1e-9)
    cells = np.floor((points - low) / size).astype(np.int64)
    keys = cells[:, 0] * (SQUARES + 1) + cells[:, 1]
    order = np.argsort(keys, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(keys[order])) + 1)


def _sized(x: Floats, y: Floats) -> Floats:
    return np.asarray(np.sqrt(x * x + y * y))


def windings(tables: Sequence[EdgeTable], points: Floats) -> NDArray[np.int64]:
    """How often each table's edges go round each point: (points, tables).

    Points of about one height at a time, and only what reaches that height: all at once fills gigabytes where a stock
    is thousands of flats.
    """
    pieces = np.concatenate([table.monotone for table in tables])
    owner = np.repeat(np.arange(len(tables)), [len(table.monotone) for table in tables])
    found = np.zeros((len(points), len(tables)), np.int64)
    order = np.argsort(points[:, 1], kind="stable")
    for some in (order[i : i + AT_ONCE] for i in range(0, len(order), AT_ONCE)):
        near = (pieces[:, 0] <= points[some[-1], 1]) & (pieces[:, 1] > points[some[0], 1])
        if near.any():
            whose, first = np.unique(owner[near], return_index=True)
            turns = _passed(pieces[near], points[some]) * pieces[near, 2]
            found[np.ix_(some, whose)] = np.add.reduceat(turns, first, axis=1).astype(np.int64)
    return found


def _passed(pieces: Floats, points: Floats) -> NDArray[np.bool_]:
    """Which pieces of :func:`monotone` (m, 8) the ray from each point towards +x meets: (points, m)."""
    low, high, _, x0, slope, centre, radius, side = pieces.T
    x, y = points[:, 0:1], points[:, 1:2]
    bow = np.sqrt(np.maximum(radius**2 - (y - centre) ** 2, 0.0))
    return np.asarray((low <= y) & (y < high) & (x0 + slope * (y - low) + side * bow > x))


def _span(edge: Edge) -> tuple[float, float]:
    """Smallest angle and size of an arc, counter-clockwise."""
    assert edge.centre is not None
    return (angle_of(edge.centre, edge.a if edge.sweep > 0 else edge.b), abs(edge.sweep))


def monotone(edge: Edge) -> list[tuple[float, ...]]:
    """Pieces of the edge on which y only rises or only falls: low, high, turn, x0, slope, centre y, radius, side."""
    if edge.centre is None:
        (ax, ay), (bx, by) = (edge.a, edge.b) if edge.a[1] <= edge.b[1] else (edge.b, edge.a)
        if ay == by:
            return []
        return [(ay, by, 1.0 if edge.a[1] < edge.b[1] else -1.0, ax, (bx - ax) / (by - ay), 0.0, 0.0, 0.0)]
    return _monotone_arc(edge, edge.centre)


def _monotone_arc(edge: Edge, centre: Point2) -> list[tuple[float, ...]]:
    start = angle_of(centre, edge.a)
    low, high = sorted((start, start + edge.sweep))
    first = math.ceil((low - math.pi / 2) / math.pi)
    tops = [math.pi / 2 + k * math.pi for k in range(first, first + 3) if low < math.pi / 2 + k * math.pi < high]
    angles = [start, *(tops if edge.sweep > 0 else tops[::-1]), start + edge.sweep]
    heights = [edge.a[1], *(centre[1] + edge.radius * round(math.sin(t)) for t in angles[1:-1]), edge.b[1]]
    found: list[tuple[float, ...]] = []
    for i in range(len(angles) - 1):
        side = 1.0 if math.cos((angles[i] + angles[i + 1]) / 2) > 0 else -1.0
        y0, y1 = heights[i], heights[i + 1]
        if y0 != y1:
            turn = 1.0 if y1 > y0 else -1.0
            found.append((min(y0, y1), max(y0, y1), turn, centre[0], 0.0, centre[1], edge.radius, side))
    return found
