"""Clamps of a fixture that push the stock from the side, and what stands against them."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3, dot, norm, scale, sub
from schemas.finding import Remedy
from schemas.tolerances import TOUCH
from worker.checks.api import Context, Draft
from worker.checks.hold._contacts import SQUARE, opening_word, patches_of, pointer_of
from worker.kernel import measure
from worker.kernel.contact import touches
from worker.stage.model import HoldingBody, Stage

AGAINST = 0.5
"""Cosine from which a contact stands against a push: within 60 degrees of it."""


def pressing(context: Context, stage: Stage) -> tuple[HoldingBody, ...]:
    """Clamps and bolts that touch the stock, without those that only bear on it from below: they lift it."""
    found = [b for b in touching(context, stage) if b.role in ("clamp", "bolt")]
    return tuple(b for b in found if not _only(context, stage, b, -1.0))


def unopposed_drafts(context: Context, stage: Stage) -> Iterator[Draft]:
    """Clamps that push sideways against nothing, where none presses down: the stock slides away from them."""
    found = pressing(context, stage)
    beside = [b for b in found if _push(context, stage, b) is not None]
    if not found or len(beside) < len(found):
        return
    for body in beside:
        push = _push(context, stage, body)
        others = [b for b in touching(context, stage) if b is not body]
        if push is not None and not any(stands_against(context, stage, b, push) for b in others):
            yield Draft(
                message=f"{opening_word(body)} pushes the stock aside: nothing stands against it.",
                at=patches_of(context, stage, body)[0].inside,
                remedy=Remedy(
                    text=f"Put a locator or clamp opposite {body.name}, or clamp the stock down.",
                    pointer=pointer_of(context, stage, body),
                ),
            )


def _only(context: Context, stage: Stage, body: HoldingBody, up: float) -> bool:
    """Whether a body meets flats of the stock, all of them square to the spindle and looking that way."""
    found = patches_of(context, stage, body)
    return bool(found) and all(up * dot(p.normal, stage.frame.z) >= 1 - SQUARE for p in found)


def _push(context: Context, stage: Stage, body: HoldingBody) -> Vec3 | None:
    """The way a body pushes that meets upright flats alone; None for every other."""
    found = patches_of(context, stage, body)
    if not found or any(abs(dot(p.normal, stage.frame.z)) > SQUARE**0.5 for p in found):
        return None
    return scale(max(found, key=lambda p: p.area).normal, -1.0)


def touching(context: Context, stage: Stage) -> tuple[HoldingBody, ...]:
    """All of the workholding that touches the as-is stock: what meets it in flats, which other rules ask for as well,
    is asked no further."""
    bodies = stage.holding.bodies
    key = f"hold.touching.{stage.setup.id}"
    return context.once(
        key,
        lambda: tuple(b for b in bodies if patches_of(context, stage, b) or touches(stage.as_is, b.body, TOUCH)),
    )


def stands_against(context: Context, stage: Stage, body: HoldingBody, push: Vec3) -> bool:
    """A flat of the stock that looks the way it is pushed; of a pin its middle, beyond the point that it touches."""
    flats = patches_of(context, stage, body)
    if flats:
        return any(dot(p.normal, push) >= AGAINST for p in flats)
    beyond = sub(measure.centroid(body.body), measure.distance(stage.as_is, body.body).on_first)
    flat = sub(beyond, scale(stage.frame.z, dot(beyond, stage.frame.z)))
    return norm(flat) > TOUCH and dot(flat, push) >= AGAINST * norm(flat)
