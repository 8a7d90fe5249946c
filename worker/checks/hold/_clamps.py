"""Clamps that bear on nothing, and clamps and bolts that stand in the metal."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import TOUCH, VOLUME_NOTHING
from worker.checks.api import Context, Draft
from worker.checks.hold._contacts import opening_word, pointer_of
from worker.kernel import boolean, measure
from worker.kernel.contact import touches
from worker.stage.model import HoldingBody, Stage


def clamp_drafts(context: Context, stage: Stage, body: HoldingBody) -> Iterator[Draft]:
    """What is wrong with one clamp or bolt of a fixture."""
    if not touches(stage.as_is, body.body, TOUCH):
        if body.role == "clamp" or _stands_alone(stage, body):
            gap = measure.distance(stage.as_is, body.body)
            away = context.text(gap.distance)
            yield Draft(
                message=f"{opening_word(body)} bears on nothing: it stands {away} from the stock.",
                measured=gap.distance,
                limit=0.0,
                unit="mm",
                at=gap.on_first,
                remedy=_bring_it(context, stage, body, gap.distance),
            )
        return
    inside = boolean.common(stage.as_is, [body.body], merge=False)
    volume = measure.volume(inside)
    if volume > VOLUME_NOTHING and volume > TOUCH * measure.area(inside) / 2:
        what = "goes through solid metal: there is no hole for it" if body.role == "bolt" else "stands in the stock"
        yield Draft(
            message=f"{opening_word(body)} {what}.", measured=volume, limit=0.0, unit="mm3", at=measure.centroid(inside)
        )


def _stands_alone(stage: Stage, bolt: HoldingBody) -> bool:
    """A bolt that touches neither the stock nor a plate, clamp or other bolt."""
    return not any(touches(bolt.body, other.body, TOUCH) for other in stage.holding.bodies if other is not bolt)


def _bring_it(context: Context, stage: Stage, body: HoldingBody, gap: float) -> Remedy:
    text = f"Move {body.name} {context.text(gap)} towards the stock."
    return Remedy(text=text, pointer=pointer_of(context, stage, body))
