"""Convex outline of what a stock stands on, and how far a point lies outside it (setup's X and Y, mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence

Point2 = tuple[float, float]


def hull(points: Sequence[Point2]) -> tuple[Point2, ...]:
    """Convex outline, counter-clockwise (Andrew's monotone chain)."""
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return tuple(ordered)
    lower, upper = _chain(ordered), _chain(ordered[::-1])
    return (*lower[:-1], *upper[:-1])


def _chain(points: Sequence[Point2]) -> list[Point2]:
    found: list[Point2] = []
    for point in points:
        while len(found) > 1 and _turn(found[-2], found[-1], point) <= 0:
            found.pop()
        found.append(point)
    return found


def _turn(a: Point2, b: Point2, c: Point2) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def outside(outline: Sequence[Point2], point: Point2) -> float:
    """Distance of a point from a convex outline, 0 inside."""
    pairs = list(zip(outline, [*outline[1:], *outline[:1]], strict=True))
    if len(outline) > 2 and all(_turn(a, b, point) >= 0 for a, b in pairs):
        return 0.0
    return min(_to_segment(a, b, point) for a, b in pairs)


def _to_segment(a: Point2, b: Point2, p: Point2) -> float:
    u = (b[0] - a[0], b[1] - a[1])
    size = u[0] ** 2 + u[1] ** 2
    t = 0.0 if size == 0 else max(0.0, min(1.0, ((p[0] - a[0]) * u[0] + (p[1] - a[1]) * u[1]) / size))
    return math.hypot(p[0] - a[0] - t * u[0], p[1] - a[1] - t * u[1])


def extent(outline: Sequence[Point2]) -> float:
    """The greater side of the outline's bounding box."""
    return max(max(p[i] for p in outline) - min(p[i] for p in outline) for i in (0, 1))
