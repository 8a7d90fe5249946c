"""Tool assemblies against obstacles: height maps find, exact solids decide."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from worker.part import Part
from worker.reach.assembly import sections
from worker.reach.cover import Covers
from worker.reach.model import Contact, Cover, Reach
from worker.reach.obstacles import (
    Meshes,
    Obstacles,
    grid_of,
    holding_map,
    in_frame,
    lowered,
    swept_map,
    swept_triangles,
)
from worker.reach.raster import Floats, Grid, top_of
from worker.reach.steps import Step
from worker.stage.model import Cut, Stage

__all__ = ["Contact", "Cover", "Meshes", "Reach", "reach_of"]

MARGIN = 1.0
"""Metal this much beyond the widest assembly (mm) is still looked at."""


def reach_of(stage: Stage, part: Part, meshes: Meshes | None = None) -> dict[str, Reach]:
    """Reach of every step of a setup that moves a tool through metal or on an axis, by step id, in the plan's order.

    Steps without a path of their own (``edge_breaking``) are absent. ``meshes`` may be shared between setups.
    """
    known = meshes or Meshes()
    triangles = swept_triangles(stage, known)
    widest = max((s.radius for cut in stage.cuts for s in sections(cut.tool)), default=0.0)
    grid = grid_of(stage, triangles, widest + MARGIN)
    if grid is None:
        return {}
    holding, owner = holding_map(stage, grid, known)
    stock = top_of(in_frame(known.of(stage.as_is), stage.frame), grid)
    covers = Covers(stage, part)
    found: dict[str, Reach] = {}
    for number, cut in enumerate(stage.cuts):
        if not len(triangles[number]) and not cut.plunges:
            continue
        rows, columns = _window(stage, cut, triangles[number], grid)
        here, before = grid.part(rows, columns), stock[rows, columns].copy()
        swept = swept_map(triangles[number], here)
        stock[rows, columns] = lowered(before, swept)
        around = Obstacles(here, before, stock[rows, columns], holding[rows, columns], owner[rows, columns])
        found[cut.step.id] = replace(Step(stage, number, part, swept, around).reach(), covered=covers.of(cut))
    return found


def _window(stage: Stage, cut: Cut, triangles: Floats, grid: Grid) -> tuple[slice, slice]:
    """The part of the grid that a step's assembly can come over."""
    margin = max(s.radius for s in sections(cut.tool)) + 2 * cut.tool.radius + MARGIN
    points = [triangles[:, :, :2].reshape(-1, 2)]
    points += [np.array([stage.frame.to_local(p.centre)[:2]]) for p in cut.plunges]
    every = np.concatenate(points)
    (x0, y0), (x1, y1) = (every.min(axis=0) - margin).tolist(), (every.max(axis=0) + margin).tolist()
    return grid.window((x0, y0), (x1, y1))
