"""From where a straight tool sees a feature: exact for plane and cylindrical walls, on triangles elsewhere.

A direction (from the feature to the spindle) is free when no face of the feature turns away from it and no part
of the body stands in the way. What stands in the way meets the line of sight with a face that looks away from
the spindle; so only such triangles are projected along the direction and clipped against the feature's own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, cross, dot, norm, scale, unit
from worker.recognise.patches import PartShape

Array = NDArray[np.float64]

WALL = 2e-4
"""A plane is a wall of a direction when its normal is square to it within this (sine of the angle)."""
CURVED = 0.02
"""The same for triangles of curved faces, which lie up to one chord off."""
MARGIN = 0.03
"""Overlaps thinner than this (mm) are the chords of two meshes, not metal in the way."""


@dataclass(eq=False)
class Sight:
    """Lines of sight of one part; remembers the projections along directions it was asked for."""

    shape: PartShape
    views: dict[Vec3, _View] = field(default_factory=dict)
    answers: dict[tuple[Vec3, tuple[int, ...]], bool] = field(default_factory=dict)
    seen: list[Vec3] = field(default_factory=list)

    def sees(self, patches: tuple[int, ...], direction: Vec3) -> bool:
        """True when a straight tool coming from ``direction`` sees all of the patches."""
        return all(self._sees_one(p, direction) for p in patches)

    def faces_it(self, patch: int, direction: Vec3) -> bool:
        """True when no spot of the patch turns away from the direction."""
        found = self.shape.patches[patch]
        if found.surface.kind == "plane":
            return dot(found.surface.axis, direction) > -WALL
        if found.surface.kind == "cylinder" and norm(cross(found.surface.axis, direction)) < WALL:
            return True
        facing = self.view(direction).facing[self.shape.owner == patch]
        return bool(len(facing) == 0 or facing.min() > -CURVED)

    def _sees_one(self, patch: int, direction: Vec3) -> bool:
        key = (direction, (patch,))
        if key not in self.answers:
            self.answers[key] = self.faces_it(patch, direction) and not self._covered(patch, direction)
        return self.answers[key]

    def known(self, direction: Vec3) -> Vec3:
        """The direction, or the equal one (1e-5) that was asked for before."""
        wanted = tidy(direction)
        for old in self.seen:
            if abs(old[0] - wanted[0]) + abs(old[1] - wanted[1]) + abs(old[2] - wanted[2]) < 3e-5:
                return old
        self.seen.append(wanted)
        return wanted

    def distinct(self, directions: Iterable[Vec3]) -> tuple[Vec3, ...]:
        """The different ones among some directions, in order of first use."""
        return tuple(dict.fromkeys(self.known(d) for d in directions))

    def view(self, direction: Vec3) -> _View:
        """The projection of the part along a direction."""
        if direction not in self.views:
            self.views[direction] = _view(self.shape, direction)
        return self.views[direction]

    def _covered(self, patch: int, direction: Vec3) -> bool:
        view = self.view(direction)
        return any(_triangle_covered(view, int(i)) for i in np.flatnonzero(self.shape.owner == patch))


@dataclass(eq=False)
class _View:
    """Triangles in the plane square to a direction: (n, 3, 2) corners, heights (n, 3), and the covering ones."""

    flat: Array
    heights: Array
    facing: Array
    outward: Array
    low: Array
    high: Array
    cover: NDArray[np.int64]


def _basis(direction: Vec3) -> tuple[Vec3, Vec3]:
    ref = min(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), key=lambda c: abs(dot(c, direction)))
    x = unit(cross(ref, direction))
    return x, cross(direction, x)


def _view(shape: PartShape, direction: Vec3) -> _View:
    x, y = _basis(direction)
    frame = np.array([x, y])
    flat = shape.corners @ frame.T
    heights = shape.corners @ np.array(direction)
    facing = shape.normals @ np.array(direction)
    cover = np.flatnonzero(facing < -CURVED)
    return _View(flat, heights, facing, shape.normals @ frame.T, flat.min(axis=1), flat.max(axis=1), cover)


def _triangle_covered(view: _View, index: int) -> bool:
    corners, heights = view.flat[index], view.heights[index]
    wall = abs(view.facing[index]) < CURVED
    if wall:
        corners = corners + MARGIN * view.outward[index]
    low, high = corners.min(axis=0), corners.max(axis=0)
    cover = view.cover
    slack = -1e-9 if wall else MARGIN
    near = (view.low[cover] < high - slack).all(axis=1) & (view.high[cover] > low + slack).all(axis=1)
    near &= view.heights[cover].max(axis=1) > heights.min() + MARGIN
    for other in cover[near]:
        test = _covers_segment if wall else _covers_area
        if test(corners, heights, view.flat[other], view.heights[other]):
            return True
    return False


def _covers_area(corners: Array, heights: Array, other: Array, other_heights: Array) -> bool:
    polygon = clip_polygon(corners.tolist(), other.tolist())
    if len(polygon) < 3 or thickness(polygon) < MARGIN:
        return False
    middle = np.mean(polygon, axis=0)
    return _height(other, other_heights, middle) > _height(corners, heights, middle) + MARGIN


def _covers_segment(corners: Array, heights: Array, other: Array, other_heights: Array) -> bool:
    """Whether a triangle covers a wall that is seen as a line."""
    along = corners[[1, 2, 0]] - corners
    longest = along[int((along**2).sum(axis=1).argmax())]
    length = float(np.hypot(*longest))
    if length < 1e-9:
        return False
    line = longest / length
    places = (corners - corners[0]) @ line
    start, end = _clip_line(corners[0] + places.min() * line, line, float(np.ptp(places)), other)
    if end - start < MARGIN:
        return False
    middle = places.min() + 0.5 * (start + end)
    spot = corners[0] + middle * line
    return _height(other, other_heights, spot) > _lowest(places, heights, middle) + MARGIN


def _lowest(places: Array, heights: Array, at: float) -> float:
    """Lowest height of a triangle seen edge-on, at a place along its line."""
    found = []
    for i in range(3):
        a, b = places[i], places[(i + 1) % 3]
        if min(a, b) - 1e-9 <= at <= max(a, b) + 1e-9 and abs(b - a) > 1e-9:
            share = (at - a) / (b - a)
            found.append(heights[i] + share * (heights[(i + 1) % 3] - heights[i]))
    return float(min(found, default=heights.min()))


def _clip_line(start: Array, line: Array, length: float, triangle: Array) -> tuple[float, float]:
    area = _cross2(triangle[1] - triangle[0], triangle[2] - triangle[0])
    sign = 1.0 if area > 0 else -1.0
    low, high = 0.0, length
    for i in range(3):
        side = triangle[(i + 1) % 3] - triangle[i]
        rate = sign * _cross2(side, line)
        value = sign * _cross2(side, start - triangle[i])
        if abs(rate) < 1e-12:
            if value < 0:
                return 0.0, 0.0
        elif rate > 0:
            low = max(low, -value / rate)
        else:
            high = min(high, -value / rate)
    return (low, high) if high > low else (0.0, 0.0)


def _cross2(a: Array, b: Array) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _height(corners: Array, heights: Array, at: Array) -> float:
    """Height of a triangle's plane over a place."""
    rows = np.column_stack([corners, np.ones(3)])
    try:
        a, b, c = np.linalg.solve(rows, heights)
    except np.linalg.LinAlgError:
        return float(heights.max())
    return float(a * at[0] + b * at[1] + c)


Polygon = list[list[float]]


def clip_polygon(subject: Polygon, clip: Polygon) -> Polygon:
    """The part of a convex polygon inside another (either way round)."""
    turn = sum(
        clip[i][0] * clip[(i + 1) % len(clip)][1] - clip[(i + 1) % len(clip)][0] * clip[i][1] for i in range(len(clip))
    )
    if turn < 0:
        clip = clip[::-1]
    result = subject
    for i in range(len(clip)):
        a, b = clip[i], clip[(i + 1) % len(clip)]
        result = _clip_half(result, a, b)
        if not result:
            break
    return result


def _clip_half(polygon: Polygon, a: list[float], b: list[float]) -> Polygon:
    dx, dy = b[0] - a[0], b[1] - a[1]
    sides = [dx * (p[1] - a[1]) - dy * (p[0] - a[0]) for p in polygon]
    result: Polygon = []
    for i, p in enumerate(polygon):
        q, sp, sq = polygon[i - 1], sides[i], sides[i - 1]
        if (sp >= 0) != (sq >= 0):
            t = sq / (sq - sp)
            result.append([q[0] + t * (p[0] - q[0]), q[1] + t * (p[1] - q[1])])
        if sp >= 0:
            result.append(p)
    return result


def thickness(polygon: Polygon) -> float:
    """Mean thickness of a small polygon: twice its area over half its outline (mm)."""
    area = outline = 0.0
    for i, p in enumerate(polygon):
        q = polygon[i - 1]
        area += q[0] * p[1] - p[0] * q[1]
        outline += float(np.hypot(p[0] - q[0], p[1] - q[1]))
    return 2 * abs(area) / outline if outline > 1e-12 else 0.0


def tidy(direction: Vec3) -> Vec3:
    """A unit direction rounded so that equal ones compare equal (1e-9), exact along the axes."""
    u = unit(direction)
    rounded = tuple(round(c, 9) + 0.0 for c in u)
    snapped = tuple(float(round(c)) + 0.0 if abs(c - round(c)) < 1e-7 else c for c in rounded)
    return (snapped[0], snapped[1], snapped[2])


def opposite(direction: Vec3) -> Vec3:
    """The other way."""
    return tidy(scale(direction, -1.0))
