"""Whether triangles of a part lie over others, seen along a direction: areas over areas, areas over walls' lines."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Self, TypeVar

import numpy as np

from schemas.tolerances import SIGHT_MARGIN
from worker.recognise.feet import Feet
from worker.recognise.projection import BLOCK, Array, Index, Mask, Seen, View, across

TOUCHING = 1e-9
"""A corner this near a line lies on it (mm)."""
NEARLY = 0.99
"""So much of what a test asks for is asked of boxes before it: rounding there decides nothing."""
BEYOND = 1e-5
"""A line this far outside all metal has none over it (mm)."""
PAIRS = 20_000
"""Above so many pairs of triangles, halve the field first, and take what may stand over it bit by bit."""
LEAST = 8
"""Fewer triangles are not halved."""
Some = TypeVar("Some", bound=Seen)
Test = Callable[[Some, Seen], bool]


def areas_covered(view: View, areas: Index, blocks: Index, feet: Feet = ()) -> bool:
    """Whether anything in some blocks lies over triangles that are seen as areas, where they lie above some feet."""
    own = view.seen_above(areas, feet)[0] if feet else view.seen(areas)
    return len(own) > 0 and _any_covered(view, own, int(areas[0]), pairs_covered, _blocks_over(view, own, blocks))


def _any_covered(view: View, own: Some, place: int, test: Test[Some], blocks: Index) -> bool:
    """Whether any covering triangle of some blocks lies over any of a patch's own, halving a large field.

    ``place``: where the patch's triangles lie among all; what lies near them there is asked first.
    """
    if not len(blocks):
        return False
    if len(own) < LEAST or len(own) * int(view.blocks.sizes[blocks].sum()) <= PAIRS:
        return any(_met(own, view.seen(view.covering(some)), test) for some in _by_nearness(view, blocks, place))
    low, high = own.bounds
    order = np.argsort(own.low[:, int(np.argmax(high - low))], kind="stable")
    halves = (own.parted(part) for part in (order[: len(order) // 2], order[len(order) // 2 :]))
    return any(_any_covered(view, half, place, test, _blocks_over(view, half, blocks)) for half in halves)


def _blocks_over(view: View, own: Seen, among: Index) -> Index:
    """Those of some blocks whose box reaches over the box of some triangles."""
    low, high = own.bounds
    return view.near(low + own.overlap, high - own.overlap, float(own.bottom.min()) + SIGHT_MARGIN, among)


def _by_nearness(view: View, blocks: Index, place: int) -> list[Index]:
    """Blocks by and by, the nearest among all triangles first: mostly what covers a patch was made with it."""
    most = PAIRS // LEAST // BLOCK
    if len(blocks) <= most:
        return [blocks]
    ordered = blocks[np.argsort(np.abs(view.blocks.starts[blocks] - place), kind="stable")]
    return [ordered[k : k + most] for k in range(0, len(ordered), most)]


def _met(own: Some, cover: Seen, test: Test[Some]) -> bool:
    """Whether a test finds that some triangles cover others, asked of those whose boxes are near."""
    near = cover.top > own.bottom.min() + SIGHT_MARGIN
    low, high = own.bounds
    for k in (0, 1):
        near &= cover.low[:, k] < high[k] - own.overlap[k]
        near &= cover.high[:, k] > low[k] + own.overlap[k]
    return bool(near.any()) and test(own, cover.parted(near))


def pairs_covered(own: Seen, cover: Seen) -> bool:
    """Whether any covering triangle lies over a triangle that is seen as an area."""
    i, j = _near(own, cover)
    if not len(i):
        return False
    over = _plane_heights(cover.taken(j), own.flat[i]) - own.heights[i]
    meet = over.max(axis=1) > SIGHT_MARGIN
    i, j, over = i[meet], j[meet], over[meet]
    meet = _overlap(own.flat[i], cover.flat[j])
    sure = meet & (over.min(axis=1) > SIGHT_MARGIN)
    order = (*np.flatnonzero(sure), *np.flatnonzero(meet & ~sure))
    return any(_covers(own.taken(i[k : k + 1]), cover.taken(j[k : k + 1])) for k in order)


def _near(own: Seen, cover: Seen) -> tuple[Index, Index]:
    """Pairs whose boxes overlap by more than they must and whose cover reaches higher."""
    near = cover.top[None] > own.bottom[:, None] + SIGHT_MARGIN
    for k in (0, 1):
        near &= own.low[:, None, k] < cover.high[None, :, k] - own.overlap[k]
        near &= own.high[:, None, k] > cover.low[None, :, k] + own.overlap[k]
    i, j = np.nonzero(near)
    return i, j


def _plane_heights(triangles: Seen, at: Array) -> Array:
    """Heights of triangles' planes over places (n, k, 2); infinite for triangles seen edge-on."""
    flat, heights = triangles.flat, triangles.heights
    u, v = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    safe = np.where(np.abs(area) > 1e-12, area, np.inf)
    rest = at - flat[:, None, 0]
    s = (rest[..., 0] * v[:, None, 1] - rest[..., 1] * v[:, None, 0]) / safe[:, None]
    t = (u[:, None, 0] * rest[..., 1] - u[:, None, 1] * rest[..., 0]) / safe[:, None]
    rise = heights[:, 1:] - heights[:, :1]
    return np.asarray(heights[:, :1] + s * rise[:, :1] + t * rise[:, 1:])


def _overlap(a: Array, b: Array) -> Mask:
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


def _covers(own: Seen, cover: Seen) -> bool:
    """One pair exactly: the common area is thick enough, and the cover lies above it."""
    polygon = clip_polygon(own.flat[0].tolist(), cover.flat[0].tolist())
    if len(polygon) < 3 or thickness(polygon) < SIGHT_MARGIN:
        return False
    middle = np.mean(polygon, axis=0).reshape(1, 1, 2)
    rise = _plane_heights(cover, middle) - _plane_heights(own, middle)
    return bool(rise[0, 0] > SIGHT_MARGIN)


def walls_covered(view: View, walls: Index, blocks: Index, level: float = -math.inf, feet: Feet = ()) -> bool:
    """Whether anything in some blocks lies over walls that are seen as lines, where they lie over a level (along the
    view) and above some feet."""
    own = walls_seen(view, walls, level, feet)
    if not len(own):
        return False
    blocks = _blocks_over(view, own, blocks)
    if len(own) * len(blocks) > PAIRS:
        own = own.taken(~_beyond(view, own))
    return len(own) > 0 and _any_covered(view, own, int(walls[0]), lines_covered, blocks)


def beyond_all(view: View, walls: Index) -> Mask:
    """Which of the triangles that are seen as lines have the whole part on one side."""
    return _beyond(view, walls_seen(view, walls)) if len(walls) else np.zeros(0, dtype=bool)


def walls_seen(view: View, walls: Index, level: float = -math.inf, feet: Feet = ()) -> Walls:
    """Triangles of one patch seen edge-on, of which what lies over a level and above some feet counts."""
    seen, of = view.seen_above(walls, feet) if feet else (view.seen(walls), walls)
    aside = SIGHT_MARGIN + _sag(seen.flat, view.barrel(walls))
    return Walls(seen.flat, seen.heights, seen.flat + aside[:, None, None] * view.outward(of)[:, None], level)


def _sag(corners: Array, radius: float) -> Array:
    """How deep in the metal the longest sides of triangles seen edge-on lie, which are chords of a circle (mm)."""
    half = _lengths(_as_lines(corners)[2]) / 2
    return np.asarray(half**2 / (radius + np.sqrt(np.maximum(radius**2 - half**2, 0.0))))


@dataclass(eq=False)
class Walls(Seen):
    """Triangles seen edge-on. ``aside``: their corners a little outside the metal; ``level``: what of them counts."""

    aside: Array
    level: float = -math.inf

    def taken(self, which: Index | Mask) -> Self:
        """Some of them."""
        return type(self)(self.flat[which], self.heights[which], self.aside[which], self.level)

    def parted(self, which: Index | Mask) -> Self:
        """Some of them, with their lines where these are known."""
        found = super().parted(which)
        if "lines" in self.__dict__:
            starts, lines, places = self.lines
            found.__dict__["lines"] = starts[which], lines[which], places[which]
        return found

    @cached_property
    def lines(self) -> tuple[Array, Array, Array]:
        """As lines, a little outside the metal: start, direction, places of the corners along them."""
        return _as_lines(self.aside)

    @cached_property
    def overlap(self) -> Array:
        """What covers more than SIGHT_MARGIN of a line has a box that overlaps by the line's share of it each way."""
        share = np.abs(self.lines[1]).min(axis=0, initial=1.0)
        return np.asarray(NEARLY * SIGHT_MARGIN * share - TOUCHING)

    @cached_property
    def _ends(self) -> tuple[Array, Array]:
        starts, lines, places = self.lines
        return starts, starts + _lengths(places)[:, None] * lines

    @cached_property
    def low(self) -> Array:
        """Lower corner of each line's box, (n, 2)."""
        return np.minimum(*self._ends)

    @cached_property
    def high(self) -> Array:
        """Upper corner of each line's box, (n, 2)."""
        return np.maximum(*self._ends)


def _beyond(view: View, walls: Walls) -> Mask:
    """Which of the lines that walls are seen as have the whole part on one side."""
    starts, lines, _ = walls.lines
    square = np.stack([-lines[:, 1], lines[:, 0]], axis=1)
    inward = np.einsum("ij,ij->i", walls.flat.mean(axis=1) - starts, square) > 0
    square = np.round(np.where(inward[:, None], -square, square), 9).astype(np.float64)
    places = np.einsum("ij,ij->i", starts, square)
    beyond = places > view.some_reach(square) + BEYOND
    if beyond.any():
        beyond[beyond] = places[beyond] > view.reach(square[beyond]) + BEYOND
    return np.asarray(beyond)


def lines_covered(own: Walls, cover: Seen) -> bool:
    """Whether a triangle covers what lies over a level of any wall that is seen as a line."""
    i, j = _near(own, cover)
    starts, lines, places = own.lines
    met = _meet(starts[i], lines[i], cover.flat[j])
    if not met.any():
        return False
    i, over = i[met], cover.taken(j[met])
    starts, lines, places, heights = starts[i], lines[i], places[i], own.heights[i]
    low, high = _clip_lines(starts, lines, _lengths(places), over.flat)
    middle = (low + high) / 2
    spots = (starts + middle[:, None] * lines)[:, None]
    places = places - across(np.minimum, places)[:, None]
    lowest = _lowest(places, heights, middle)
    met = high - low > SIGHT_MARGIN
    if own.level > -math.inf:
        met &= -_lowest(places, -heights, middle) > own.level + SIGHT_MARGIN
        lowest = np.maximum(lowest, own.level)
    return bool((met & (_plane_heights(over, spots)[:, 0] - lowest > SIGHT_MARGIN)).any())


def _meet(starts: Array, lines: Array, triangles: Array) -> Mask:
    """Whether a triangle has corners on both sides of a line, or on it."""
    rest = triangles - starts[:, None]
    sides = lines[:, None, 0] * rest[..., 1] - lines[:, None, 1] * rest[..., 0]
    return np.asarray((across(np.minimum, sides) <= TOUCHING) & (across(np.maximum, sides) >= -TOUCHING))


def _as_lines(corners: Array) -> tuple[Array, Array, Array]:
    """Triangles seen edge-on as lines, their longest sides: start, direction, places of the corners along it."""
    sides = corners[:, [1, 2, 0]] - corners
    longest = (sides[..., 0] ** 2 + sides[..., 1] ** 2).argmax(axis=1)
    line, base = sides[np.arange(len(corners)), longest], corners[np.arange(len(corners)), longest]
    line = line / np.maximum(np.hypot(line[:, 0], line[:, 1]), 1e-12)[:, None]
    places = np.einsum("nij,nj->ni", corners - base[:, None], line)
    return base + across(np.minimum, places)[:, None] * line, line, places


def _lengths(places: Array) -> Array:
    return across(np.maximum, places) - across(np.minimum, places)


def _clip_lines(starts: Array, lines: Array, lengths: Array, triangles: Array) -> tuple[Array, Array]:
    """The stretch of each line inside its triangle."""
    sides = triangles[:, [1, 2, 0]] - triangles
    sign = np.where(_cross2(sides[:, 0], -sides[:, 2]) > 0, 1.0, -1.0)[:, None]
    rate = sign * _cross2(sides, lines[:, None])
    value = sign * _cross2(sides, starts[:, None] - triangles)
    level = np.abs(rate) < 1e-12
    at = -value / np.where(level, 1.0, rate)
    low = np.maximum(across(np.maximum, np.where(~level & (rate > 0), at, 0.0)), 0.0)
    high = np.minimum(across(np.minimum, np.where(~level & (rate < 0), at, np.inf)), lengths)
    return low, np.where((level & (value < 0)).any(axis=1), -1.0, high)


def _lowest(places: Array, heights: Array, at: Array) -> Array:
    """Lowest height of triangles seen edge-on, at places along their lines."""
    ends, at = places[:, [1, 2, 0]], at[:, None]
    step, rise = ends - places, heights[:, [1, 2, 0]] - heights
    steep = np.abs(step) > 1e-9
    level = heights + (at - places) / np.where(steep, step, np.inf) * rise
    inside = (np.minimum(places, ends) - 1e-9 <= at) & (at <= np.maximum(places, ends) + 1e-9) & steep
    found = across(np.minimum, np.where(inside, level, np.inf))
    return np.where(np.isfinite(found), found, across(np.minimum, heights))


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
