"""Locators and jacks that touch nothing or stand in the metal, and too few of them (3-2-1)."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import dot
from schemas.finding import Remedy
from schemas.tolerances import TOUCH, VOLUME_NOTHING
from worker.checks.api import Context, Draft
from worker.checks.hold._contacts import SQUARE, patches_of, pointer_of
from worker.kernel import boolean, measure
from worker.kernel.contact import touches
from worker.stage.model import HoldingBody, Stage

SIDE_POINTS = 3
"""Points that must locate from the side once the stock stands on a plane: 2 + 1 (common practice, 3-2-1)."""


def locator_drafts(context: Context, stage: Stage) -> Iterator[Draft]:
    """What is wrong with the locators and jacks of a fixture; plates and given bodies that stand in the metal."""
    gap = context.limit("locator_gap")
    for body in stage.holding.of("locator", "jack"):
        yield from _bears(context, stage, body, gap)
    for body in stage.holding.of("plate", "body"):
        yield from _stands_in(context, stage, body)
    locators = [b for b in stage.holding.of("locator") if touches(stage.as_is, b.body, gap)]
    beside = [b for b in locators if not _is_under(context, stage, b)]
    points = sum(_points(stage, body) for body in beside)
    if beside and points < SIDE_POINTS:
        yield Draft(
            message=f"The locators fix {points} of the {SIDE_POINTS} points that locate a stock on its plane (3-2-1).",
            measured=float(points),
            limit=float(SIDE_POINTS),
            unit="1",
            remedy=Remedy(text="Add a locator.", pointer=context.of_setup(stage, "workholding", "elements")),
            level="warning",
        )


def _bears(context: Context, stage: Stage, body: HoldingBody, gap: float) -> Iterator[Draft]:
    if not touches(stage.as_is, body.body, gap):
        nearest = measure.distance(stage.as_is, body.body)
        yield Draft(
            message=f"{body.name} touches nothing: it stands {context.text(nearest.distance)} from the stock.",
            measured=nearest.distance,
            limit=gap,
            unit="mm",
            at=nearest.on_first,
            remedy=Remedy(
                text=f"Move {body.name} {context.text(nearest.distance)} towards the stock.",
                pointer=pointer_of(context, stage, body),
            ),
        )
        return
    yield from _stands_in(context, stage, body)


def _stands_in(context: Context, stage: Stage, body: HoldingBody) -> Iterator[Draft]:
    if not touches(stage.as_is, body.body, TOUCH):
        return
    inside = boolean.common(stage.as_is, [body.body], merge=False)
    volume = measure.volume(inside)
    if volume > VOLUME_NOTHING and volume > TOUCH * measure.area(inside) / 2:
        yield Draft(
            message=f"{body.name} stands in the stock.",
            measured=volume,
            limit=0.0,
            unit="mm3",
            at=measure.centroid(inside),
            remedy=Remedy(text=f"Make room for {body.name}, or move it.", pointer=pointer_of(context, stage, body)),
        )


def _is_under(context: Context, stage: Stage, body: HoldingBody) -> bool:
    found = patches_of(context, stage, body)
    return any(dot(p.normal, stage.frame.z) <= -1 + SQUARE for p in found)


def _points(stage: Stage, body: HoldingBody) -> int:
    """A pin in a bore fixes two points, one beside the stock fixes one."""
    stock, pin = (measure.bounding_box(b, stage.frame) for b in (stage.as_is, body.body))
    return 2 if all(stock.min[i] < pin.mid[i] < stock.max[i] for i in (0, 1)) else 1
