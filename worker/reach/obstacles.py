"""What the assembly may not touch, as height maps of one setup: stock as each step leaves it, and workholding (mm)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame
from schemas.tolerances import LENGTH
from worker.kernel.planar import Bounds
from worker.kernel.relief import Relief, relief_of
from worker.kernel.shape import Body
from worker.reach.raster import NOTHING, Floats, Grid, Ints, crossed, grid_over, highest, lowest
from worker.stage.model import Stage

FINEST = 0.2
"""Distance of columns (mm) where the setup is small enough."""
MOST_COLUMNS = 120_000
"""Columns of one setup: a larger setup gets coarser ones. Finding only; solids decide."""
NOBODY = -1


@dataclass(frozen=True)
class Swept:
    """Where a step's tool passes, column by column: its lowest and highest point; +inf and -inf elsewhere."""

    low: Floats
    high: Floats


@dataclass(frozen=True)
class Obstacles:
    """Tops of what stands round a step, once it is done; ``owner`` numbers the workholding's bodies, NOBODY is stock.

    ``before`` is the stock as the step finds it, ``stock`` as it leaves it. ``plan`` is the rectangle of stock and
    part in x, y.
    """

    grid: Grid
    plan: Bounds
    before: Floats
    stock: Floats
    holding: Floats
    holding_owner: NDArray[np.int8]

    @cached_property
    def top(self) -> Floats:
        """The higher of stock and workholding."""
        return np.maximum(self.stock, self.holding)

    def past(self, rows: slice, columns: slice) -> NDArray[np.bool_]:
        """The columns of a window that lie outside the rectangle of stock and part."""
        here = self.grid.part(rows, columns)
        x0, y0, x1, y1 = self.plan
        xs, ys = here.xs()[None, :], here.ys()[:, None]
        return np.asarray((xs < x0) | (xs > x1) | (ys < y0) | (ys > y1))

    def held(self, rows: Ints, columns: Ints) -> NDArray[np.bool_]:
        """Whether the top of each column is the workholding's."""
        return np.asarray(self.holding[rows, columns] > self.stock[rows, columns])

    def owner(self, row: int, column: int) -> int:
        """Whose top it is."""
        return int(self.holding_owner[row, column]) if self.holding[row, column] > self.stock[row, column] else NOBODY


def grid_of(stage: Stage, reliefs: Iterable[Relief], margin: float) -> Grid | None:
    """The grid over all that the setup's tools sweep, ``margin`` wider; None when nothing is swept."""
    boxes = [r.bounds for r in reliefs if r.bounds is not None]
    points = [c for x0, y0, x1, y1 in boxes for c in ((x0, y0), (x1, y1))]
    points += [stage.frame.to_local(p.centre)[:2] for cut in stage.cuts for p in cut.plunges]
    if not points:
        return None
    low, high = np.min(points, axis=0) - margin, np.max(points, axis=0) + margin
    h = max(FINEST, float(np.sqrt(np.prod(high - low) / MOST_COLUMNS)))
    return grid_over((float(low[0]), float(low[1])), (float(high[0]), float(high[1])), h)


def top_of(body: Body, frame: Frame, grid: Grid) -> Floats:
    """The highest point of a body in each column; NOTHING where it does not stand."""
    return highest(crossed(relief_of(body, frame, tops=True), grid), grid)


def holding_map(stage: Stage, grid: Grid) -> tuple[Floats, NDArray[np.int8]]:
    """Tops of the workholding and which of its bodies each belongs to."""
    top = np.full(grid.shape, NOTHING)
    owner = np.full(grid.shape, NOBODY, np.int8)
    for number, held in enumerate(stage.holding.bodies):
        one = top_of(held.body, stage.frame, grid)
        higher = one > top
        np.copyto(top, one, where=higher)
        owner[higher] = number
    return top, owner


def swept_map(relief: Relief, grid: Grid) -> Swept:
    """Lowest and highest points of a swept body given by its relief (setup's frame)."""
    found = crossed(relief, grid)
    return Swept(lowest(found, grid), highest(found, grid))


def lowered(stock: Floats, swept: Swept, window: tuple[slice, slice]) -> Floats:
    """The stock's tops once the tool has passed: down to its lowest point wherever it cuts up to the top. Nothing is
    swept outside the window."""
    result, before, low = stock.copy(), stock[window], swept.low[window]
    result[window] = np.where(swept.high[window] >= before - LENGTH, np.minimum(before, low), before)
    return result


def swept_reliefs(stage: Stage) -> tuple[Relief, ...]:
    """The relief of each cut's swept body in the setup's frame; without bounds for a step that sweeps nothing."""
    return tuple(relief_of(cut.swept, stage.frame) for cut in stage.cuts)
