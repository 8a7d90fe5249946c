"""machine.speed: the step asks for more spindle speed, feed, power or torque than the machine states."""

from __future__ import annotations

import math
from collections.abc import Iterator

from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.heights import first_place
from worker.checks.machine._power import power_drafts
from worker.stage.model import Cut, Stage

LIMITS = ("max_spindle_speed", "max_feed", "max_spindle_power", "max_spindle_torque")


@rule(
    "machine.speed",
    scope="cut",
    metal="sweep",
    facets=True,
    why="The control clips the speed or stops the program; tool life and finish are then not what was planned.",
    reference="ISO 14649-11 technology; the machine's own limits as the plan states them; n = 1000 vc / (pi DC)",
)
def speed(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Spindle speed, stated or from the cutting speed, feed speed; estimated power and torque."""
    machine = context.plan.machine
    asked = spindle_speed(cut)
    if machine is None or not any(getattr(machine, name) for name in LIMITS):
        yield Skip("the plan states no speed, feed, power or torque of the machine")
        return
    yield from power_drafts(context, stage, cut)
    if asked is None:
        yield Skip("the step states no speed")
        return
    if machine.max_spindle_speed is not None and asked > machine.max_spindle_speed * (1 + 1e-9):
        yield _too_fast(context, stage, cut, asked, machine.max_spindle_speed)
    feed = _feed(cut, asked)
    if machine.max_feed is not None and feed is not None and feed > machine.max_feed * (1 + 1e-9):
        yield _feeds_too_fast(context, stage, cut, feed, machine.max_feed)


def spindle_speed(cut: Cut) -> float | None:
    """1/min: as stated, or n = 1000 vc / (pi DC); None when the step states neither."""
    technology = cut.step.technology
    if technology.spindle_speed is not None:
        return technology.spindle_speed
    if technology.cutspeed is None:
        return None
    return 1000.0 * technology.cutspeed / (math.pi * cut.tool.diameter)


def _feed(cut: Cut, speed: float) -> float | None:
    """Feed speed, mm/min."""
    technology, lead = cut.step.technology, _lead(cut)
    if lead is not None:
        return lead * speed
    if technology.feed_per_rev is not None:
        return technology.feed_per_rev * speed
    if technology.feed_per_tooth is not None and cut.tool.NOF is not None:
        return technology.feed_per_tooth * cut.tool.NOF * speed
    return None


def _lead(cut: Cut) -> float | None:
    """What a tap feeds in a turn, mm; None for every other step."""
    return cut.tool.screw.pitch if cut.step.operation == "tapping" and cut.tool.screw else None


def _too_fast(context: Context, stage: Stage, cut: Cut, asked: float, limit: float) -> Draft:
    name, value = "spindle_speed", limit
    if cut.step.technology.cutspeed is not None:
        name, value = "cutspeed", math.floor(limit * math.pi * cut.tool.diameter) / 1000.0
    return Draft(
        message=f"The step asks for {asked:.0f} 1/min; the machine's spindle turns {limit:.0f} 1/min.",
        measured=asked,
        limit=limit,
        unit="1/min",
        at=first_place(cut),
        remedy=Remedy(
            text=f"Set {name} to {value:g}.",
            pointer=context.of_step(stage, cut, "technology", name),
            value=value,
            unit="1/min" if name == "spindle_speed" else None,
        ),
    )


def _feeds_too_fast(context: Context, stage: Stage, cut: Cut, feed: float, limit: float) -> Draft:
    """A tap's feed is its pitch: it can only turn more slowly."""
    technology = cut.step.technology
    own = ("spindle_speed", "cutspeed") if _lead(cut) is not None else ("feed_per_rev", "feed_per_tooth")
    name = next(one for one in own if getattr(technology, one) is not None)
    value = float(getattr(technology, name)) * limit / feed
    said = context.text(value) if name.startswith("feed") else f"{value:g}"
    return Draft(
        message=f"The step feeds {context.text(feed)} a minute; the machine feeds {context.text(limit)} a minute.",
        measured=feed,
        limit=limit,
        unit="mm",
        at=first_place(cut),
        remedy=Remedy(
            text=f"Set {name} to {said}.",
            pointer=context.of_step(stage, cut, "technology", name),
            value=value,
            unit="mm" if name.startswith("feed") else "1/min" if name == "spindle_speed" else None,
        ),
    )
