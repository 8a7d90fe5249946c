"""Solids that tools sweep along a setup's axis: turned ones, regions given height, faces lifted (setup's frame, mm)."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby, pairwise

import numpy as np

from worker.field.lattice import Lattice
from worker.field.lines import Floats, Lines, subtract, together
from worker.field.outlines import GRID
from worker.field.plane import Region, Shadow
from worker.field.surface import crossings, solid_lines
from worker.field.view import View
from worker.field.windows import Window, each_once, span, windows_of


@dataclass(frozen=True, eq=False)
class Turned:
    """Round the vertical through (x, y): radius ``radii`` at ``heights``, both not falling; straight between them."""

    view: View
    x: float
    y: float
    heights: tuple[float, ...]
    radii: tuple[float, ...]

    def windows(self, lattice: Lattice, axis: int) -> Iterator[Window]:
        """Chords across, a window for each stretch of one radius; one interval along."""
        local = self.view.axes.index(axis)
        if local == 2:
            yield self._upright(lattice)
            return
        for first, last in self._stretches:
            yield self._across(lattice, local, first, last)

    @cached_property
    def _stretches(self) -> list[tuple[int, int]]:
        """From which to which of its heights its radius is one, or changes all the way."""
        changes = [r != s for r, s in pairwise(self.radii)]
        rises = [k for k, (a, b) in enumerate(pairwise(self.heights)) if a < b]
        runs = [list(run) for _, run in groupby(rises, lambda k: k if not changes[k] else -1)]
        return [(run[0], run[-1] + 1) for run in runs]

    def _upright(self, lattice: Lattice) -> Window:
        xs, ys = self.view.middles(lattice, 0), self.view.middles(lattice, 1)
        i, j = (_between(at, m - self.radii[-1], m + self.radii[-1]) for at, m in ((xs, self.x), (ys, self.y)))
        away = np.sqrt((xs[i, None] - self.x) ** 2 + (ys[None, j] - self.y) ** 2)
        top, straight = self.heights[-1], self.radii[0] == self.radii[-1]
        low = self.heights[0] if straight else np.interp(away, self.radii, self.heights, left=self.heights[0])
        return self.view.window(lattice, 2, i, j, np.where(away < self.radii[-1], low, top), np.full((1, 1), top))

    def _across(self, lattice: Lattice, local: int, first: int, last: int) -> Window:
        """Lines along the setup's x or y, at every height between two of the solid's own."""
        centre, beside = (self.x, self.y) if local == 0 else (self.y, self.x)
        us, zs = self.view.middles(lattice, 1 - local), self.view.middles(lattice, 2)
        widest, straight = self.radii[last], self.radii[first] == self.radii[last]
        i, k = _between(us, beside - widest, beside + widest), _between(zs, self.heights[first], self.heights[last])
        own = slice(first, last + 1)
        radius = widest if straight else np.interp(zs[None, k], self.heights[own], self.radii[own])
        half = np.sqrt(np.maximum(radius**2 - (us[i, None] - beside) ** 2, 0.0))
        return self.view.window(lattice, local, i, k, centre - half, centre + half)


def _between(at: Floats, low: float, high: float) -> slice:
    """The places of rising values within two ends."""
    start = int(np.searchsorted(at, low, side="right"))
    return slice(start, max(start, int(np.searchsorted(at, high))))


def as_one(turned: Sequence[Turned]) -> list[Turned]:
    """Solids turned about one axis, and as high as each other, as one: at each height the widest."""
    found: dict[tuple[View, float, float, float], Turned] = {}
    for one in turned:
        place = one.view, one.x, one.y, one.heights[-1]
        found[place] = _widest(found[place], one) if place in found else one
    return list(found.values())


def _widest(a: Turned, b: Turned) -> Turned:
    """Both at once: from one of all their heights to the next the wider of two straight sides, or one and then the
    other where they cross."""
    stops = sorted({*a.heights, *b.heights})
    points: list[tuple[float, float]] = []
    for low, high in pairwise(stops):
        (p, q), (r, s) = _side(a, low, high), _side(b, low, high)
        points.append((low, max(p, r)))
        if (p - r) * (q - s) < 0:
            share = (p - r) / ((p - r) - (q - s))
            points.append((low + share * (high - low), p + share * (q - p)))
        points.append((high, max(q, s)))
    kept = [at for k, at in enumerate(points) if at not in points[max(k - 1, 0) : k]]
    return replace(a, heights=tuple(z for z, _ in kept), radii=tuple(r for _, r in kept))


def _side(one: Turned, low: float, high: float) -> tuple[float, float]:
    """Its radius just above a height and just below another, with none of its own between them; 0 below it."""
    if low < one.heights[0]:
        return 0.0, 0.0
    k = bisect_right(one.heights, low)
    z0, z1, r0, r1 = one.heights[k - 1], one.heights[k], one.radii[k - 1], one.radii[k]
    rise = (r1 - r0) / (z1 - z0)
    return r0 + rise * (low - z0), r1 - rise * (z1 - high)


@dataclass(frozen=True, eq=False)
class Layer:
    """A region between two heights.

    ``doubt`` is how far its area may be off where a cutter leaves corners, ``missed`` what the lattice's lines may
    miss of those corners (mm2).
    """

    low: float
    high: float
    region: Region
    doubt: float = 0.0
    missed: float = 0.0


@dataclass(frozen=True, eq=False)
class Layers:
    """Regions one above the other, each holding the one below it."""

    view: View
    layers: tuple[Layer, ...]

    def doubt(self, top: float) -> tuple[float, float]:
        """How far the volume below a height may be off for the layers' doubt, and what lines miss of it, mm3."""
        heights = [max(min(s.high, top) - s.low, 0.0) for s in self.layers]
        both = list(zip(self.layers, heights, strict=True))
        return sum(s.doubt * height for s, height in both), sum(s.missed * height for s, height in both)

    def windows(self, lattice: Lattice, axis: int) -> Iterator[Window]:
        """Stretches of the regions at every height they have; upright, from the lowest region that holds a cell."""
        local = self.view.axes.index(axis)
        if self.layers:
            yield from self._upright(lattice) if local == 2 else self._all_across(lattice, local)

    def _all_across(self, lattice: Lattice, local: int) -> Iterator[Window]:
        for layer in self.layers:
            yield from self._across(lattice, local, layer)

    def _across(self, lattice: Lattice, local: int, layer: Layer) -> Iterator[Window]:
        us, zs = self.view.middles(lattice, 1 - local), self.view.middles(lattice, 2)
        k = _between(zs, layer.low, layer.high)
        for some in each_once(layer.region.scan(local, us)):
            i, start, stop = _closed_up(some)
            yield self.view.window(lattice, local, i, k, start[:, None], stop[:, None])

    def _upright(self, lattice: Lattice) -> Iterator[Window]:
        taken: list[Lines] = []
        for layer in self.layers:  # the lowest that holds a cell has it
            taken.append(subtract(self._cells(lattice, layer), together(taken)))
        lows = np.repeat([layer.low for layer in self.layers], [len(cells) for cells in taken])
        yield self._on_cells(lattice, together(taken), lows, self.layers[-1].high)

    def _cells(self, lattice: Lattice, layer: Layer) -> Lines:
        """The cells, seen along z, whose middles a layer's region holds: from and to, by rows that run along x."""
        found, xs = layer.region.scan(0, self.view.middles(lattice, 1)), self.view.middles(lattice, 0)
        ends = (np.searchsorted(xs, end).astype(np.float64) for end in (found.start, found.stop))
        rows = Lines(found.line, *ends)
        return rows.where(rows.stop > rows.start)

    def _on_cells(self, lattice: Lattice, cells: Lines, lows: Floats, top: float) -> Window:
        """From a height of each run of cells up, on as few cells as hold them all."""
        i = slice(int(cells.start.min(initial=np.inf)), int(cells.stop.max(initial=0.0))) if len(cells) else slice(0, 0)
        j = span(np.sort(cells.line))
        if len(cells) == j.stop - j.start > 0 and all(np.ptp(ends) == 0.0 for ends in (cells.start, cells.stop, lows)):
            return self.view.window(lattice, 2, i, j, np.full((1, 1), lows[0]), np.full((1, 1), top))  # a full block
        width, count = i.stop - i.start, (i.stop - i.start) * (j.stop - j.start)
        begin = (cells.line - j.start) * width - i.start + cells.start.astype(np.int64)
        order = np.argsort(begin)
        ends = np.stack((begin, begin + (cells.stop - cells.start).astype(np.int64)), axis=1)[order]
        heights = np.full(2 * len(cells) + 1, top)
        heights[1::2] = lows[order]
        low = np.repeat(heights, np.diff(ends.ravel(), prepend=0, append=count)).reshape(-1, max(width, 1))
        return self.view.window(lattice, 2, i, j, low.T, np.full((1, 1), top))


def _closed_up(lines: Lines) -> tuple[slice, Floats, Floats]:
    """Stretches on rising scan lines as a range of lines, with empty ones where some are missing."""
    rows = span(lines.line)
    start, stop = np.zeros(rows.stop - rows.start), np.zeros(rows.stop - rows.start)
    start[lines.line - rows.start], stop[lines.line - rows.start] = lines.start, lines.stop
    return rows, start, stop


@dataclass(frozen=True, eq=False)
class Stack(Layers):
    """Regions one above the other, of any shape; ``slices`` the same at the lattice's own heights, for lines across.

    Lines along see the layers as stairs, which add up to ``stairs`` (mm3) at most.
    """

    slices: tuple[Layer, ...] = ()
    stairs: float = 0.0

    def _upright(self, lattice: Lattice) -> Iterator[Window]:
        for layer in self.layers:
            cells = self._cells(lattice, layer)
            yield self._on_cells(lattice, cells, np.full(len(cells), layer.low), layer.high)

    def _all_across(self, lattice: Lattice, local: int) -> Iterator[Window]:
        for layer in self.slices:
            yield from self._across(lattice, local, layer)


@dataclass(frozen=True, eq=False)
class Lifted:
    """What stands on triangles that look up, as far as a height above them."""

    view: View
    triangles: Floats
    top: float

    def windows(self, lattice: Lattice, axis: int) -> Iterator[Window]:
        """Upright, from the triangles up; across, where they have their heights, and all alike above them."""
        local = self.view.axes.index(axis)
        if local == 2:
            yield self._upright(lattice)
            return
        lines = solid_lines(self._closed, lattice, axis)
        yield from windows_of(lines, lattice.shape(axis))
        yield from self._above.windows(lattice, axis)

    @cached_property
    def _high(self) -> float:
        return float(self.triangles[:, :, 2].max())

    @cached_property
    def _above(self) -> Layers:
        return Layers(self.view, (Layer(self._high, self.top, Shadow(self.triangles)),))

    def _upright(self, lattice: Lattice) -> Window:
        xs, ys = self.view.middles(lattice, 0), self.view.middles(lattice, 1)
        line, at, _ = crossings(self.triangles, (0, 1, 2), xs, ys)
        first, second = np.divmod(line, len(ys))
        i, j = (span(np.sort(places)) for places in (first, second))
        low = np.full((i.stop - i.start, j.stop - j.start), self.top)
        np.minimum.at(low, (first - i.start, second - j.start), at)
        return self.view.window(lattice, 2, i, j, low, np.full((1, 1), self.top))

    @cached_property
    def _closed(self) -> Floats:
        """The surface of what lies below their highest corner: the triangles, their copy up there and walls at their
        border (part's frame)."""
        roof = self.triangles.copy()
        roof[:, :, 2] = self._high
        p, q = bare_sides(self.triangles).transpose(1, 0, 2)
        p1, q1 = p.copy(), q.copy()
        p1[:, 2] = q1[:, 2] = self._high
        walls = (np.stack((p, q, q1), axis=1), np.stack((p, q1, p1), axis=1))
        return self.view.to_part(np.concatenate([self.triangles[:, ::-1], roof, *walls]))


def bare_sides(triangles: Floats) -> Floats:
    """The sides (n, 2, 3) of triangles without those that two of them share; one without area has none of its own."""
    cells = np.round(triangles.reshape(-1, 3) / GRID).astype(np.int64)
    _, name = np.unique(cells @ np.array((1, 3_000_000_019, 5_000_000_029)), return_inverse=True)
    name = name.reshape(-1, 3)
    wide = (name != name[:, (1, 2, 0)]).all(axis=1)
    triangles, a, b = triangles[wide], name[wide].reshape(-1), name[wide][:, (1, 2, 0)].reshape(-1)
    lone = ~np.isin(a * name.size + b, b * name.size + a)
    return np.stack((triangles, triangles[:, (1, 2, 0)]), axis=2).reshape(-1, 2, 3)[lone]
