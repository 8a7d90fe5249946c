"""Where a tool's axis must go to do a step, and how low its tip is there (columns of the setup's grid, mm)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from schemas.tolerances import LAYER, LENGTH
from schemas.tool import UNDERCUTTERS, Tool
from worker.kernel.planar import Bounds
from worker.reach.distance import distance, farther, nearest
from worker.reach.obstacles import Obstacles, Swept
from worker.reach.raster import Floats, Grid, Ints, Mask
from worker.stage.model import Cut

MOST_LEVELS = 8
"""A floor with more heights than this is told in so many steps, each at its lowest height."""
RUN_OUT = 1.0
"""Swept bodies reach at least this far past the metal's rectangle (mm)."""
CLEARANCE = 0.75
"""In columns: how far from a slot's middle line the nearest column can lie, so that a cutter as wide as it fits."""


@dataclass(frozen=True, eq=False)
class Level:
    """All axis positions with one height of the tip.

    ``foot`` is what the tool sweeps at that height, ``outer`` the same with the room past the metal's own rectangle,
    at whose border swept bodies end; ``metal`` is what it cuts there. ``radius`` is the tool's radius: no wall comes
    nearer to the axis; 0 for tools that pass under walls. ``turn`` is how far the axis stays inside the foot; None
    where ``metal`` already is the line that the axis follows.
    """

    tip: float
    foot: Mask
    outer: Mask
    metal: Mask
    radius: float
    turn: float | None

    @cached_property
    def runs_out(self) -> bool:
        """Whether the foot goes on past the metal."""
        return bool((self.outer & ~self.foot).any())

    def axis(self, rows: slice, columns: slice, h: float) -> Mask:
        """The positions within a window that the tool cannot do without.

        Of those where the cutter stays inside the foot, the nearest to each column with metal to cut; for metal that
        no such position covers, those where it runs out past the metal. The window is cut out of the map, so
        positions near its border are found with what lies within it alone.
        """
        metal = self.metal[rows, columns].copy()
        if self.turn is None:
            return metal
        found = np.zeros_like(metal)
        for room in (self.foot[rows, columns], self.outer[rows, columns]):
            if metal.any():
                self._serve(metal, room, found, h)
        return found if found.any() else self.foot[rows, columns]

    def _serve(self, metal: Mask, room: Mask, found: Mask, h: float) -> None:
        """Adds to the positions ``found`` the nearest one with the whole cutter in the room to each column of metal,
        and takes from the metal what has one."""
        assert self.turn is not None
        reach = self.turn + 3 * h
        near = window_of(metal, reach, h)
        wide = window_of(metal, reach + self.turn, h)
        back = tuple(slice(n.start - w.start, n.stop - w.start) for n, w in zip(near, wide, strict=True))
        inside = farther(~room[wide], h, self.turn, self.turn - CLEARANCE * h)[back]
        places = nearest(inside, metal[near], h, reach)
        found[near][np.unravel_index(places[places >= 0], inside.shape)] = True
        asked = metal[near]
        asked[asked] = places < 0


def window_of(mask: Mask, radius: float, h: float) -> tuple[slice, slice]:
    """The part of the grid within ``radius`` of a set of columns."""
    cells = int(np.ceil(radius / h)) + 3
    rows, columns = (np.flatnonzero(mask.any(axis=k)) for k in (1, 0))
    return (
        slice(max(int(rows[0]) - cells, 0), min(int(rows[-1]) + cells + 1, mask.shape[0])),
        slice(max(int(columns[0]) - cells, 0), min(int(columns[-1]) + cells + 1, mask.shape[1])),
    )


def levels(cut: Cut, swept: Swept, around: Obstacles) -> Iterator[Level]:
    """The levels of a step that moves sideways, from the lowest."""
    if cut.tool.type == "chamfer_mill":
        yield from _along_edge(cut, swept, around)
        return
    foot = np.isfinite(swept.low)
    tips = _tips(cut.tool, swept.low, around.grid)
    metal = foot & (around.before > swept.low + LAYER)
    metal = metal if metal.any() else foot
    passes_under = cut.tool.type in UNDERCUTTERS
    below = -np.inf
    for tip in _heights(tips[metal]):
        own, below = metal & (tips <= tip[1]) & (tips > below), tip[1]
        at_level = foot & (tips <= tip[1])
        if not own.any():  # of many heights some steps are empty
            continue
        outer = _run_out(at_level, around.grid, around.plan)
        if not (cut.step.bottom_z is not None or cut.step.cutting_depth is not None):  # a stated depth is obeyed
            outer &= around.holding <= tip[0] + LENGTH
        yield Level(tip[0], at_level, outer, own, 0.0 if passes_under else cut.tool.radius, cut.tool.radius)


def _run_out(foot: Mask, grid: Grid, plan: Bounds) -> Mask:
    """The foot with what lies straight outside the metal's rectangle: swept bodies end a little past it."""
    x0, y0, x1, y1 = plan
    i = _held_within(grid.xs(), x0 - RUN_OUT, x1 + RUN_OUT)
    j = _held_within(grid.ys(), y0 - RUN_OUT, y1 + RUN_OUT)
    return foot[j][:, i]


def _held_within(places: Floats, low: float, high: float) -> Ints:
    """For each place its own number, or that of the nearest place between two bounds."""
    first, last = int(np.searchsorted(places, low)), int(np.searchsorted(places, high)) - 1
    return np.clip(np.arange(len(places)), min(first, len(places) - 1), max(last, 0))


def _tips(tool: Tool, low: Floats, grid: Grid) -> Floats:
    """Height of the tip that leaves the floor ``low``: a corner radius stands lower than the fillet it leaves."""
    if tool.corner_radius <= 0:
        return low
    around = _least_around(low, int(np.ceil(tool.radius / grid.h)))
    return np.where(np.isfinite(low), np.maximum(low - tool.corner_radius, around), np.inf)


def _least_around(values: Floats, cells: int) -> Floats:
    """The least value in the square of 2 ``cells`` + 1 columns round each."""
    found = values
    for axis in (0, 1):
        done = 0
        while done < cells:
            step = min(max(done, 1), cells - done)
            found = np.minimum(_moved(found, step, axis), np.minimum(found, _moved(found, -step, axis)))
            done += step
    return found


def _moved(values: Floats, step: int, axis: int) -> Floats:
    """The map shifted by whole columns, +inf where nothing comes in."""
    result = np.full_like(values, np.inf)
    keep = [slice(None), slice(None)]
    take = [slice(None), slice(None)]
    keep[axis] = slice(step, None) if step > 0 else slice(None, step)
    take[axis] = slice(None, -step) if step > 0 else slice(-step, None)
    result[tuple(keep)] = values[tuple(take)]
    return result


def _heights(tips: Floats) -> list[tuple[float, float]]:
    """Lowest and highest tip of each level, from below."""
    found = np.unique(np.round(tips, 4))
    if len(found) <= MOST_LEVELS:
        return [(float(t), float(t) + LENGTH) for t in found]
    steps = np.linspace(found[0], found[-1], MOST_LEVELS + 1)
    return [(float(a), float(b) + LENGTH) for a, b in pairwise(steps)]


def _along_edge(cut: Cut, swept: Swept, around: Obstacles) -> Iterator[Level]:
    """A chamfer: the axis runs beside it in the air, as far off as the cone is wide where it meets the upper edge."""
    foot = np.isfinite(swept.low)
    if not foot.any():
        return
    tool, h = cut.tool, around.grid.h
    top = float(np.minimum(swept.high, around.before)[foot].max())
    slope = np.tan(np.radians(tool.flank_half_angle or 45.0))
    offset = min((tool.tip_diameter or 0.0) / 2 + max(top - cut.tip_z, 0.0) * slope, tool.radius)
    away = distance(foot, h, offset + 2 * h)
    ring = (np.abs(away - offset) <= CLEARANCE * h) & (around.top <= cut.tip_z + LENGTH)
    yield Level(cut.tip_z, foot, foot, ring if ring.any() else foot, 0.0, None)
