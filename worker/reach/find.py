"""The worst place of an assembly on the height map, with bounds that allow for the width of a column (mm)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from schemas.tolerances import LENGTH
from worker.reach.assembly import Section, underside
from worker.reach.distance import lengths, squares
from worker.reach.obstacles import Obstacles
from worker.reach.path import Level, window_of
from worker.reach.raster import Floats, Ints, Mask

EDGE = 1.0
"""In columns: how far an outline can lie outside the outermost column within it."""
FOOT_BIAS = 2 * EDGE
"""By how much two outlines can be nearer than their columns."""
AXIS_NEAR, AXIS_FAR = 2.5, 1.5
"""By how much metal can be nearer to, or farther from, the axis than its columns: those were searched with slack."""


@dataclass(frozen=True)
class Ring:
    """Columns with metal above the tip near a level's axis: place, height above the tip, distance (both bounds).

    ``aside``: columns that do not stand at the foot's own border, so that their distance from it says nothing of
    their distance from the axis.
    """

    rows: Ints
    columns: Ints
    rise: Floats
    near: Floats
    far: Floats
    aside: Mask
    tip: float

    def __len__(self) -> int:
        return len(self.rise)

    def where(self, kept: Mask) -> Ring:
        """Some of its columns."""
        if kept.all():
            return self
        places, sizes = (self.rows[kept], self.columns[kept]), (self.rise[kept], self.near[kept], self.far[kept])
        return Ring(*places, *sizes, self.aside[kept], self.tip)


@dataclass(frozen=True)
class Need:
    """How much a section would have to be higher above the tip: at least ``low``, at most ``high``; and where."""

    low: float
    high: float
    row: int
    column: int
    tip: float


NO_NEED = Need(-np.inf, -np.inf, -1, -1, 0.0)


def ring_of_level(level: Level, around: Obstacles, radius: float) -> Ring:
    """The columns outside the level's foot that rise above its tip within ``radius`` of its axis."""
    h, top = around.grid.h, around.top
    foot = level.foot if level.radius > 0 else np.zeros_like(level.foot)
    rows, columns = window_of(level.metal, radius + 2 * (level.turn or 0.0), h)
    rising = (top[rows, columns] > level.tip + LENGTH) & ~foot[rows, columns]
    if not rising.any():
        return _nothing(top, level.tip)
    inner = window_of(rising, radius + AXIS_NEAR * h, h)
    rows, columns = _inside(rows, inner[0]), _inside(columns, inner[1])
    r, c = np.nonzero((top[rows, columns] > level.tip + LENGTH) & ~foot[rows, columns])
    near, far = _bounds(level, rows, columns, (r, c), h, radius)
    kept = near < radius
    r, c, near, far = r[kept], c[kept], near[kept], far[kept]
    aside = level.outer[rows, columns][r, c] & (level.radius > 0)
    if level.radius > 0 and level.runs_out:
        aside |= around.past(rows, columns)[r, c]
    return _ring(r + rows.start, c + columns.start, top, level.tip, near, far, aside)


def _nothing(top: Floats, tip: float) -> Ring:
    return _ring(np.zeros(0, np.int64), np.zeros(0, np.int64), top, tip, np.zeros(0), np.zeros(0), np.zeros(0, bool))


def _inside(outer: slice, inner: slice) -> slice:
    """A slice of a slice, in the numbers of the whole."""
    return slice(outer.start + inner.start, outer.start + inner.stop)


def _bounds(
    level: Level, rows: slice, columns: slice, at: tuple[Ints, Ints], h: float, radius: float
) -> tuple[Floats, Floats]:
    """Of some places of a window, ``at``. The axis is looked for in a wider window than the metal: half a turn of the
    tool lies between them."""
    shape, cells = level.foot.shape, int(np.ceil(2 * (level.turn or 0.0) / h)) + 3
    wide = (_wider(rows, cells, shape[0]), _wider(columns, cells, shape[1]))
    back = tuple(slice(i.start - o.start, i.stop - o.start) for i, o in zip((rows, columns), wide, strict=True))
    from_axis = _apart(level.axis(*wide, h)[back], at, h, radius + AXIS_NEAR * h)
    near = from_axis - AXIS_NEAR * h
    if level.radius > 0:
        from_foot = _apart(level.outer[rows, columns], at, h, max(radius - level.radius, 0.0) + FOOT_BIAS * h)
        near = np.maximum(np.maximum(near, level.radius), from_foot + level.radius - FOOT_BIAS * h)
    return near, from_axis + AXIS_FAR * h


def _apart(mask: Mask, at: tuple[Ints, Ints], h: float, limit: float) -> Floats:
    """Distances of some places, whose window alone is asked for. What is narrower than high is laid on its side."""
    if np.count_nonzero(mask.any(axis=0)) < np.count_nonzero(mask.any(axis=1)):
        mask, at = np.ascontiguousarray(mask.T), (at[1], at[0])
    if not len(at[0]):
        return np.zeros(0)
    (top, left), (bottom, right) = ([int(pick(places)) for places in at] for pick in (np.min, np.max))
    squared = squares(mask, h, limit, slice(top, bottom + 1), slice(left, right + 1))
    return lengths(squared[at[0] - top, at[1] - left], h, limit)


def _wider(inner: slice, cells: int, size: int) -> slice:
    return slice(max(inner.start - cells, 0), min(inner.stop + cells, size))


def ring_of_plunge(centre: tuple[float, float], tip: float, own: float, around: Obstacles, radius: float) -> Ring:
    """The columns that rise above the tip within ``radius`` of a tool's axis and outside its own radius."""
    grid = around.grid
    half = EDGE * grid.h
    low = (centre[0] - radius - half, centre[1] - radius - half)
    rows, columns = grid.window(low, (centre[0] + radius + half, centre[1] + radius + half))
    here = grid.part(rows, columns)
    away = np.hypot(here.xs()[None, :] - centre[0], here.ys()[:, None] - centre[1])
    top = around.top
    found = (top[rows, columns] > tip + LENGTH) & (away > own) & (away - half < radius)
    r, c = np.nonzero(found)
    near, far = np.maximum(away[r, c] - half, own), away[r, c]
    return _ring(r + rows.start, c + columns.start, top, tip, near, far, np.zeros(len(r), bool))


def _ring(rows: Ints, columns: Ints, top: Floats, tip: float, near: Floats, far: Floats, aside: Mask) -> Ring:
    return Ring(rows, columns, top[rows, columns] - tip, near, far, aside, tip)


def need(ring: Ring, section: Section) -> Need:
    """The most that the section would have to be lifted to clear the ring; negative when it has room to spare."""
    if not len(ring):
        return NO_NEED
    low, high = (ring.rise - underside(section, away) for away in (ring.far, ring.near))
    worst = int(np.argmax(high))
    if not np.isfinite(high[worst]):
        return NO_NEED
    return Need(float(low.max()), float(high[worst]), int(ring.rows[worst]), int(ring.columns[worst]), ring.tip)


def least_radius(ring: Ring, height: float) -> float:
    """The largest radius that clears all that rises above ``height`` over the tip; +inf when nothing does."""
    tall = ring.rise > height + LENGTH
    return float(ring.near[tall].min()) if tall.any() else np.inf


def worst_of(needs: list[Need], key: Callable[[Need], float] = lambda n: n.high) -> Need:
    """The need with the highest upper bound; the first of equals."""
    return max(needs, key=key, default=NO_NEED)
