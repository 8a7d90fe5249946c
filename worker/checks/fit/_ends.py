"""The end that a tool gives a hole: the bottom of a blind one, the cone of a countersink."""

from __future__ import annotations

from schemas.feature import Feature
from schemas.plan import DRILLING
from schemas.tolerances import LENGTH
from worker.checks.api import Context
from worker.checks.holes import Pass, passes_in, tap_of, under_thread

FLAT = frozenset({"counterbore", "endmill", "ballnose_endmill", "bullnose_endmill", "shouldermill"})
SINKS = frozenset({"countersink", "chamfer_mill", "spotdrill"})
NEAR = 0.8
"""A pass makes the bottom when it is at least this share of the hole's diameter (a pilot does not)."""


def passes_for(context: Context, hole: Feature) -> tuple[Pass, ...]:
    """All steps at the hole; under a thread also those in the smaller element below it."""
    tap = tap_of(context, hole)
    return under_thread(context, tap) if tap else passes_in(context, (hole.id,))


def shapes_end(one: Pass) -> bool:
    """True for a step that makes the bottom of a blind hole, or the cone of a countersink."""
    hole, step = one.hole, one.cut.step
    if hole.top_diameter is not None:
        return one.cut.tool.type in SINKS and step.operation != "center_drilling"
    if hole.bottom in (None, "through", "general"):
        return False
    makes = step.operation in DRILLING or one.cut.tool.type in FLAT
    return makes and one.diameter >= NEAR * (hole.diameter or 0.0)


def cone_of(one: Pass) -> float | None:
    """Included angle of the cone that the tool leaves, degrees; None for a flat (a drill's SIG of 180) or round end."""
    tool = one.cut.tool
    pointed = tool.type == "twist_drill" or tool.type in SINKS
    half = tool.flank_half_angle if pointed else None
    return None if half is None or half >= 90.0 else 2 * half


def wanted_cone(hole: Feature) -> float | None:
    """Included angle of the hole's modelled cone, degrees; None where it has none."""
    return hole.angle if hole.top_diameter is not None else hole.tip_angle


def is_right(one: Pass, slack: float) -> bool:
    """Whether the tool's end is the modelled one, cones within ``slack`` degrees."""
    hole, tool, angle, wanted = one.hole, one.cut.tool, cone_of(one), wanted_cone(one.hole)
    if wanted is not None:
        return angle is not None and abs(angle - wanted) <= slack
    if hole.bottom == "spherical":
        return tool.type == "ballnose_endmill"
    return angle is None and (hole.bottom != "flat" or tool.corner_radius <= LENGTH)
