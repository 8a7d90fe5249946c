"""Spots and sinks whose cone comes to rest on an edge of the model before its point is in the metal."""

from __future__ import annotations

import math

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context
from worker.checks.metal import column_before, place_of
from worker.checks.reach._result import at_most
from worker.kernel import measure
from worker.kernel.primitives import cylinder
from worker.kernel.shape import is_empty
from worker.stage.model import Cut, Plunge, Stage

THREAD = 0.02
"""Diameter of the column that stands for an axis, mm."""


def height_of_metal(context: Context, stage: Stage, cut: Cut, plunge: Plunge) -> float | None:
    """Height of the metal on the axis that the step finds below its tip (setup's frame); None for none, or for a tip
    whose height is stated."""
    step, cone = cut.step, cut.tool.flank_half_angle
    if step.bottom_z is not None or step.cutting_depth is not None or cone is None:
        return None
    x, y, _ = stage.frame.to_local(plunge.centre)
    low = measure.bounding_box(stage.as_is, stage.frame).min[2]
    if low > plunge.tip_z - LENGTH:
        return None
    start, end = (stage.frame.to_world((x, y, z)) for z in (low, plunge.tip_z))
    met = column_before(context, stage, place_of(stage, cut), cylinder(start, end, THREAD))
    return None if is_empty(met) else measure.bounding_box(met, stage.frame).max[2]


def sunk_at(context: Context, stage: Stage, cut: Cut, plunge: Plunge, top: float) -> Remedy:
    """The tip's height from which the cone opens the metal there as wide as the hole, or as the tool."""
    hole, tool = context.part.feature(plunge.feature), cut.tool
    wide = min(hole.diameter or tool.diameter, tool.diameter) - (tool.tip_diameter or 0.0)
    deep = max(wide, 0.0) / 2 / math.tan(math.radians(tool.flank_half_angle or 90.0))
    value = at_most(top - deep)
    text = f"Set bottom_z to {context.text(value)}: the cone then opens the metal on the axis as wide as the hole."
    return Remedy(text=text, pointer=context.of_step(stage, cut, "bottom_z"), value=value, unit="mm")
