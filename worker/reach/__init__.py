"""Tool assemblies against obstacles: height maps find, exact solids decide."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from schemas.base import Vec3, dot
from schemas.feature import HOLES, Feature
from schemas.tool import MILLS
from worker.kernel import measure
from worker.kernel.planar import Bounds
from worker.kernel.relief import Relief
from worker.kernel.shadow import Skyline
from worker.part import Part
from worker.reach.assembly import sections, usable
from worker.reach.below import Unders
from worker.reach.cover import Covers
from worker.reach.edge import EdgeStep, runs_along_edges
from worker.reach.model import Contact, Cover, Reach
from worker.reach.obstacles import Obstacles, grid_of, holding_map, lowered, swept_map, swept_reliefs, top_of
from worker.reach.raster import Grid
from worker.reach.rides import RideStep
from worker.reach.steps import Step
from worker.reach.undercut import UnderStep
from worker.reach.vee import VeeStep
from worker.stage.model import Cut, Stage

__all__ = ["Contact", "Cover", "Reach", "reach_of"]

MARGIN = 1.0
"""Metal this much beyond the widest assembly (mm) is still looked at."""


def reach_of(stage: Stage, part: Part) -> dict[str, Reach]:
    """Reach of every step of a setup that moves a tool through metal or on an axis, by step id, in the plan's order.

    Steps without a path of their own (``edge_breaking``) are absent; of those that workholding keeps out altogether
    only what stands over their features is told.
    """
    covers, reliefs = Covers(stage, part), swept_reliefs(stage)
    widest = max((_span(cut, stage.frame.z) for cut in stage.cuts), default=0.0)
    grid = grid_of(stage, reliefs, widest + MARGIN)
    if grid is None:
        return {cut.step.id: kept for cut in stage.cuts if (kept := _kept_out(cut, covers))}
    holding, owner = holding_map(stage, grid)
    stock = top_of(stage.as_is, stage.frame, grid)
    left = Skyline(stage.to_be, stage.frame)
    standing = (left, Skyline(part.body, stage.frame))
    unders, plan = Unders(stage, left), _plan(stage, part)
    found: dict[str, Reach] = {}
    for number, cut in enumerate(stage.cuts):
        if reliefs[number].bounds is None and not cut.plunges:
            kept = _kept_out(cut, covers)
            found |= {cut.step.id: kept} if kept else {}
            continue
        rows, columns = _window(stage, cut, reliefs[number], grid)
        here, before = grid.part(rows, columns), stock[rows, columns].copy()
        swept = swept_map(reliefs[number], here)
        after = lowered(before, swept, _swept_window(reliefs[number], here))
        stock[rows, columns] = after
        around = Obstacles(here, plan, before, after, holding[rows, columns], owner[rows, columns])
        one: UnderStep | EdgeStep | Step
        if cut.stands:
            one = UnderStep(stage, number, part)
        elif cut.ways:
            one = VeeStep(stage, number, part)
        elif runs_along_edges(stage, cut, part):
            one = EdgeStep(stage, number, part)
        else:
            one = Step(stage, number, part, swept, around, standing)
        reach = one.reach() if not len(cut.rides) else RideStep(stage, number, part).added_to(one.reach())
        found[cut.step.id] = replace(reach, covered=covers.of(cut), below=unders.of(number))
    return found


def _kept_out(cut: Cut, covers: Covers) -> Reach | None:
    """A step that sweeps nothing, where workholding stands over what it should cut; None where none does."""
    over = () if cut.step.operation == "edge_breaking" else covers.of(cut)
    return Reach(cut.step.id, cut.tool.id, usable(cut.tool), covered=over) if over else None


def _span(cut: Cut, axis: Vec3) -> float:
    """How far past what it sweeps a step's assembly can come: its radius, and beside a wall the cutter's own too."""
    radius = max(s.radius for s in sections(cut.tool))
    beside = cut.tool.type in MILLS and any(_may_be_open(f, axis) for f in cut.features)
    return radius + cut.tool.radius if beside else radius


def _may_be_open(feature: Feature, axis: Vec3) -> bool:
    """Whether a cutter may have to run beside the metal: not in closed recesses, nor over a face square to it."""
    if feature.class_ == "planar_face":
        return dot(feature.placement.z, axis) < 0.5
    return feature.class_ not in HOLES and feature.class_ != "closed_pocket"


def _plan(stage: Stage, part: Part) -> Bounds:
    """The rectangle of stock and part in the setup's x, y."""
    one, other = (measure.bounding_box(body, stage.frame) for body in (stage.as_is, part.body))
    low, high = (
        [pick(a[i], b[i]) for i in (0, 1)] for pick, a, b in ((min, one.min, other.min), (max, one.max, other.max))
    )
    return (low[0], low[1], high[0], high[1])


def _swept_window(relief: Relief, grid: Grid) -> tuple[slice, slice]:
    """The part of a grid that a swept body may stand over."""
    return (slice(0, 0),) * 2 if relief.bounds is None else grid.window(relief.bounds[:2], relief.bounds[2:])


def _window(stage: Stage, cut: Cut, relief: Relief, grid: Grid) -> tuple[slice, slice]:
    """The part of the grid that a step's assembly can come over."""
    margin = max(s.radius for s in sections(cut.tool)) + 2 * cut.tool.radius + MARGIN
    points = [stage.frame.to_local(p.centre)[:2] for p in cut.plunges]
    points += [] if relief.bounds is None else [relief.bounds[:2], relief.bounds[2:]]
    (x0, y0), (x1, y1) = (np.min(points, axis=0) - margin).tolist(), (np.max(points, axis=0) + margin).tolist()
    return grid.window((x0, y0), (x1, y1))
