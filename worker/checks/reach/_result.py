"""The reach result of a step, and words that the reach rules share."""

from __future__ import annotations

import math

from schemas.base import Vec3, add
from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Skip
from worker.checks.metal import taker_after
from worker.reach.cover import STOCK
from worker.reach.model import Reach
from worker.stage.model import Cut, Stage

HUNDREDTH = 0.01
"""Values to set are told to a hundredth of a millimetre, on the safe side."""


def reach_of_step(context: Context, stage: Stage, cut: Cut) -> Reach | Skip:
    """The result, or why there is none."""
    found = context.reach.get((stage.setup.id, cut.step.id))
    if isinstance(found, Reach):
        return found
    return Skip("the step moves no tool through metal on a path that the plan fixes")


def body_word(name: str) -> str:
    """How a message names what is touched."""
    return f"the {name}" if name in ("part", "stock") else f"'{name}' of the workholding"


def at_least(value: float) -> float:
    """The value, up to the next hundredth."""
    return round(math.ceil(round(value / HUNDREDTH, 4)) * HUNDREDTH, 2)


def at_most(value: float) -> float:
    """The value, down to the last hundredth."""
    return round(math.floor(round(value / HUNDREDTH, 4)) * HUNDREDTH, 2)


def features_of(cut: Cut) -> tuple[str, ...]:
    """Ids of the features the step works on."""
    return tuple(f.id for f in cut.features)


def taken_later(context: Context, stage: Stage, cut: Cut, body: str, top: Vec3 | None) -> str | None:
    """The later step of the same setup that takes the stock whose top is met; None: no step does, or it is no stock."""
    if body != STOCK or top is None:
        return None
    taker = taker_after(context, cut, add(top, stage.frame.z, -LENGTH))
    return taker[1].step.id if taker is not None and taker[0] is stage else None


def or_later(context: Context, stage: Stage, cut: Cut, body: str, top: Vec3 | None) -> str:
    """What a remedy's text goes on with where waiting mends it too: the stock in the way is taken later on."""
    step = taken_later(context, stage, cut, body, top)
    return "" if step is None else f", or cut it after step {step}, which takes that stock"


def in_passes(context: Context, stage: Stage, cut: Cut, most: float, how: str = "Take") -> Remedy:
    """To state passes no deeper than a length (mm)."""
    value = at_most(most)
    return Remedy(
        text=f"{how} passes of at most {context.text(value)}.",
        pointer=context.of_step(stage, cut, "technology", "axial_cutting_depth"),
        value=value,
        unit="mm",
    )
