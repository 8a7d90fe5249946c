"""Triangles of plane faces with many holes, from their outlines: cut in halves until few are left, then joined up.

The kernel's triangulators take a time that grows with the square of the number of holes, and so does the library's own
way from hole to hole (manifold3d, loaded only then); halves keep both from it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, add, any_frame, cross, dot, norm, scale, sub
from worker.kernel.graph_mesh import Corners
from worker.kernel.graph_simple import steps
from worker.kernel.graph_surface import Surface, crossed

MANY, FEW = 100, 40
"""Edges from which on a plane is looked at, and loops that are triangulated at once."""
CONCENTRIC, CLOSE = 1e-6, 1e-9
"""Circles are about one point within this (mm); triangles fill a ring when their areas agree so far."""
OVER = 1.0
"""Halves are cut out by rectangles that reach so far over them (mm)."""
Array = NDArray[np.float64]
Side = tuple[str, int, int, tuple[Vec3, ...]]
"""Kind of an edge's curve, numbers of its end vertices in the direction of the face, and points along it."""


def plate_triangles(surface: Surface, sides: Sequence[Side]) -> Corners | None:
    """A plane face within many straight edges and arcs, outward; None for any other."""
    if len(sides) < MANY or any(kind == "other" for kind, *_ in sides):
        return None
    frame = any_frame(surface.origin, surface.axis)
    axes = np.array([frame.x, frame.y])
    loops = _loops(sides)
    if loops is None:
        return None
    flat = _joined([(loop - np.array(surface.origin)) @ axes.T for loop in loops])
    return np.asarray(flat @ axes + np.array(surface.origin))


def ring_triangles(sides: Sequence[Side], normal: Vec3) -> Corners | None:
    """A plane face within one whole circle, or between two about one point, outward; None for any other."""
    if len(sides) not in (1, 2) or any(kind != "circle" or start != end for kind, start, end, _ in sides):
        return None
    loops = sorted((_chords(points, True) for *_, points in sides), key=lambda loop: -float(np.ptp(loop, axis=0).max()))
    outer, inner = loops[0], loops[-1][::-1]
    count, middle, axis = len(outer), outer.mean(axis=0), np.array(normal)
    if len(loops) == 1:
        corners = outer[[(0, k, k + 1) for k in range(1, count - 1)]]
    elif np.abs(inner.mean(axis=0) - middle).max() > CONCENTRIC:
        return None
    else:
        corners = _between(outer, inner, middle, axis)
    wanted = _area(outer, middle, axis) - (_area(inner, middle, axis) if len(loops) == 2 else 0.0)
    areas = crossed(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) @ axis
    return corners if areas.min() > 0 and abs(float(areas.sum()) - wanted) < CLOSE * wanted else None


def _area(loop: Array, middle: Array, axis: Array) -> float:
    """Twice the area within a loop."""
    return float((crossed(loop - middle, np.roll(loop, -1, axis=0) - middle) @ axis).sum())


def _between(outer: Array, inner: Array, middle: Array, axis: Array) -> Array:
    """Triangles between two regular outlines about one point: each edge with the corner of the other that is nearest.

    Both run counter-clockwise; the edges take turns by the angles of their middles.
    """
    sizes = len(outer), len(inner)
    x, start = outer[0] - middle, inner[0] - middle
    first = math.atan2(float(crossed(x[None], start[None])[0] @ axis), float(x @ start))
    shift = round(first / math.tau * sizes[1])
    inner, first = np.roll(inner, shift, axis=0), first - shift * math.tau / sizes[1]
    turns = [(np.arange(n) + 0.5) * (math.tau / n) + zero for n, zero in zip(sizes, (0.0, first), strict=True)]
    facing = np.searchsorted(turns[1], turns[0], side="left") % sizes[1]
    over = np.searchsorted(turns[0], turns[1], side="right") % sizes[0]
    outward = np.stack([outer, np.roll(outer, -1, axis=0), inner[facing]], axis=1)
    return np.concatenate([outward, np.stack([np.roll(inner, -1, axis=0), inner, outer[over]], axis=1)])


def _loops(sides: Sequence[Side]) -> list[Array] | None:
    """The closed outlines, as points; None where outlines touch or stay open."""
    after = {start: (end, points) for _, start, end, points in sides}
    kinds = {start: kind for kind, start, _, _ in sides}
    if len(after) < len(sides):
        return None
    found: list[Array] = []
    while after:
        first = vertex = next(iter(after))
        pieces: list[Array] = []
        while vertex in after:
            kind, (end, points) = kinds[vertex], after.pop(vertex)
            pieces.append(np.array(points[:-1]) if kind == "line" else _chords(points, vertex == end))
            vertex = end
        if vertex != first:
            return None
        found.append(np.concatenate(pieces))
    return found


def _chords(points: tuple[Vec3, ...], whole: bool) -> Array:
    """Points along an arc as far apart as on the round faces that it bounds, without the last."""
    a, b, c = (points[k * len(points) // 3] for k in (0, 1, 2))
    u, v = sub(b, a), sub(c, a)
    normal = cross(u, v)
    size = dot(normal, normal)
    if size < 1e-20:
        return np.array(points[:-1])
    x = scale(add(scale(cross(normal, u), dot(v, v)), cross(v, normal), dot(u, u)), -0.5 / size)
    y = cross(scale(normal, 1.0 / math.sqrt(size)), x)
    centre = sub(a, x)
    rest = sub(points[-1], centre)
    span = math.tau if whole else math.atan2(dot(rest, y), dot(rest, x)) % math.tau
    count = steps(span, norm(x))
    angles = np.arange(count)[:, None] * (span / count)
    return np.asarray(np.array(centre) + np.cos(angles) * np.array(x) + np.sin(angles) * np.array(y))


def _joined(loops: list[Array]) -> Array:
    """Triangles (n, 3, 2) of what loops bound, the outer ones counter-clockwise, the inner ones clockwise."""
    from manifold3d import triangulate

    if len(loops) <= FEW:
        return np.asarray(np.concatenate(loops)[np.asarray(triangulate(loops))])
    boxes = np.array([(loop.min(axis=0), loop.max(axis=0)) for loop in loops])
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    along = int(np.argmax(high - low))
    place = float(np.median(boxes[:, :, along].mean(axis=1)))
    first, second = boxes[:, 1, along] < place, boxes[:, 0, along] > place
    met = [loop for loop, a, b in zip(loops, first, second, strict=True) if not a and not b]
    found = []
    for whole, (start, end) in ((first, (low[along] - OVER, place)), (second, (place, high[along] + OVER))):
        corners = np.array([low - OVER, high + OVER])
        corners[:, along] = start, end
        inside = [loop for loop, is_whole in zip(loops, whole, strict=True) if is_whole]
        found.append(_joined([*_within(met, corners), *inside]))
    return np.concatenate(found)


def _within(loops: list[Array], corners: Array) -> list[Array]:
    """What loops bound inside a rectangle, as loops."""
    from manifold3d import CrossSection, FillRule

    (x, y), (u, v) = corners.tolist()
    rectangle = CrossSection([np.array([(x, y), (u, y), (u, v), (x, v)])])
    cut = CrossSection(loops, FillRule.Positive) ^ rectangle
    return [np.asarray(loop, dtype=np.float64) for loop in cut.to_polygons()]
