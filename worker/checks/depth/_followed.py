"""A stated depth where the faces themselves say how deep their cutter goes."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import dot
from schemas.feature import Feature
from schemas.finding import Remedy
from schemas.tolerances import COINCIDENT, LENGTH
from worker.checks.api import Context, Draft
from worker.checks.heights import bottom_of, first_place
from worker.checks.holes import sentence, tool_word
from worker.kernel.shape import is_empty
from worker.stage.model import Cut, Stage

FOLLOWING = frozenset({"edge_round", "region"})
"""Classes whose faces a cutter follows, whatever the operation is called."""


def deeper_than_stated(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """Bent faces are followed whole: a higher tip than theirs leaves metal that the stock does not show, a lower one is
    not what is cut."""
    stated, lowest = cut.step.bottom_z, cut.lowest_tip
    follows = cut.step.operation == "freeform_operation" or any(f.class_ in FOLLOWING for f in cut.features)
    if (
        stated is None
        or not follows
        or is_empty(cut.swept)
        or min(abs(cut.tip_z - stated), abs(lowest - stated)) <= LENGTH
    ):
        return
    names = tuple(f.id for f in cut.features)
    way = "above" if stated > lowest else "below"
    yield Draft(
        message=f"{sentence(tool_word(cut))} follows {', '.join(names)} down to Z {context.text(lowest)}, as the faces "
        f"lie; 'bottom_z' says {context.text(stated)}, {context.text(abs(stated - lowest))} {way} that, and is not "
        "what is cut here.",
        features=names,
        measured=stated,
        limit=lowest,
        unit="mm",
        at=first_place(cut),
        remedy=Remedy(
            text=f"Leave out bottom_z, or set it to {context.text(lowest)}.",
            pointer=context.of_step(stage, cut, "bottom_z"),
            value=lowest,
            unit="mm",
        ),
        level=None if stated > lowest else "warning",
    )


def lowest_on(stage: Stage, cut: Cut, feature: Feature) -> float:
    """How low the tip must go in a feature (setup's frame, mm): to its bottom, and beside a plane that leans and is
    followed r (1 - n) lower than the place that the corner touches, n the height of the unit normal."""
    n = dot(feature.placement.z, stage.frame.z)
    leans = feature.class_ == "planar_face" and 0 < n < 1 - COINCIDENT
    if not leans or cut.step.operation != "freeform_operation":
        return bottom_of(stage, feature)
    return cut.bottom_z_nominal - cut.tool.corner_radius * (1 - n)
