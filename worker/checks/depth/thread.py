"""depth.thread: the drilled hole is too shallow for the tap to make the thread."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.heights import top_of
from worker.checks.holes import Pass, passes_of, under_thread
from worker.stage.model import Cut, Stage


@rule(
    "depth.thread",
    scope="cut",
    metal="sweep",
    facets=True,
    why="A tap cuts its full thread only above its chamfer; in too short a hole it runs onto the bottom and breaks.",
    reference="tap chamfer form C, 2 to 3 pitches (DIN 2197, from memory); thread run-out 4 to 6 pitches is usual "
    "(DIN 76-1, from memory)",
    limits=(Limit("tap_chamfer_pitches", 2.0, "1", "shortest form C chamfer, 2 pitches (DIN 2197, from memory)"),),
    because_of=("order.sequence",),
)
def thread(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Drilled full-diameter depth against the stated thread depth and the tap's chamfer, both from the entry face."""
    screw = cut.tool.screw
    if cut.step.operation != "tapping" or screw is None:
        yield Skip("no tapping step")
        return
    if cut.step.cutting_depth is None and cut.step.bottom_z is None:
        yield Skip("the tapping step states no depth of thread")
        return
    chamfer = context.limit("tap_chamfer_pitches") * screw.pitch
    for tap in passes_of(context, stage, cut):
        yield from _judged(context, tap, chamfer)


def _judged(context: Context, tap: Pass, chamfer: float) -> Iterator[Draft]:
    drilled = _drilled_to(context, tap)
    if drilled is None:
        return
    entry = top_of(tap.stage, tap.hole)
    end = _thread_end(tap, entry, chamfer)
    missing = drilled - (end - chamfer)
    if missing <= LENGTH:
        return
    yield Draft(
        message=f"The thread in {tap.hole.id} ends {context.text(entry - end)} deep and the tap's chamfer needs "
        f"{context.text(chamfer)} more; the hole is drilled {context.text(entry - drilled)} deep at full diameter.",
        features=(tap.hole.id,),
        measured=entry - drilled,
        limit=entry - end + chamfer,
        unit="mm",
        at=tap.at,
        remedy=_remedy(context, tap, missing),
    )


def _thread_end(tap: Pass, entry: float, chamfer: float) -> float:
    step = tap.cut.step
    if step.cutting_depth is not None:
        return entry - step.cutting_depth
    return (step.bottom_z or 0.0) + chamfer


def _drilled_to(context: Context, tap: Pass) -> float | None:
    """Lowest height of the full diameter under the thread, in the tap's setup; None for a through or unknown hole."""
    holes = [p for p in under_thread(context, tap) if p.stage is tap.stage and p.plunge]
    if not holes or any(p.hole.bottom == "through" and p.hole.id == tap.hole.id for p in holes):
        return None
    return min(p.plunge.full_diameter_z for p in holes if p.plunge)


def _remedy(context: Context, tap: Pass, missing: float) -> Remedy:
    step = tap.cut.step
    if step.cutting_depth is not None:
        name, value = "cutting_depth", step.cutting_depth - missing
    else:
        name, value = "bottom_z", (step.bottom_z or 0.0) + missing
    return Remedy(
        text=f"Set {name} of the tapping step to {context.text(value)}, or drill {context.text(missing)} deeper.",
        pointer=context.of_step(tap.stage, tap.cut, name),
        value=value,
        unit="mm",
    )
