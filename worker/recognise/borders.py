"""A patch's boundary as arrays: what it takes to say how far it reaches along any direction."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, add, cross, dot, norm, scale, sub

Array = NDArray[np.float64]
Circle = tuple[Vec3, Vec3, float]
CLOSED = 1e-9
"""An arc whose ends are no farther apart is a whole circle (mm)."""
FLAT = 1e-9
"""Below this sine a circle is square to a direction."""


class Edge(Protocol):
    """What is asked of a boundary edge: the kind of its curve, and points along it."""

    @property
    def curve(self) -> str:
        """Line, circle or other."""

    @property
    def points(self) -> tuple[Vec3, ...]:
        """From start to end."""

    @property
    def cloud(self) -> Array | None:
        """The same as an array (n, 3), where that is known."""


@dataclass(frozen=True, eq=False, slots=True)
class Border:
    """``points`` (n, 3): of straight edges and arcs. Whole circles: ``middles``, ``axes`` (m, 3), ``radii`` (m).

    ``arcs``: points of each arc with its circle; ``free``: points of free-form edges, those of one number (n, k, 3).
    """

    points: Array
    middles: Array
    axes: Array
    radii: Array
    arcs: tuple[tuple[tuple[Vec3, ...], Circle], ...]
    free: tuple[Array, ...]

    def reach(self, direction: Vec3) -> tuple[float, float]:
        """Least and greatest height along a unit direction; of nothing: infinite, inside out."""
        way = np.array(direction)
        low, high = math.inf, -math.inf
        if len(self.points):
            heights = self.points @ way
            low, high = float(heights.min()), float(heights.max())
        if len(self.radii):
            heights, reach = self.middles @ way, self.radii * self._slants(way)
            low, high = min(low, float((heights - reach).min())), max(high, float((heights + reach).max()))
        for points, circle in self.arcs:
            low, high = _with_arc(points, circle, direction, low, high)
        for curves in self.free:
            lows, highs = _spans(curves, way)
            low, high = min(low, float(lows.min())), max(high, float(highs.max()))
        return low, high

    @property
    def free_steps(self) -> int:
        """By how many points all of it is known where it is nothing but free forms; else 0."""
        alone = len(self.free) == 1 and not (len(self.points) or len(self.radii) or self.arcs)
        return self.free[0].shape[1] if alone else 0

    @property
    def circles(self) -> Iterator[tuple[Vec3, Vec3]]:
        """Middle and axis of each whole circle, of those also that close but for rounding."""
        yield from zip(self.middles.tolist(), self.axes.tolist(), strict=True)
        for points, (middle, axis, radius) in self.arcs:
            if math.dist(points[0], points[-1]) < CLOSED < radius < math.dist(points[0], points[len(points) // 2]):
                yield middle, axis

    def _slants(self, way: Array) -> Array:
        """Sine of the angle between a direction and each whole circle's axis; 0 below FLAT.

        From what of the direction lies in the circle's plane: the root of 1 - cos2 would make 1e-4 of an error of 1e-8.
        """
        aside = way - (self.axes @ way)[:, None] * self.axes
        sines = np.sqrt(np.einsum("ij,ij->i", aside, aside))
        return np.where(sines < FLAT, 0.0, sines)


def free_reaches(borders: Sequence[Border], direction: Vec3) -> tuple[Array, Array]:
    """Least and greatest heights (n,) along a unit direction of borders of nothing but free forms, as finely known."""
    curves = np.concatenate([border.free[0] for border in borders])
    starts = np.cumsum([0, *(len(border.free[0]) for border in borders[:-1])])
    lows, highs = _spans(curves, np.array(direction))
    return np.minimum.reduceat(lows, starts), np.maximum.reduceat(highs, starts)


def reaches(borders: Sequence[Border], direction: Vec3) -> Iterator[tuple[float, float]]:
    """What each of some borders reaches; those of nothing but free forms known by as many points together."""
    alike: dict[int, list[int]] = {}
    for i, border in enumerate(borders):
        alike.setdefault(border.free_steps, []).append(i)
    found: dict[int, tuple[float, float]] = {}
    for steps, members in alike.items():
        if steps:
            lows, highs = free_reaches([borders[i] for i in members], direction)
            found.update(zip(members, zip(lows.tolist(), highs.tolist(), strict=True), strict=True))
    return (found[i] if i in found else border.reach(direction) for i, border in enumerate(borders))


def _spans(curves: Array, way: Array) -> tuple[Array, Array]:
    """Least and greatest heights of curves (n, k, 3) along a direction."""
    heights = curves @ way
    crests = _crests(np.concatenate([heights, -heights]))
    return -crests[len(curves) :], crests[: len(curves)]


def border_of(edges: Sequence[Edge]) -> Border:
    """The boundary that some edges are."""
    points: list[Vec3] = []
    whole: list[Circle] = []
    arcs: list[tuple[tuple[Vec3, ...], Circle]] = []
    for edge in edges:
        circle = circle_of(edge) if edge.curve == "circle" else None
        if circle and edge.points[0] == edge.points[-1]:
            whole.append(circle)
        elif edge.curve != "other":
            points += edge.points
            if circle:
                arcs.append((edge.points, circle))
    free: dict[int, list[Array]] = {}
    for edge in edges:
        if edge.curve == "other":
            free.setdefault(len(edge.points), []).append(np.array(edge.points) if edge.cloud is None else edge.cloud)
    curves = tuple(np.array(alike) for alike in free.values())
    middles, axes = (np.array([c[k] for c in whole]).reshape(-1, 3) for k in (0, 1))
    return Border(np.array(points).reshape(-1, 3), middles, axes, np.array([c[2] for c in whole]), tuple(arcs), curves)


def circle_of(edge: Edge) -> Circle | None:
    """Centre, normal and radius of an arc through its start and its points at both thirds; None when straight."""
    a, b, c = edge.points[0], edge.points[len(edge.points) // 3], edge.points[2 * len(edge.points) // 3]
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


def _with_arc(
    points: tuple[Vec3, ...], circle: Circle, direction: Vec3, low: float, high: float
) -> tuple[float, float]:
    """Heights with those of an arc's own extremes, where these are further out."""
    centre, normal, radius = circle
    flat = add(direction, normal, -dot(direction, normal))
    size = norm(flat)
    if size < FLAT:
        return low, high
    height, reach = dot(centre, direction), radius * size
    if high < height + reach - 1e-9 and _on_arc(points, centre, normal, scale(flat, 1 / size)):
        high = height + reach
    if low > height - reach + 1e-9 and _on_arc(points, centre, normal, scale(flat, -1 / size)):
        low = height - reach
    return low, high


def _crests(heights: Array) -> Array:
    """The highest points of curves (n, k), by the parabolas through their highest samples and at their ends.

    A closed curve may have its crest on either side of where it begins. The sample counts where the top of the parabola
    through it and the two beside it lies beyond them.
    """
    last, rows = heights.shape[1] - 1, np.arange(len(heights))
    peaks = np.stack([heights.argmax(axis=1), np.zeros_like(rows), np.full_like(rows, last)])
    at = np.minimum(np.maximum(peaks, 1), last - 1)
    before, top, after = (heights[rows, at + step] for step in (-1, 0, 1))
    bend, slope = before - 2 * top + after, (before - after) / 2
    inside = (bend < 0) & (np.abs(slope) < -bend)
    tops = top - slope**2 / np.where(inside, 2 * bend, 1.0)
    return np.asarray(np.where(inside, tops, heights[rows, peaks]).max(axis=0))


def _on_arc(points: tuple[Vec3, ...], centre: Vec3, normal: Vec3, outward: Vec3) -> bool:
    """True when the point of the full circle that lies outward lies on the arc, which runs from start to end."""
    first = sub(points[0], centre)
    square = cross(normal, first)

    def turn(v: Vec3) -> float:
        return math.atan2(dot(v, square), dot(v, first)) % (2 * math.pi)

    # The normal comes from three points in their order, so the arc runs the positive way round it.
    end = turn(sub(points[-1], centre))
    return turn(outward) <= (end if points[0] != points[-1] and end > 1e-9 else 2 * math.pi) + 1e-9
