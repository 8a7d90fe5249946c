"""Exact extents of patches from their boundary lines and arcs (mm)."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

from schemas.base import Vec3, add, any_frame, cross, dot, norm, scale, sub, unit
from schemas.tolerances import SAME_LENGTH, SQUARE
from worker.recognise.bulges import BULGING, bulge_extent
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
    """Least and greatest height of an edge along a direction; exact for lines and arcs, to 1e-4 mm for others."""
    heights = [dot(p, direction) for p in rim.points]
    low, high = min(heights), max(heights)
    if rim.curve == "other":
        return -_crest([-h for h in heights]), _crest(heights)
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
    height = dot(centre, direction)
    if high < height + reach - 1e-9 and _on_arc(rim, centre, normal, scale(flat, 1 / size)):
        high = height + reach
    if low > height - reach + 1e-9 and _on_arc(rim, centre, normal, scale(flat, -1 / size)):
        low = height - reach
    return low, high


def _crest(heights: list[float]) -> float:
    """The highest point of a curve: of the parabola through its highest sample and the ones beside it."""
    at = max(range(len(heights)), key=heights.__getitem__)
    if not 0 < at < len(heights) - 1:
        return heights[at]
    before, top, after = heights[at - 1 : at + 2]
    bend = before - 2 * top + after
    return top - (before - after) ** 2 / (8 * bend) if bend < 0 else top


def _on_arc(rim: Rim, centre: Vec3, normal: Vec3, outward: Vec3) -> bool:
    """True when the point of the full circle that lies outward lies on the arc, which runs from start to end."""
    first = sub(rim.points[0], centre)
    square = cross(normal, first)

    def turn(v: Vec3) -> float:
        return math.atan2(dot(v, square), dot(v, first)) % (2 * math.pi)

    # The normal comes from three points in their order, so the arc runs the positive way round it.
    end = turn(sub(rim.points[-1], centre))
    return turn(outward) <= (end if rim.points[0] != rim.points[-1] and end > 1e-9 else 2 * math.pi) + 1e-9


def extent(shape: PartShape, patches: Iterable[int], direction: Vec3) -> tuple[float, float]:
    """Least and greatest height of some patches along a direction, from their boundaries and what bulges past them."""
    patches = tuple(patches)
    spans = [rim_extent(rim, direction) for p in patches for rim in shape.patches[p].rims]
    spans += [bulge_extent(shape.patches[p], direction) for p in patches if shape.patches[p].surface.kind in BULGING]
    if not spans:
        spans = [shape.patches[p].span(direction) for p in patches]
    return min(s[0] for s in spans), max(s[1] for s in spans)


def extent_between(
    shape: PartShape, patches: Iterable[int], direction: Vec3, axis: Vec3, span: tuple[float, float]
) -> tuple[float, float]:
    """The same of what lies between two heights along an axis; of patches other than flat walls: of all of them."""
    found: list[tuple[float, float]] = []
    for index in patches:
        surface = shape.patches[index].surface
        upright = surface.kind == "plane" and abs(dot(surface.axis, axis)) < SQUARE
        places = _within(shape.patches[index].rims, axis, span) if upright else []
        heights = [dot(p, direction) for p in places]
        found.append((min(heights), max(heights)) if heights else extent(shape, (index,), direction))
    return min(f[0] for f in found), max(f[1] for f in found)


def _passes(rim: Rim, axis: Vec3, height: float) -> list[Vec3]:
    """Where a boundary passes a height."""
    found: list[Vec3] = []
    for a, b in pairwise(rim.points):
        p, q = dot(a, axis), dot(b, axis)
        if (p < height) != (q < height):
            found.append(add(a, sub(b, a), (height - p) / (q - p)))
    return found


def _within(rims: Iterable[Rim], axis: Vec3, span: tuple[float, float]) -> list[Vec3]:
    """The corners of a boundary between two heights, and where it passes those."""
    low, high = span[0] + SAME_LENGTH, span[1] - SAME_LENGTH  # edges that run at these heights bound what lies beyond
    inside = [p for rim in rims for p in rim.points if low < dot(p, axis) < high]
    return inside + [p for rim in rims for z in (low, high) for p in _passes(rim, axis, z)]


def level_direction(shape: PartShape, patches: Iterable[int], axis: Vec3) -> Vec3:
    """The direction square to an axis in which most straight boundary of some patches runs.

    The sum of lengths counts, so that it does not matter how edges are divided; ``axis``' own frame where none runs.
    """
    lines: list[tuple[Vec3, float]] = []
    for index in patches:
        for rim in shape.patches[index].rims:
            line = sub(rim.points[-1], rim.points[0])
            size = norm(line)
            if rim.curve != "line" or size < 1e-6 or abs(dot(line, axis)) > 1e-3 * size:
                continue
            line = scale(line, 1 / size)
            k = next((i for i, (d, _) in enumerate(lines) if norm(cross(d, line)) < 2e-3), len(lines))
            if k == len(lines):
                lines.append((line, 0.0))
            lines[k] = (lines[k][0], lines[k][1] + size)
    if not lines:
        return any_frame((0.0, 0.0, 0.0), axis).x
    best = _half(max(lines, key=lambda t: (round(t[1], 2), _half(t[0])))[0])
    return unit(add(best, axis, -dot(best, axis)))


def _half(line: Vec3) -> Vec3:
    """Of two opposite directions the one whose first large component is positive; rounded."""
    first = next((c for c in line if abs(c) > 1e-6), 1.0)
    turned = scale(line, 1.0 if first > 0 else -1.0)
    return (round(turned[0], 9), round(turned[1], 9), round(turned[2], 9))
