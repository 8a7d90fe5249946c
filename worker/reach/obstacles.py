"""What the assembly may not touch, as height maps of one setup: stock as each step leaves it, and workholding (mm)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame
from schemas.tolerances import LENGTH
from worker.kernel.mesh import triangulate
from worker.kernel.planar import Bounds
from worker.kernel.shape import Body, is_empty
from worker.reach.raster import NOTHING, Floats, Grid, Ints, grid_over, highest, hits, lowest, top_of
from worker.stage.model import Stage

FINEST = 0.2
"""Distance of columns (mm) where the setup is small enough."""
MOST_COLUMNS = 120_000
"""Columns of one setup: a larger setup gets coarser ones. Finding only; solids decide."""
NOBODY = -1


def in_frame(points: Floats, frame: Frame) -> Floats:
    """Points (..., 3) of the part's frame, in the setup's."""
    axes = np.array([frame.x, frame.y, frame.z])
    return np.asarray((points - np.array(frame.location)) @ axes.T, dtype=np.float64)


class Meshes:
    """Triangles of bodies in the part's frame, (n, 3, 3); each body is triangulated once."""

    def __init__(self) -> None:
        self._known: dict[Body, Floats] = {}

    def of(self, body: Body) -> Floats:
        """The triangles of a body, outward."""
        if body not in self._known:
            points, corners, _ = triangulate(body)
            self._known[body] = points[corners] if len(corners) else np.zeros((0, 3, 3))
        return self._known[body]


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


def grid_of(stage: Stage, triangles: Iterable[Floats], margin: float) -> Grid | None:
    """The grid over all that the setup's tools sweep, ``margin`` wider; None when nothing is swept."""
    boxes = [t[:, :, :2].reshape(-1, 2) for t in triangles if len(t)]
    boxes += [np.array([stage.frame.to_local(p.centre)[:2]]) for cut in stage.cuts for p in cut.plunges]
    if not boxes:
        return None
    points = np.concatenate(boxes)
    low, high = points.min(axis=0) - margin, points.max(axis=0) + margin
    h = max(FINEST, float(np.sqrt(np.prod(high - low) / MOST_COLUMNS)))
    return grid_over((float(low[0]), float(low[1])), (float(high[0]), float(high[1])), h)


def holding_map(stage: Stage, grid: Grid, meshes: Meshes) -> tuple[Floats, NDArray[np.int8]]:
    """Tops of the workholding and which of its bodies each belongs to."""
    top = np.full(grid.shape, NOTHING)
    owner = np.full(grid.shape, NOBODY, np.int8)
    for number, held in enumerate(stage.holding.bodies):
        one = top_of(in_frame(meshes.of(held.body), stage.frame), grid)
        higher = one > top
        np.copyto(top, one, where=higher)
        owner[higher] = number
    return top, owner


def swept_map(triangles: Floats, grid: Grid) -> Swept:
    """Lowest and highest points of a swept body given by its triangles (setup's frame)."""
    found = hits(triangles, grid)
    return Swept(lowest(found, grid), highest(found, grid))


def lowered(stock: Floats, swept: Swept) -> Floats:
    """The stock's tops once the tool has passed: down to its lowest point wherever it cuts up to the top."""
    opened = swept.high >= stock - LENGTH
    return np.where(opened, np.minimum(stock, swept.low), stock)


def swept_triangles(stage: Stage, meshes: Meshes) -> tuple[Floats, ...]:
    """Triangles of each cut's swept body in the setup's frame; empty for a step that sweeps nothing."""
    nothing = np.zeros((0, 3, 3))
    return tuple(nothing if is_empty(c.swept) else in_frame(meshes.of(c.swept), stage.frame) for c in stage.cuts)
