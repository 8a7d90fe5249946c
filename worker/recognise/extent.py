"""Exact extents of patches from their boundary lines and arcs (mm)."""

from __future__ import annotations

import math
from collections.abc import Iterable

from schemas.base import Vec3, add, cross, dot, norm, scale, sub
from worker.recognise.patches import PartShape, Rim

Circle = tuple[Vec3, Vec3, float]


def circle_of(rim: Rim) -> Circle | None:
    """Centre, normal and radius of an arc through its first, middle and last-but-one points; None when straight."""
    a, b, c = rim.points[0], rim.points[len(rim.points) // 3], rim.points[2 * len(rim.points) // 3]
    u, v = sub(b, a), sub(c, a)
    normal = cross(u, v)
    size = dot(normal, normal)
    if size < 1e-16:
        return None
    offset = scale(add(scale(cross(v, normal), -dot(u, u)), cross(u, normal), dot(v, v)), -1.0 / (2 * size))
    centre = add(a, scale(offset, -1.0))
    if abs(norm(sub(centre, b)) - norm(sub(centre, a))) > 1e-6:
        centre = add(a, offset)
    return centre, scale(normal, 1.0 / math.sqrt(size)), norm(sub(a, centre))


def rim_extent(rim: Rim, direction: Vec3) -> tuple[float, float]:
    """Least and greatest height of an edge along a direction; exact for lines and arcs."""
    heights = [dot(p, direction) for p in rim.points]
    low, high = min(heights), max(heights)
    if rim.curve != "circle":
        return low, high
    circle = circle_of(rim)
    if circle is None:
        return low, high
    centre, normal, radius = circle
    flat = add(direction, normal, -dot(direction, normal))
    size = norm(flat)
    if size < 1e-9:
        return low, high
    reach = radius * size
    for sign in (-1.0, 1.0):
        tip = add(centre, flat, sign * radius / size)
        if _on_arc(rim, centre, tip):
            low, high = (
                min(low, dot(centre, direction) + sign * reach),
                max(high, dot(centre, direction) + sign * reach),
            )
    return low, high


def _on_arc(rim: Rim, centre: Vec3, tip: Vec3) -> bool:
    """True when a point of the full circle lies between two neighbouring points of the arc."""
    for p, q in zip(rim.points, rim.points[1:], strict=False):
        middle = sub(scale(add(p, q), 0.5), centre)
        half = norm(sub(q, p)) / 2
        if dot(sub(tip, centre), middle) > 0 and norm(sub(sub(tip, centre), middle)) <= half + 1e-6:
            return True
    return False


def extent(shape: PartShape, patches: Iterable[int], direction: Vec3) -> tuple[float, float]:
    """Least and greatest height of some patches along a direction, from their boundaries."""
    spans = [rim_extent(rim, direction) for p in patches for rim in shape.patches[p].rims]
    if not spans:
        spans = [shape.patches[p].span(direction) for p in patches]
    return min(s[0] for s in spans), max(s[1] for s in spans)
