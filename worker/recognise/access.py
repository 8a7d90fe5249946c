"""From where a straight tool sees a feature: exact for plane and cylindrical walls, on triangles elsewhere.

A direction (from the feature to the spindle) is free when no face of the feature turns away from it and no part
of the body stands in the way. What stands in the way meets the line of sight with a face that looks away from
the spindle; so only such triangles are projected along the direction and clipped against the feature's own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import partial
from itertools import product

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, cross, dot, norm, scale, unit
from schemas.tolerances import SIGHT_CURVED, SIGHT_MARGIN, SIGHT_WALL
from worker.recognise.patches import PartShape
from worker.recognise.projection import Array, Index, View, across

Cell = tuple[int, int, int]
EQUAL, CELL = 3e-5, 1e-3
"""Directions whose coordinates differ by less than EQUAL in all are one; the known ones are kept by cells this wide."""
SIDES = 6
"""A box has so many."""


@dataclass(eq=False)
class Sight:
    """Lines of sight of one part; remembers the projections along directions it was asked for."""

    shape: PartShape
    views: dict[Vec3, View] = field(default_factory=dict)
    answers: dict[tuple[Vec3, int, float], bool] = field(default_factory=dict)
    seen: dict[Cell, list[tuple[int, Vec3]]] = field(default_factory=dict)
    names: dict[Vec3, Vec3] = field(default_factory=dict)
    outer: frozenset[int] = frozenset()
    """Planes with the whole part behind them: nothing can stand over those."""

    def is_square(self, direction: Vec3) -> bool:
        """True when an outer plane looks in the direction, or straight away from it."""
        normals = (self.shape.patches[p].surface.axis for p in self.outer)
        return any(abs(dot(n, direction)) > 1 - SIGHT_WALL**2 for n in normals)

    def sides(self) -> tuple[Vec3, ...]:
        """The ways, and their opposites, that most plane area of the part looks."""
        areas: dict[Vec3, float] = {}
        for patch in self.shape.patches:
            if patch.surface.kind == "plane":
                axis = self.known(patch.surface.axis)
                areas[axis] = areas.get(axis, 0.0) + patch.area
        most = sorted(areas, key=lambda d: (-round(areas[d], 1), d))[:SIDES]
        return self.distinct([*most, *(scale(d, -1.0) for d in most)])

    def sees(self, patches: tuple[int, ...], direction: Vec3, level: float = -math.inf) -> bool:
        """True when a straight tool coming from ``direction`` sees all of the patches; of walls what lies over a level.

        ``level``: height along the direction (mm).
        """
        facing = all(self.faces_it(p, direction) for p in patches)
        return facing and all(self._sees_one(p, direction, level) for p in patches)

    def faces_it(self, patch: int, direction: Vec3) -> bool:
        """True when no spot of the patch turns away from the direction."""
        found = self.shape.patches[patch].surface
        if found.kind == "plane":
            return dot(found.axis, direction) > -SIGHT_WALL
        if found.kind == "cylinder" and norm(cross(found.axis, direction)) < SIGHT_WALL:
            return True
        return bool(self.view(direction).least[patch] > -SIGHT_CURVED)

    def _sees_one(self, patch: int, direction: Vec3, level: float) -> bool:
        key = (direction, patch, level)
        if key not in self.answers:
            self.answers[key] = self.faces_it(patch, direction) and (
                patch in self.outer or not self._covered(patch, direction, level)
            )
        return self.answers[key]

    def known(self, direction: Vec3) -> Vec3:
        """The direction, or the equal one (1e-5) that was asked for before."""
        if direction not in self.names:
            self.names[direction] = self._named(tidy(direction))
        return self.names[direction]

    def _named(self, wanted: Vec3) -> Vec3:
        cells = [sorted({math.floor((c + slack) / CELL) for slack in (-EQUAL, EQUAL)}) for c in wanted]
        near = [found for x, y, z in product(*cells) for found in self.seen.get((x, y, z), ())]
        equal = [(n, old) for n, old in near if sum(abs(a - b) for a, b in zip(old, wanted, strict=True)) < EQUAL]
        if equal:
            return min(equal)[1]
        own = tuple(math.floor(c / CELL) for c in wanted)
        self.seen.setdefault((own[0], own[1], own[2]), []).append((len(self.names), wanted))
        return wanted

    def distinct(self, directions: Iterable[Vec3]) -> tuple[Vec3, ...]:
        """The different ones among some directions, in order of first use."""
        return tuple(dict.fromkeys(self.known(d) for d in directions))

    def view(self, direction: Vec3) -> View:
        """The projection of the part along a direction."""
        if direction not in self.views:
            self.views[direction] = View(self.shape, direction)
        return self.views[direction]

    def _covered(self, patch: int, direction: Vec3, level: float = -math.inf) -> bool:
        view = self.view(direction)
        part = self.shape.slices[patch]
        if part.start == part.stop or not len(view.cover):
            return False
        own = np.arange(part.start, part.stop)
        walls = np.abs(view.facing[part]) < SIGHT_CURVED
        return _any_covered(view, own[~walls], None, _pairs_covered) or _any_covered(
            view, own[walls], None, partial(_lines_covered, level=level)
        )


TOUCHING = 1e-9
"""A corner this near a line lies on it (mm)."""
PAIRS = 20_000
"""Above so many pairs of triangles, halve the field first."""
Test = Callable[["View", Index, Index], bool]


def _any_covered(view: View, own: Index, cover: Index | None, test: Test) -> bool:
    """Whether any covering triangle (all, unless given) lies over any of a patch's own, halving a large field."""
    if not len(own):
        return False
    low, high = view.low[own].min(axis=0) - SIGHT_MARGIN, view.high[own].max(axis=0) + SIGHT_MARGIN
    bottom = float(view.bottom[own].min()) + SIGHT_MARGIN
    cover = view.near(low, high, bottom) if cover is None else cover
    near = view.top[cover] > bottom
    for k in (0, 1):
        near &= (view.low[cover, k] < high[k]) & (view.high[cover, k] > low[k])
    cover = cover[near]
    if not len(cover):
        return False
    if len(own) * len(cover) <= PAIRS or len(own) < 8:
        return test(view, own, cover)
    order = own[np.argsort(view.low[own, int(np.argmax(high - low))], kind="stable")]
    half = len(order) // 2
    return _any_covered(view, order[:half], cover, test) or _any_covered(view, order[half:], cover, test)


def _pairs_covered(view: View, own: Index, cover: Index) -> bool:
    """Whether any covering triangle lies over a triangle that is seen as an area."""
    i, j = _near(view, own, cover, SIGHT_MARGIN)
    if not len(i):
        return False
    over = _rise(view, i, j)
    meet = over.max(axis=1) > SIGHT_MARGIN
    i, j, over = i[meet], j[meet], over[meet]
    meet = _overlap(view.flat(i), view.flat(j))
    sure = meet & (over.min(axis=1) > SIGHT_MARGIN)
    order = (*np.flatnonzero(sure), *np.flatnonzero(meet & ~sure))
    return any(_covers(view, int(i[k]), int(j[k])) for k in order)


def _near(view: View, own: Index, cover: Index, slack: float) -> tuple[Index, Index]:
    """Pairs whose boxes overlap by more than the slack and whose cover reaches higher."""
    near = view.top[cover][None] > view.bottom[own][:, None] + SIGHT_MARGIN
    for k in (0, 1):
        near &= view.low[own, k][:, None] < view.high[cover, k][None] - slack
        near &= view.high[own, k][:, None] > view.low[cover, k][None] + slack
    i, j = np.nonzero(near)
    return own[i], cover[j]


def _rise(view: View, own: Index, cover: Index) -> Array:
    """How far each covering triangle's plane lies over the corners of the other triangle, (n, 3)."""
    return _plane_heights(view, cover, view.flat(own)) - view.heights[own]


def _plane_heights(view: View, triangles: Index, at: Array) -> Array:
    """Heights of triangles' planes over places (n, k, 2); infinite for triangles seen edge-on."""
    flat, heights = view.flat(triangles), view.heights[triangles]
    u, v = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    safe = np.where(np.abs(area) > 1e-12, area, np.inf)
    rest = at - flat[:, None, 0]
    s = (rest[..., 0] * v[:, None, 1] - rest[..., 1] * v[:, None, 0]) / safe[:, None]
    t = (u[:, None, 0] * rest[..., 1] - u[:, None, 1] * rest[..., 0]) / safe[:, None]
    rise = heights[:, 1:] - heights[:, :1]
    return np.asarray(heights[:, :1] + s * rise[:, :1] + t * rise[:, 1:])


def _overlap(a: Array, b: Array) -> NDArray[np.bool_]:
    """Whether pairs of triangles overlap by more than SIGHT_MARGIN across every one of their six sides."""
    found = np.ones(len(a), dtype=bool)
    for corners in (a, b):
        for k in range(3):
            side = corners[:, (k + 1) % 3] - corners[:, k]
            length = np.hypot(side[:, 0], side[:, 1])
            square = np.stack([-side[:, 1], side[:, 0]], axis=1) / np.where(length > 1e-12, length, 1.0)[:, None]
            p, q = np.einsum("nij,nj->ni", a, square), np.einsum("nij,nj->ni", b, square)
            gap = np.minimum(p.max(axis=1), q.max(axis=1)) - np.maximum(p.min(axis=1), q.min(axis=1))
            found &= (gap > SIGHT_MARGIN) | (length < 1e-9)
    return found


def _covers(view: View, own: int, cover: int) -> bool:
    """One pair exactly: the common area is thick enough, and the cover lies above it."""
    polygon = clip_polygon(view.flat(own).tolist(), view.flat(cover).tolist())
    if len(polygon) < 3 or thickness(polygon) < SIGHT_MARGIN:
        return False
    middle = np.mean(polygon, axis=0).reshape(1, 1, 2)
    rise = _plane_heights(view, np.array([cover]), middle) - _plane_heights(view, np.array([own]), middle)
    return bool(rise[0, 0] > SIGHT_MARGIN)


def _lines_covered(view: View, own: Index, cover: Index, level: float = -math.inf) -> bool:
    """Whether a triangle covers what lies over a level of any wall that is seen as a line."""
    i, j = _near(view, own, cover, -SIGHT_MARGIN)
    walls, which = np.unique(i, return_inverse=True)
    starts, lines, places = _as_lines(view.flat(walls) + SIGHT_MARGIN * view.outward(walls)[:, None])
    met = _meet(starts[which], lines[which], view.flat(j))
    if not met.any():
        return False
    i, j, which = i[met], j[met], which[met]
    starts, lines, places = starts[which], lines[which], places[which]
    low, high = _clip_lines(starts, lines, np.ptp(places, axis=1), view.flat(j))
    middle = (low + high) / 2
    spots = (starts + middle[:, None] * lines)[:, None]
    places = places - places.min(axis=1, keepdims=True)
    lowest = _lowest(places, view.heights[i], middle)
    met = high - low > SIGHT_MARGIN
    if level > -math.inf:
        met &= -_lowest(places, -view.heights[i], middle) > level + SIGHT_MARGIN
        lowest = np.maximum(lowest, level)
    return bool((met & (_plane_heights(view, j, spots)[:, 0] - lowest > SIGHT_MARGIN)).any())


def _meet(starts: Array, lines: Array, triangles: Array) -> NDArray[np.bool_]:
    """Whether a triangle has corners on both sides of a line, or on it."""
    rest = triangles - starts[:, None]
    sides = lines[:, None, 0] * rest[..., 1] - lines[:, None, 1] * rest[..., 0]
    return np.asarray((across(np.minimum, sides) <= TOUCHING) & (across(np.maximum, sides) >= -TOUCHING))


def _as_lines(corners: Array) -> tuple[Array, Array, Array]:
    """Triangles seen edge-on as lines, their longest sides: start, direction, places of the corners along it."""
    sides = corners[:, [1, 2, 0]] - corners
    longest = (sides**2).sum(axis=2).argmax(axis=1)
    line, base = sides[np.arange(len(corners)), longest], corners[np.arange(len(corners)), longest]
    line = line / np.maximum(np.hypot(line[:, 0], line[:, 1]), 1e-12)[:, None]
    places = np.einsum("nij,nj->ni", corners - base[:, None], line)
    return base + places.min(axis=1)[:, None] * line, line, places


def _clip_lines(starts: Array, lines: Array, lengths: Array, triangles: Array) -> tuple[Array, Array]:
    """The stretch of each line inside its triangle."""
    low, high = np.zeros(len(starts)), lengths.copy()
    u, v = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    sign = np.where(_cross2(u, v) > 0, 1.0, -1.0)
    for k in range(3):
        side = triangles[:, (k + 1) % 3] - triangles[:, k]
        rate = sign * _cross2(side, lines)
        value = sign * _cross2(side, starts - triangles[:, k])
        level = np.abs(rate) < 1e-12
        at = -value / np.where(level, 1.0, rate)
        low = np.where(~level & (rate > 0), np.maximum(low, at), low)
        high = np.where(~level & (rate < 0), np.minimum(high, at), high)
        high = np.where(level & (value < 0), -1.0, high)
    return low, high


def _lowest(places: Array, heights: Array, at: Array) -> Array:
    """Lowest height of triangles seen edge-on, at places along their lines."""
    found = np.full(len(at), np.inf)
    for k in range(3):
        a, b = places[:, k], places[:, (k + 1) % 3]
        rise = heights[:, (k + 1) % 3] - heights[:, k]
        spread = np.where(np.abs(b - a) > 1e-9, b - a, np.inf)
        height = heights[:, k] + (at - a) / spread * rise
        inside = (np.minimum(a, b) - 1e-9 <= at) & (at <= np.maximum(a, b) + 1e-9) & np.isfinite(spread)
        found = np.where(inside, np.minimum(found, height), found)
    return np.where(np.isfinite(found), found, heights.min(axis=1))


def _cross2(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


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
