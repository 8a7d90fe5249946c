"""Which milling steps work on a feature: shared by the rules on cutters."""

from __future__ import annotations

from schemas.base import dot
from schemas.feature import Feature
from schemas.plan import ROUGH
from schemas.tolerances import COINCIDENT
from schemas.tool import MILLS, NEEDS_ANGLE
from worker.checks.api import Context
from worker.stage.model import Cut, Stage
from worker.stage.removal.undercuts import undercuts

BOTTOM = frozenset(
    {
        "plane_rough_milling",
        "plane_finish_milling",
        "bottom_and_side_rough_milling",
        "bottom_and_side_finish_milling",
        "freeform_operation",
    }
)
"""Operations that make a floor."""


def mills(cut: Cut) -> bool:
    """True for a step whose cutter travels."""
    return cut.tool.type in MILLS


def along_a_vee(cut: Cut) -> bool:
    """True for a pointed cutter that mills."""
    return cut.tool.type in NEEDS_ANGLE and cut.step.operation in BOTTOM


def travels(cut: Cut) -> bool:
    """True for both: the force on it goes sideways, and its depth is stated as the tip's height."""
    return mills(cut) or along_a_vee(cut)


def mills_on(context: Context, id: str) -> tuple[tuple[Stage, Cut], ...]:
    """The milling steps that name the feature, or the compound that it is an element of, in the order of machining."""
    named = ((s, c) for s, c in context.sequence if mills(c))
    return tuple((s, c) for s, c in named if any(f.id == id or id in f.elements for f in c.features))


def is_last_on(context: Context, cut: Cut, id: str) -> bool:
    """True when no later milling step names the feature."""
    found = mills_on(context, id)
    return bool(found) and found[-1][1] is cut


def finishes(cut: Cut) -> bool:
    """True for a step that is to leave no metal: no allowance, and not roughing with one."""
    return cut.step.allowance_side <= 0 and cut.step.allowance_bottom <= 0


def is_rough(cut: Cut) -> bool:
    """True for the roughing operations of ISO 14649-11."""
    return cut.step.operation in ROUGH


def from_aside(stage: Stage, cut: Cut, feature: Feature) -> bool:
    """True for an undercutting cutter on a feature that opens to another side than the spindle's: the radii of its
    floor and corners are not those that the head meets."""
    aside = abs(dot(feature.placement.z, stage.frame.z)) < 1 - COINCIDENT
    return aside and undercuts(stage.frame, cut.tool, feature)
