"""Finishing steps that meet metal as wide as their cutter and deeper than its edge, with no depth of a pass stated."""

from __future__ import annotations

from schemas.tolerances import LENGTH
from schemas.tool import MILLS, UNDERCUTTERS
from worker.checks.api import Context, Draft
from worker.checks.reach._result import features_of, in_passes
from worker.kernel import boolean, measure
from worker.kernel.planar import grow, intersect
from worker.kernel.primitives import box
from worker.kernel.shadow import Skyline
from worker.kernel.shape import is_empty
from worker.reach.model import Reach
from worker.stage.model import Cut, Stage

FINISHING = frozenset({"side_finish_milling", "bottom_and_side_finish_milling"})
FULL = 0.9
"""Metal this share of the cutter's width, and wider, is taken at full width: more is room for a cutter just as wide."""


def takes_in_full(context: Context, stage: Stage, cut: Cut, found: Reach) -> Draft | None:
    """A finishing pass is taken for one along the whole wall: roughing goes down in passes no deeper than the edge."""
    edge, stated = cut.tool.edge_length, cut.step.technology.axial_cutting_depth
    if cut.tool.type not in MILLS - UNDERCUTTERS or cut.step.operation not in FINISHING or stated is not None:
        return None
    if found.depth <= edge + LENGTH or is_empty(cut.removal):
        return None
    high = measure.bounding_box(cut.removal, stage.frame).max[2] - cut.tip_z
    return _draft(context, stage, cut, found, high) if high > edge + LENGTH and _is_wide(stage, cut) else None


def _is_wide(stage: Stage, cut: Cut) -> bool:
    """Whether a cutter's width of what the step takes at its lowest goes on above its edge."""
    frame, tip = stage.frame, cut.tip_z
    bounds = measure.bounding_box(cut.removal, frame)
    (x0, y0, z0), (x1, y1, _) = bounds.min, bounds.max
    top = max(tip, z0) + cut.tool.corner_radius + 2 * LENGTH  # what is there may begin above the tip
    lowest = boolean.common(cut.removal, [box((x0 - 1, y0 - 1, z0 - 1), (x1 + 1, y1 + 1, top), frame)], merge=False)
    if is_empty(lowest):
        return False
    over = Skyline(cut.removal, frame).above(tip + cut.tool.edge_length + LENGTH)
    both = intersect(Skyline(lowest, frame).above(z0 - 1), over) if over else over
    return bool(both) and bool(grow(both, -FULL * cut.tool.radius))


def _draft(context: Context, stage: Stage, cut: Cut, found: Reach, high: float) -> Draft:
    return Draft(
        message=f"{cut.tool.id} finishes through metal as wide as itself and {context.text(high)} deep that no step "
        f"has roughed; its edge is {context.text(cut.tool.edge_length)} long, and no depth of a pass is stated.",
        features=features_of(cut),
        measured=high,
        limit=cut.tool.edge_length,
        unit="mm",
        at=found.deepest,
        remedy=in_passes(context, stage, cut, cut.tool.edge_length, "Rough it first, or state"),
        level="warning",
    )
