"""Faces on a square grid: which columns they stand over, and how high (mm, in the frame of the faces)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from worker.kernel.relief import Relief

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]

NOTHING = -np.inf
"""Height of a column without metal."""
_VERTICAL = 1e-9
"""Twice the projected area (in cells) below which a triangle stands upright and covers no column."""


@dataclass(frozen=True)
class Grid:
    """Columns at ``x0 + i h``, ``y0 + j h`` for i < nx, j < ny; maps have the shape (ny, nx)."""

    x0: float
    y0: float
    h: float
    nx: int
    ny: int

    @property
    def shape(self) -> tuple[int, int]:
        """Shape of a map on this grid."""
        return (self.ny, self.nx)

    def xs(self) -> Floats:
        """x of the columns."""
        return np.asarray(self.x0 + self.h * np.arange(self.nx), dtype=np.float64)

    def ys(self) -> Floats:
        """y of the columns."""
        return np.asarray(self.y0 + self.h * np.arange(self.ny), dtype=np.float64)

    def window(self, low: tuple[float, float], high: tuple[float, float]) -> tuple[slice, slice]:
        """The slices of the columns between two corners, one cell wider on each side, clipped to the grid."""
        i0, j0 = (int(np.floor((c - o) / self.h)) - 1 for c, o in zip(low, (self.x0, self.y0), strict=True))
        i1, j1 = (int(np.ceil((c - o) / self.h)) + 2 for c, o in zip(high, (self.x0, self.y0), strict=True))
        return _clip(j0, j1, self.ny), _clip(i0, i1, self.nx)

    def part(self, rows: slice, columns: slice) -> Grid:
        """The grid of a window."""
        x0, y0 = self.x0 + columns.start * self.h, self.y0 + rows.start * self.h
        return Grid(x0, y0, self.h, columns.stop - columns.start, rows.stop - rows.start)


def _clip(start: int, stop: int, size: int) -> slice:
    low = min(max(start, 0), size)
    return slice(low, max(min(stop, size), low))


OFFSET = 0.3819660113
"""Where the first column lies in its cell: an irrational part, so that no wall of a drawing falls on a column."""


def grid_over(low: tuple[float, float], high: tuple[float, float], h: float) -> Grid:
    """The grid that covers a rectangle; its columns keep off round coordinates."""
    x0, y0 = ((np.floor(c / h) - 1 + OFFSET) * h for c in low)
    nx, ny = (int(np.ceil((c - o) / h)) + 2 for c, o in zip(high, (x0, y0), strict=True))
    return Grid(float(x0), float(y0), h, nx, ny)


@dataclass(frozen=True)
class Hits:
    """Where faces cross columns: flat column index, height, +1 for a face that looks up and -1 for down."""

    column: Ints
    height: Floats
    sign: NDArray[np.int8]


NO_HITS = Hits(np.zeros(0, np.int64), np.zeros(0), np.zeros(0, np.int8))


def hits(triangles: Floats, grid: Grid) -> Hits:
    """Every crossing of a column with a triangle; ``triangles`` is (n, 3, 3), outward by the right-hand rule.

    A column on the common edge of two triangles meets exactly one of them, so closed meshes give closed columns.
    """
    if not len(triangles):
        return NO_HITS
    cells = np.empty_like(triangles)
    cells[:, :, 0] = (triangles[:, :, 0] - grid.x0) / grid.h
    cells[:, :, 1] = (triangles[:, :, 1] - grid.y0) / grid.h
    cells[:, :, 2] = triangles[:, :, 2]
    edge1, edge2 = cells[:, 1] - cells[:, 0], cells[:, 2] - cells[:, 0]
    turn = edge1[:, 0] * edge2[:, 1] - edge1[:, 1] * edge2[:, 0]
    lying = np.flatnonzero(np.abs(turn) > _VERTICAL)
    slope = _slopes(edge1[lying], edge2[lying], turn[lying])
    return _scan(cells[lying], slope, np.where(turn[lying] > 0, 1, -1).astype(np.int8), grid)


def _slopes(edge1: Floats, edge2: Floats, turn: Floats) -> Floats:
    """dz/du and dz/dv of each triangle's plane."""
    du = (edge1[:, 2] * edge2[:, 1] - edge2[:, 2] * edge1[:, 1]) / turn
    dv = (edge2[:, 2] * edge1[:, 0] - edge1[:, 2] * edge2[:, 0]) / turn
    return np.stack((du, dv), axis=1)


def _scan(cells: Floats, slope: Floats, sign: NDArray[np.int8], grid: Grid) -> Hits:
    """Row by row: the span of each triangle on each row, then the columns in each span (half-open both ways)."""
    order = np.argsort(cells[:, :, 1], axis=1, kind="stable")
    low, mid, high = (np.take_along_axis(cells, order[:, k, None, None], axis=1)[:, 0] for k in range(3))
    first, last = _ceil_clip(low[:, 1], grid.ny), _ceil_clip(high[:, 1], grid.ny)
    which, row = _spread(first, last)
    long_side = _at(low, high, which, row)
    below = row < mid[which, 1]
    short_side = np.where(below, _at(low, mid, which, row), _at(mid, high, which, row))
    start = _ceil_clip(np.minimum(long_side, short_side), grid.nx)
    stop = _ceil_clip(np.maximum(long_side, short_side), grid.nx)
    span, column = _spread(start, stop)
    owner, line = which[span], row[span]
    base = low[:, 2] - slope[:, 0] * low[:, 0] - slope[:, 1] * low[:, 1]
    on_line = (base[which] + slope[which, 1] * row)[span]
    height = on_line + slope[owner, 0] * column
    return Hits(line * grid.nx + column, height, sign[owner])


def _ceil_clip(value: Floats, size: int) -> Ints:
    return np.clip(np.ceil(value), 0, size).astype(np.int64)


def _spread(start: Ints, stop: Ints) -> tuple[Ints, Ints]:
    """For each range its number, repeated, and its members one after the other."""
    count = np.maximum(stop - start, 0)
    owner = np.repeat(np.arange(len(count)), count)
    ends = np.cumsum(count)
    member = np.arange(len(owner)) - np.repeat(ends - count, count) + np.repeat(start, count)
    return owner, member


def _at(a: Floats, b: Floats, which: Ints, row: Ints) -> Floats:
    """u where the side from a to b crosses the row."""
    rise = (b - a)[:, 1]
    lean = np.divide((b - a)[:, 0], rise, out=np.zeros(len(a)), where=np.abs(rise) > 0)
    return np.asarray(a[which, 0] + (row - a[which, 1]) * lean[which], dtype=np.float64)


def crossed(relief: Relief, grid: Grid) -> Hits:
    """Every crossing of a column with a face of a relief: exact outlines row by row, and its triangles."""
    owner, row, start, stop = _spans(relief, grid)
    span, column = _spread(start, stop)
    other = hits(relief.triangles, grid)
    sign = np.where(relief.up, 1, -1).astype(np.int8)[owner]
    return Hits(
        np.append((row * grid.nx)[span] + column, other.column),
        np.append(_on_laws(relief.laws[owner], grid.ys()[row], span, grid.xs(), column), other.height),
        np.append(sign[span], other.sign),
    )


def _spans(relief: Relief, grid: Grid) -> tuple[Ints, Ints, Ints, Ints]:
    """Face, row, first column and end of each stretch of a row within a face's outline, half-open both ways."""
    low, high, _, x0, slope, centre, radius, side = relief.pieces.T
    first, last = (_ceil_clip((ends - grid.y0) / grid.h, grid.ny) for ends in (low, high))
    which, row = _spread(first, last)
    y = grid.y0 + grid.h * row
    bow = np.sqrt(np.maximum(radius[which] ** 2 - (y - centre[which]) ** 2, 0.0))
    x = x0[which] + slope[which] * (y - low[which]) + side[which] * bow
    owner = relief.owner[which]
    order = np.lexsort((x, row, owner))
    owner, row, at = owner[order], row[order], _ceil_clip((x[order] - grid.x0) / grid.h, grid.nx)
    begin, end = _pairs(owner * grid.ny + row)
    return owner[begin], row[begin], at[begin], at[end]


def _pairs(group: Ints) -> tuple[Ints, Ints]:
    """Numbers of the first and second of each pair within runs of one value; of an odd run its first and its last.

    A row meets a closed outline an even number of times, but where it runs through a gap between two edges' ends.
    """
    starts = np.flatnonzero(np.diff(group, prepend=-1))
    size = np.diff(starts, append=len(group))
    even = size % 2 == 0
    run, member = _spread(np.zeros(int(even.sum()), np.int64), size[even] // 2)
    begin = starts[even][run] + 2 * member
    odd = starts[~even]
    return np.append(begin, odd), np.append(begin + 1, odd + size[~even] - 1)


def _on_laws(laws: Floats, y: Floats, span: Ints, xs: Floats, column: Ints) -> Floats:
    """Heights by the law of each stretch (m, 6), at its y (m,), in columns of it: level faces are most."""
    a, b, c, d, e, f = laws.T
    height: Floats = (a + c * y)[span]
    if b.any():
        height += b[span] * xs[column]
    if d.any():
        on = np.flatnonzero(d[span] != 0.0)
        at = span[on]
        height[on] += d[at] * np.hypot(xs[column[on]] - e[at], (y - f)[at])
    return height


def highest(found: Hits, grid: Grid) -> Floats:
    """The highest crossing on each column; NOTHING where there is none."""
    result = np.full(grid.ny * grid.nx, NOTHING)
    np.maximum.at(result, found.column, found.height)
    return result.reshape(grid.shape)


def lowest(found: Hits, grid: Grid) -> Floats:
    """The lowest crossing on each column; +inf where there is none."""
    result = np.full(grid.ny * grid.nx, np.inf)
    np.minimum.at(result, found.column, found.height)
    return result.reshape(grid.shape)
