"""Cutters with a round corner: a ground cleared to a level floor, whose border is left as round as the cutter (mm).

A cutter of radius R with a corner of radius r whose tip is at height 0 is R - e wide at a height t, where
e = r - sqrt(2 r t - t^2). So at that height it takes what a narrower cutter takes whose axis goes the same ways: all
that lies at least e off the borders, and in corners, where its axis stands still, what discs of R - e cover.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.borders import Border, borders_of, distances, off
from worker.field.lattice import Lattice
from worker.field.lines import Floats, Lines, Mask, subtract, together
from worker.field.plane import Known, Minus, Region, sorted_lines
from worker.field.scene import Scene
from worker.field.solids import Layer, Stack
from worker.field.tight import Opened, Place, axis_within, left_beside
from worker.field.windows import Window, span

MISSED = 2 * 0.0609
"""Area that lines ``h`` apart miss of a quarter round, in ``h^1.5 sqrt(2 r)``: at its foot, and where it meets the
wall, it runs along them."""
Axes = dict[tuple[int, int], Lines]
"""Where the axis can be within a place, by the place's number and the direction of the lines."""


@dataclass(frozen=True, eq=False)
class Cleared:
    """One level: its heights, what is free there and what of that the cutter covers."""

    layer: Layer
    free: Minus
    fit: Region
    covered: Known

    def up_to(self, high: float) -> Cleared:
        """The same level, ending higher."""
        return replace(self, layer=replace(self.layer, high=high))


@dataclass(frozen=True, eq=False)
class Floor(Stack):
    """A level with its floor: ``columns`` are lowest heights on the lattice's lines along the spindle, from the line
    ``corner`` on; ``lost`` is what lines miss of the round border, ``chords`` what triangles that it ends on cut off
    such faces as are turned exactly elsewhere (mm3)."""

    corner: tuple[int, int] = (0, 0)
    columns: Floats | None = None
    lost: float = 0.0
    chords: float = 0.0

    def doubt(self, top: float) -> tuple[float, float]:
        """How far the volume below a height may be off, and what lines miss of it, mm3."""
        sure, missed = super().doubt(top)
        return sure + self.chords, missed + self.lost

    def _upright(self, lattice: Lattice) -> Iterator[Window]:
        if self.columns is not None:
            (i, j), (n, m), top = self.corner, self.columns.shape, np.full((1, 1), self.slices[-1].high)
            yield self.view.window(lattice, 2, slice(i, i + n), slice(j, j + m), self.columns, top)


def rounded(scene: Scene, level: Cleared, corner_radius: float) -> Floor:
    """What a cutter of that corner radius takes from a level's floor up."""
    if isinstance(level.fit, Opened):
        corner_radius = min(corner_radius, level.fit.radius)
    borders = borders_of(level.free, scene.room, corner_radius, scene.scan_lines[0])
    axes = _axes(scene, level)
    low, covered = level.layer.low, level.covered
    at = scene.view.middles(scene.lattice, 2)
    slices = []
    for k in np.flatnonzero((at > low) & (at < low + corner_radius)).tolist():
        inset = corner_radius - math.sqrt(corner_radius**2 - (corner_radius - (at[k] - low)) ** 2)
        region = _section(scene, level, borders, axes, inset)
        slices.append(Layer(at[k] - COINCIDENT, at[k] + COINCIDENT, region))
    slices.append(Layer(low + corner_radius - COINCIDENT, scene.top, covered))
    corner, columns, lost = _columns(scene, level, borders, axes, corner_radius)
    return Floor(scene.view, (level.layer,), tuple(slices), 0.0, corner, columns, lost)


def _axes(scene: Scene, level: Cleared) -> Axes:
    if not isinstance(level.fit, Opened):
        return {}
    lines, at = level.covered.lines, scene.scan_lines
    return {
        (number, along): axis_within(lines[along], place, level.fit.radius, along, at[along])
        for number, place in enumerate(level.fit.cornered)
        for along in (0, 1)
    }


def _section(scene: Scene, level: Cleared, borders: tuple[Border, ...], axes: Axes, inset: float) -> Known:
    """What the cutter takes where it is narrower by ``inset`` all round."""
    at = scene.scan_lines
    x, y = (_narrower(level, borders, axes, inset, along, at[along]) for along in (0, 1))
    return Known(at, (x, y))


def _narrower(level: Cleared, borders: tuple[Border, ...], axes: Axes, inset: float, along: int, at: Floats) -> Lines:
    found = sorted_lines(off(level.covered.lines[along], borders, inset, along, at))
    if not isinstance(level.fit, Opened):
        return found
    left = [
        left_beside(found, place, level.fit.radius - inset, axes[number, along], along, at)
        for number, place in enumerate(level.fit.cornered)
    ]
    return sorted_lines(subtract(found, together(left)))


def _columns(
    scene: Scene, level: Cleared, borders: tuple[Border, ...], axes: Axes, r: float
) -> tuple[tuple[int, int], Floats | None, float]:
    """Lowest heights on the lattice's upright lines, from which line on; and what lines miss of the round border."""
    ys, xs = scene.scan_lines
    whole = cells(level.covered.lines[0], xs, len(ys))
    if not whole.any():
        return (0, 0), None, 0.0
    band = whole & ~cells(_narrower(level, borders, axes, r, 0, ys), xs, len(ys))
    first, second = np.nonzero(band)
    deep = distances(np.stack((xs[first], ys[second]), axis=1), borders, r)
    if isinstance(level.fit, Opened):
        deep = _in_corners(level.fit, axes, band, (xs, ys), deep, r)
    low, heights = level.layer.low, np.where(whole, level.layer.low, scene.top)
    heights[first, second] = low + r - np.sqrt(np.maximum(r * r - (r - np.clip(deep, 0.0, r)) ** 2, 0.0))
    size = float(np.sum(np.gradient(xs)[first] * np.gradient(ys)[second]))
    h = coarseness(scene)
    i, j = (span(np.flatnonzero(whole.any(axis=axis))) for axis in (1, 0))
    return (i.start, j.start), heights[i, j], MISSED * h**1.5 * math.sqrt(2 * r) * size / r


def coarseness(scene: Scene) -> float:
    """The widest gap between neighbouring scan lines (mm)."""
    return float(max(np.diff(at).max(initial=0.0) for at in scene.scan_lines))


def _in_corners(fit: Opened, axes: Axes, band: Mask, at: tuple[Floats, Floats], deep: Floats, r: float) -> Floats:
    """How deep points of the band lie in what the cutter covers, also where its axis stands in a corner."""
    first, second = np.nonzero(band)
    points = np.stack((at[0][first], at[1][second]), axis=1)
    for number, place in enumerate(fit.cornered):
        axis = cells(axes[number, 0], at[0], len(at[1]))[first, second]
        here = np.flatnonzero(_within(points, place) & ~axis)
        for some in np.array_split(here, len(here) // 500 + 1):
            gap = points[some, None] - place.axis[None]
            away = np.sqrt(np.min(np.sum(gap * gap, axis=2), axis=1, initial=(fit.radius + r) ** 2))
            deep[some] = np.minimum(deep[some], fit.radius - away)
    return deep


def _within(points: Floats, place: Place) -> Mask:
    low, high = np.array(place.box[:2]), np.array(place.box[2:])
    return np.asarray(np.all((points > low) & (points < high), axis=1))


def cells(lines: Lines, xs: Floats, count: int) -> Mask:
    """Which points of a grid (x, y) stretches along x hold."""
    change = np.zeros((len(xs) + 1, count), np.int64)
    np.add.at(change, (np.searchsorted(xs, lines.start), lines.line), 1)
    np.add.at(change, (np.searchsorted(xs, lines.stop), lines.line), -1)
    return np.asarray(np.cumsum(change, axis=0)[:-1] > 0)
