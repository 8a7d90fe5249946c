"""Locators and jacks that touch nothing or stand in the metal, and too few of them (3-2-1)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from schemas.base import dot
from schemas.finding import Remedy
from schemas.tolerances import TOUCH, VOLUME_NOTHING
from worker.checks.api import Context, Draft
from worker.checks.hold._contacts import SQUARE, opening_word, patches_of, pointer_of
from worker.checks.hold._support import Point2
from worker.kernel import boolean, measure
from worker.kernel.contact import touches
from worker.stage.model import HoldingBody, Stage

SIDE_POINTS = 3
"""Points that must locate from the side once the stock stands on a plane: 2 + 1 (common practice, 3-2-1)."""
RAIL = 0.25
"""A flat locator this long, as a share of the stock's longer side, locates as two points (common practice)."""
SPREAD = 0.05
"""Lines of action closer than about this share of the stock's longer side are one."""


def locator_drafts(context: Context, stage: Stage) -> Iterator[Draft]:
    """What is wrong with the locators and jacks of a fixture; plates and given bodies that stand in the metal."""
    gap = context.limit("locator_gap")
    for body in stage.holding.of("locator", "jack"):
        yield from _bears(context, stage, body, gap)
    for body in stage.holding.of("plate", "body"):
        yield from _stands_in(context, stage, body)
    locators = [b for b in stage.holding.of("locator") if touches(stage.as_is, b.body, gap)]
    beside = [b for b in locators if not _is_under(context, stage, b)]
    points = _fixed(context, stage, beside)
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
            message=f"{opening_word(body)} touches nothing: it stands {context.text(nearest.distance)} from the stock.",
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
            message=f"{opening_word(body)} stands in the stock.",
            measured=volume,
            limit=0.0,
            unit="mm3",
            at=measure.centroid(inside),
            remedy=Remedy(text=f"Make room for {body.name}, or move it.", pointer=pointer_of(context, stage, body)),
        )


def _is_under(context: Context, stage: Stage, body: HoldingBody) -> bool:
    found = patches_of(context, stage, body)
    return any(dot(p.normal, stage.frame.z) <= -1 + SQUARE for p in found)


def _fixed(context: Context, stage: Stage, beside: Sequence[HoldingBody]) -> int:
    """How many of a stock's three freedoms on its plane (two ways, one turn) the locators beside it take: the rank of
    their contacts' lines of action, each (direction, moment). Two on one spot are one, three on one side two."""
    box = measure.bounding_box(stage.as_is, stage.frame)
    size = max(box.size[:2])
    lines = [line for body in beside for line in _lines(context, stage, body, RAIL * size)]
    rows = [(u, v, ((x - box.mid[0]) * v - (y - box.mid[1]) * u) / size) for (x, y), (u, v) in lines]
    return int(np.linalg.matrix_rank(np.array(rows), tol=SPREAD)) if rows else 0


def _lines(context: Context, stage: Stage, body: HoldingBody, rail: float) -> Iterator[tuple[Point2, Point2]]:
    """Points and directions (setup's x, y) in which one locator holds: a flat in one, a long one in two, a pin in a
    bore both ways, a pin beside the stock in one."""
    stock, pin = (measure.bounding_box(b, stage.frame) for b in (stage.as_is, body.body))
    middle = (pin.mid[0], pin.mid[1])
    if all(stock.min[i] < pin.mid[i] < stock.max[i] for i in (0, 1)):
        yield from ((middle, way) for way in ((1.0, 0.0), (0.0, 1.0)))
        return
    for patch in patches_of(context, stage, body):
        u, v, _ = stage.frame.direction_to_local(patch.normal)
        if math.hypot(u, v) > SQUARE**0.5:
            along = sorted((p[1] * u - p[0] * v, (p[0], p[1])) for p in map(stage.frame.to_local, patch.points))
            ends = (along[0], along[-1]) if along[-1][0] - along[0][0] >= rail else (along[0],)
            yield from ((at, (u, v)) for _, at in ends)
    if not patches_of(context, stage, body):
        x, y, _ = stage.frame.to_local(measure.distance(stage.as_is, body.body).on_first)
        gap = math.hypot(middle[0] - x, middle[1] - y)
        if gap > TOUCH:
            yield (x, y), ((middle[0] - x) / gap, (middle[1] - y) / gap)
