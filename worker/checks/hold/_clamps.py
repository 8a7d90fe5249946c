"""Clamps that bear on nothing, and clamps and bolts that stand in the metal."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.tolerances import TOUCH, VOLUME_NOTHING
from worker.checks.api import Context, Draft
from worker.kernel import boolean, measure
from worker.kernel.contact import touches
from worker.stage.model import HoldingBody, Stage


def clamp_drafts(context: Context, stage: Stage, body: HoldingBody) -> Iterator[Draft]:
    """What is wrong with one clamp or bolt of a fixture."""
    if not touches(stage.as_is, body.body, TOUCH):
        if body.role == "clamp":
            gap = measure.distance(stage.as_is, body.body)
            yield Draft(
                message=f"{body.name} bears on nothing: it stands {context.text(gap.distance)} from the stock.",
                measured=gap.distance,
                limit=0.0,
                unit="mm",
                at=gap.on_first,
            )
        return
    inside = boolean.common(stage.as_is, [body.body], merge=False)
    volume = measure.volume(inside)
    if volume > VOLUME_NOTHING and volume > TOUCH * measure.area(inside) / 2:
        what = "goes through solid metal: there is no hole for it" if body.role == "bolt" else "stands in the stock"
        yield Draft(message=f"{body.name} {what}.", measured=volume, limit=0.0, unit="mm3", at=measure.centroid(inside))
