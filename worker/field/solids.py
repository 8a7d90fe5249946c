"""Solids that tools sweep along a setup's axis: turned ones, regions given height, faces lifted (setup's frame, mm)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from worker.field.lattice import Lattice
from worker.field.lines import NONE, Floats, Lines, together
from worker.field.plane import Region
from worker.field.surface import solid_lines, spread
from worker.field.view import View


@dataclass(frozen=True, eq=False)
class Turned:
    """Round the vertical through (x, y): radius ``radii`` at ``heights``, both not falling; straight between them."""

    view: View
    x: float
    y: float
    heights: tuple[float, ...]
    radii: tuple[float, ...]

    def lines(self, lattice: Lattice, axis: int) -> Lines:
        """Chords across, one interval along."""
        local = self.view.axes.index(axis)
        return self._upright(lattice) if local == 2 else self._across(lattice, local)

    def _upright(self, lattice: Lattice) -> Lines:
        xs, ys = self.view.middles(lattice, 0), self.view.middles(lattice, 1)
        i, j = (np.flatnonzero(np.abs(c - m) < self.radii[-1]) for c, m in ((xs, self.x), (ys, self.y)))
        i, j = (g.ravel() for g in np.meshgrid(i, j, indexing="ij"))
        away = np.hypot(xs[i] - self.x, ys[j] - self.y)
        keep = away < self.radii[-1]
        i, j, away = i[keep], j[keep], away[keep]
        low = np.interp(away, *_rising(self.radii, self.heights), left=self.heights[0])
        return self.view.numbered(lattice, 2, i, j, low, np.full(len(low), self.heights[-1]))

    def _across(self, lattice: Lattice, local: int) -> Lines:
        """Lines along the setup's x or y, at every height that the solid has."""
        other = 1 - local
        centre, beside = (self.x, self.y) if local == 0 else (self.y, self.x)
        us, zs = self.view.middles(lattice, other), self.view.middles(lattice, 2)
        k = np.flatnonzero((zs > self.heights[0]) & (zs < self.heights[-1]))
        radius = np.interp(zs[k], self.heights, self.radii)
        which, line = spread(np.searchsorted(us, beside - radius), np.searchsorted(us, beside + radius))
        half = np.sqrt(np.maximum(radius[which] ** 2 - (us[line] - beside) ** 2, 0.0))
        return self.view.numbered(lattice, local, line, k[which], centre - half, centre + half)


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

    def lines(self, lattice: Lattice, axis: int) -> Lines:
        """Stretches of the regions at every height they have; upright, from the lowest region that holds a cell."""
        local = self.view.axes.index(axis)
        if not self.layers:
            return NONE
        return self._upright(lattice) if local == 2 else self._all_across(lattice, local)

    def _all_across(self, lattice: Lattice, local: int) -> Lines:
        return together([self._across(lattice, local, s) for s in self.layers])

    def _across(self, lattice: Lattice, local: int, layer: Layer) -> Lines:
        us, zs = self.view.middles(lattice, 1 - local), self.view.middles(lattice, 2)
        k = np.flatnonzero((zs > layer.low) & (zs < layer.high))
        found = layer.region.scan(local, us)
        repeat = np.repeat(np.arange(len(found)), len(k))
        height = np.tile(k, len(found))
        return self.view.numbered(lattice, local, found.line[repeat], height, found.start[repeat], found.stop[repeat])

    def _upright(self, lattice: Lattice) -> Lines:
        xs, ys = self.view.middles(lattice, 0), self.view.middles(lattice, 1)
        low = np.full((len(xs), len(ys)), np.inf)
        for layer in reversed(self.layers):
            found = layer.region.scan(0, ys)
            span, i = spread(np.searchsorted(xs, found.start), np.searchsorted(xs, found.stop))
            low[i, found.line[span]] = layer.low
        i, j = np.nonzero(np.isfinite(low))
        return self.view.numbered(lattice, 2, i, j, low[i, j], np.full(len(i), self.layers[-1].high))


@dataclass(frozen=True, eq=False)
class Stack(Layers):
    """Regions one above the other, of any shape; ``slices`` the same at the lattice's own heights, for lines across.

    Lines along see the layers as stairs, which add up to ``stairs`` (mm3) at most.
    """

    slices: tuple[Layer, ...] = ()
    stairs: float = 0.0

    def _upright(self, lattice: Lattice) -> Lines:
        xs, ys = self.view.middles(lattice, 0), self.view.middles(lattice, 1)
        return together([self._of_layer(lattice, layer, xs, ys) for layer in self.layers])

    def _all_across(self, lattice: Lattice, local: int) -> Lines:
        return together([self._across(lattice, local, s) for s in self.slices])

    def _of_layer(self, lattice: Lattice, layer: Layer, xs: Floats, ys: Floats) -> Lines:
        found = layer.region.scan(0, ys)
        span, i = spread(np.searchsorted(xs, found.start), np.searchsorted(xs, found.stop))
        low, high = np.full(len(i), layer.low), np.full(len(i), layer.high)
        return self.view.numbered(lattice, 2, i, found.line[span], low, high)


@dataclass(frozen=True, eq=False)
class Lifted:
    """What stands on triangles that look up, as far as a height."""

    view: View
    triangles: Floats
    top: float

    def lines(self, lattice: Lattice, axis: int) -> Lines:
        """Those of the closed surface made of the triangles, their copy at the top and the walls between."""
        return solid_lines(self.view.to_part(self._closed()), lattice, axis)

    def _closed(self) -> Floats:
        floor = self.triangles[:, ::-1]
        roof = self.triangles.copy()
        roof[:, :, 2] = self.top
        walls = []
        for a, b in ((0, 1), (1, 2), (2, 0)):
            p, q, p1, q1 = self.triangles[:, a], self.triangles[:, b], roof[:, a], roof[:, b]
            walls += [np.stack((p, q, q1), axis=1), np.stack((p, q1, p1), axis=1)]
        return np.concatenate([floor, roof, *walls])
