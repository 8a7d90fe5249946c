"""Solids that tools sweep along a setup's axis: turned ones, regions given height, faces lifted (setup's frame, mm)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

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
        """Chords across, one interval along."""
        local = self.view.axes.index(axis)
        yield self._upright(lattice) if local == 2 else self._across(lattice, local)

    def _upright(self, lattice: Lattice) -> Window:
        xs, ys = self.view.middles(lattice, 0), self.view.middles(lattice, 1)
        i, j = (_between(at, m - self.radii[-1], m + self.radii[-1]) for at, m in ((xs, self.x), (ys, self.y)))
        away = np.hypot(xs[i, None] - self.x, ys[None, j] - self.y)
        low = np.interp(away, *_rising(self.radii, self.heights), left=self.heights[0])
        top = self.heights[-1]
        return self.view.window(lattice, 2, i, j, np.where(away < self.radii[-1], low, top), np.full((1, 1), top))

    def _across(self, lattice: Lattice, local: int) -> Window:
        """Lines along the setup's x or y, at every height that the solid has."""
        centre, beside = (self.x, self.y) if local == 0 else (self.y, self.x)
        us, zs = self.view.middles(lattice, 1 - local), self.view.middles(lattice, 2)
        i = _between(us, beside - self.radii[-1], beside + self.radii[-1])
        k = _between(zs, self.heights[0], self.heights[-1])
        radius = np.interp(zs[None, k], self.heights, self.radii)
        half = np.sqrt(np.maximum(radius**2 - (us[i, None] - beside) ** 2, 0.0))
        return self.view.window(lattice, local, i, k, centre - half, centre + half)


def _between(at: Floats, low: float, high: float) -> slice:
    """The places of rising values within two ends."""
    start = int(np.searchsorted(at, low, side="right"))
    return slice(start, max(start, int(np.searchsorted(at, high))))


def _rising(radii: Sequence[float], heights: Sequence[float]) -> tuple[Floats, Floats]:
    """Radius to lowest height, for interpolation: of equal radii the lowest."""
    found: list[tuple[float, float]] = []
    for r, z in zip(radii, heights, strict=True):
        if not found or r > found[-1][0]:
            found.append((r, z))
    return np.array([r for r, _ in found]), np.array([z for _, z in found])


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
        p, q = _bare_sides(self.triangles).transpose(1, 0, 2)
        p1, q1 = p.copy(), q.copy()
        p1[:, 2] = q1[:, 2] = self._high
        walls = (np.stack((p, q, q1), axis=1), np.stack((p, q1, p1), axis=1))
        return self.view.to_part(np.concatenate([self.triangles[:, ::-1], roof, *walls]))


def _bare_sides(triangles: Floats) -> Floats:
    """The sides (n, 2, 3) of triangles without those that two of them share; one without area has none of its own."""
    cells = np.round(triangles.reshape(-1, 3) / GRID).astype(np.int64)
    _, name = np.unique(cells @ np.array((1, 3_000_000_019, 5_000_000_029)), return_inverse=True)
    name = name.reshape(-1, 3)
    wide = (name != name[:, (1, 2, 0)]).all(axis=1)
    triangles, a, b = triangles[wide], name[wide].reshape(-1), name[wide][:, (1, 2, 0)].reshape(-1)
    lone = ~np.isin(a * name.size + b, b * name.size + a)
    return np.stack((triangles, triangles[:, (1, 2, 0)]), axis=2).reshape(-1, 2, 3)[lone]
