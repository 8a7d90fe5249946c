"""fit.tap-drill: the hole under a thread is outside the limits of the thread's minor diameter."""

from __future__ import annotations

import math
from collections.abc import Iterator

from schemas.threads import Thread
from schemas.tolerances import LENGTH
from worker.checks import remedies
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.holes import Pass, passes_of, under_thread
from worker.stage.model import Cut, Stage


@rule(
    "fit.tap-drill",
    scope="cut",
    why="In too small a hole the tap breaks; in too large a one the thread has too little flank to hold.",
    reference="ISO 965-1 class 6H, ASME B1.1 class 2B (minor diameter); ISO 2306 and handbook tap-drill charts",
    limits=(
        Limit(
            "tap_drill_over",
            0.02,
            "mm",
            "handbook chart drills exceed the 2B maximum by up to 0.0006 in (9/16-18 with 33/64, 5/8-18 with 37/64)",
        ),
    ),
)
def tap_drill(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Told at the step that makes the hole; at the tap where the modelled hole does not belong to its thread."""
    if cut.step.operation != "tapping":
        yield Skip("no tapping step")
        return
    for tap in passes_of(context, stage, cut):
        thread = cut.tool.screw
        if thread is None:
            continue
        if not _belongs(context, tap, thread):
            yield _foreign(context, tap, thread)
            continue
        made = [p for p in under_thread(context, tap) if _before(context, p, tap)]
        if made:
            yield from _judged(context, tap, max(made, key=lambda p: p.diameter), thread)


def _before(context: Context, one: Pass, tap: Pass) -> bool:
    return any(cut is one.cut for _, cut in context.earlier(tap.cut))


def _belongs(context: Context, tap: Pass, thread: Thread) -> bool:
    """A tapped hole is modelled from its minor limits up to its major diameter."""
    modelled = tap.hole.diameter
    slack = context.limit("tap_drill_over")
    return modelled is None or thread.minor - slack <= modelled <= thread.major + slack


def _foreign(context: Context, tap: Pass, thread: Thread) -> Draft:
    return Draft(
        message=f"Tap {tap.cut.tool.id} makes {thread.designation}, whose hole is modelled between "
        f"ø {context.text(thread.minor)} and ø {context.text(thread.major)}; the part has "
        f"ø {context.text(tap.hole.diameter or 0.0)} here.",
        features=(tap.hole.id,),
        measured=tap.hole.diameter,
        limit=thread.minor,
        unit="mm",
        at=tap.at,
    )


def _judged(context: Context, tap: Pass, hole: Pass, thread: Thread) -> Iterator[Draft]:
    low, high = thread.minor, thread.minor_max
    if low - LENGTH <= hole.diameter <= high + context.limit("tap_drill_over"):
        return
    word, limit = ("below", low) if hole.diameter < low else ("above", high)
    wanted = chart_drill(thread)
    yield Draft(
        message=f"The hole under {thread.designation} is made ø {context.text(hole.diameter)}, {word} its "
        f"{'2B' if thread.unified else '6H'} minor diameter of {context.text(low)} to {context.text(high)}.",
        features=(tap.hole.id,),
        measured=hole.diameter,
        limit=limit,
        unit="mm",
        at=hole.at,
        remedy=remedies.tool_diameter(context, hole.stage, hole.cut, wanted),
        stage=hole.stage,
        cut=hole.cut,
    )


def chart_drill(thread: Thread) -> float:
    """The usual tap drill, mm: d - P to the nearest tenth, halves to the even one (ISO 2306: M8 6.8, M12 10.2).

    Unified threads: d - P down to 1/64 in. Where that leaves the minor-diameter limits, their middle.
    """
    wanted = thread.major - thread.pitch
    rounded = math.floor(wanted / 25.4 * 64 + 1e-6) / 64 * 25.4 if thread.unified else round(wanted * 10) / 10
    if thread.minor <= rounded <= thread.minor_max:
        return round(rounded, 6)
    return round((thread.minor + thread.minor_max) / 2, 3)
