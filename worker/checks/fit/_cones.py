"""Pointed cutters that do not get down into a V-groove: a cone too wide for its flanks, a tip for its root."""

from __future__ import annotations

import math

from schemas.feature import Feature
from schemas.finding import Remedy
from schemas.tolerances import ANGLE, LENGTH
from worker.checks.api import Context, Draft
from worker.checks.standing import lump_on
from worker.kernel.shadow import Skyline
from worker.stage.model import Cut, Stage
from worker.stage.removal.vee_courses import vees_of


def too_blunt(context: Context, stage: Stage, cut: Cut, feature: Feature) -> Draft | None:
    """A draft where the cone stands wider than the groove, or its tip is wider than what is at the bottom."""
    vees = vees_of(Skyline(context.part.body, stage.frame), feature)
    half = cut.tool.flank_half_angle
    if not vees or half is None:
        return None
    vee = min(vees, key=lambda v: round(min(v.leans), 9))
    steepest = math.degrees(math.atan(min(vee.leans)))
    if half > steepest + ANGLE:
        return _wide(context, cut, feature, 2 * steepest)
    tip = cut.tool.tip_diameter or 0.0
    stays = cut.tip_z > vee.bottom + cut.step.allowance_bottom + LENGTH and cut.step.bottom_z is None
    return _blunt(context, cut, feature, tip, max(vee.gap, 0.0)) if stays and tip > vee.gap + LENGTH else None


def _wide(context: Context, cut: Cut, feature: Feature, most: float) -> Draft:
    tool, angle = cut.tool, 2 * (cut.tool.flank_half_angle or 0.0)
    return Draft(
        message=f"The cone of {tool.id}, {angle:g} degrees, does not go down between the flanks of {feature.id}: "
        f"beside the steeper one at most {most:.4g} degrees do.",
        features=(feature.id,),
        measured=angle,
        limit=most,
        unit="deg",
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=Remedy(
            text=f"Use a cutter of {most:.4g} degrees.",
            pointer=context.of_tool(tool, "SIG"),
            value=round(most, 4),
            unit="deg",
        ),
    )


def _blunt(context: Context, cut: Cut, feature: Feature, tip: float, most: float) -> Draft:
    sharp = most <= LENGTH
    has = "whose flanks meet" if sharp else f"which is {context.text(most)} wide"
    return Draft(
        message=f"The tip of {cut.tool.id}, ø {context.text(tip)}, does not get down into {feature.id}, {has}.",
        features=(feature.id,),
        measured=tip,
        limit=most,
        unit="mm",
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=Remedy(
            text="Use a cutter with a sharp point."
            if sharp
            else f"Use a cutter whose tip is at most ø {context.text(most)}.",
            pointer=context.of_tool(cut.tool, "tip_diameter"),
            value=0.0 if sharp else most,
            unit="mm",
        ),
    )
