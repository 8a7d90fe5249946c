"""fit.tap-drill: the hole under a thread is outside the limits of the thread's minor diameter."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.thread_forms import makes
from schemas.thread_series import thread_in_name
from schemas.threads import Thread
from worker.checks import remedies
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.fit._chart import chart_drill, coarse_thread_for, suits
from worker.checks.holes import Pass, passes_of, under_thread
from worker.stage.model import Cut, Stage


@rule(
    "fit.tap-drill",
    scope="cut",
    metal="sweep",
    facets=True,
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
        if tap.hole.thread and not makes(thread, tap.hole.thread):
            yield _another(context, tap, thread, tap.hole.thread)
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


def _another(context: Context, tap: Pass, thread: Thread, stated: str) -> Draft:
    """The model says which thread it is, and the tap is another's."""
    wanted = thread_in_name(stated)
    return Draft(
        message=f"Tap {tap.cut.tool.id} makes {thread.designation}; {tap.hole.id} has "
        f"{wanted.designation if wanted else stated}.",
        features=(tap.hole.id,),
        at=tap.at,
        remedy=_tap_for(context, tap, stated, wanted),
    )


def _tap_for(context: Context, tap: Pass, stated: str, wanted: Thread | None) -> Remedy | None:
    """A tap of the plan that makes the thread, else any such tap; none where no tap makes it."""
    pointer = context.of_step(tap.stage, tap.cut, "tool")
    fitting = next((t for t in context.plan.tools if t.screw is not None and makes(t.screw, stated)), None)
    if fitting:
        return Remedy(text=f"Use tap {fitting.id}, {fitting.thread}.", pointer=pointer, value=fitting.id)
    if wanted is None:
        return None
    name = wanted.designation
    return Remedy(text=f"Use a tap {name}.", pointer=context.of_tool(tap.cut.tool, "thread"), value=name)


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
        remedy=_other_tap(context, tap),
    )


def _other_tap(context: Context, tap: Pass) -> Remedy | None:
    """A tap of the plan, else a coarse metric one, to whose minor limits the modelled hole belongs."""
    pointer = context.of_step(tap.stage, tap.cut, "tool")
    for tool in context.plan.tools:
        if tool.screw is not None and _belongs(context, tap, tool.screw):
            return Remedy(text=f"Use tap {tool.id}, {tool.thread}.", pointer=pointer, value=tool.id)
    name, pointer = coarse_thread_for(tap.hole.diameter or 0.0), context.of_tool(tap.cut.tool, "thread")
    return Remedy(text=f"Use a tap {name}.", pointer=pointer, value=name) if name else None


def _judged(context: Context, tap: Pass, hole: Pass, thread: Thread) -> Iterator[Draft]:
    low, high = thread.minor, thread.minor_max
    if suits(thread, hole.diameter, context.limit("tap_drill_over")):
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
