"""depth.thread: the drilled hole is too shallow for the tap to make the thread."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import FACETS, LENGTH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.heights import bottom_of, top_of
from worker.checks.holes import Pass, passes_of, under_thread
from worker.checks.metal import column_before, place_of
from worker.kernel import measure
from worker.kernel.primitives import cylinder
from worker.kernel.shape import is_empty
from worker.stage.model import Cut, Stage

OFF = 2 * FACETS
"""A hole is looked down this far (mm) off its wall, so that neither it nor flats that stand for it count as metal."""


@rule(
    "depth.thread",
    scope="cut",
    metal="here",
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
    entry = top_of(tap.stage, tap.hole)
    end = _thread_end(tap, entry, chamfer)
    drilled = _drilled_to(context, tap, entry, end - chamfer)
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
        remedy=_remedy(context, tap, entry - end, drilled, missing),
    )


def _thread_end(tap: Pass, entry: float, chamfer: float) -> float:
    step = tap.cut.step
    if step.cutting_depth is not None:
        return entry - step.cutting_depth
    return (step.bottom_z or 0.0) + chamfer


def _drilled_to(context: Context, tap: Pass, entry: float, low: float) -> float:
    """Height of the highest metal that the step finds within the hole's width between its entry and ``low``; ``low``
    for none. What the tap meets counts, whatever made the hole and in whichever setup."""
    frame, width = tap.stage.frame, _full_width(context, tap) - 2 * OFF
    if entry <= low + LENGTH or width <= 0:
        return low
    x, y, _ = frame.to_local(tap.at)
    column = cylinder(frame.to_world((x, y, low)), frame.to_world((x, y, entry)), width)
    met = column_before(context, tap.stage, place_of(tap.stage, tap.cut), column)
    if is_empty(met):
        return low
    top = measure.bounding_box(met, frame).max[2]
    return next((z for z in _full_diameters(context, tap) if abs(z - top) <= 2 * OFF), top)


def _full_diameters(context: Context, tap: Pass) -> Iterator[float]:
    """Heights at which the full diameters of drills under the thread end, in the tap's setup."""
    for one in under_thread(context, tap):
        if one.plunge is not None:
            x, y, _ = one.stage.frame.to_local(one.at)
            yield tap.stage.frame.to_local(one.stage.frame.to_world((x, y, one.plunge.full_diameter_z)))[2]


def _full_width(context: Context, tap: Pass) -> float:
    """The widest that steps before the tap make the hole under the thread, mm; the modelled width where none does."""
    earlier = [cut for _, cut in context.earlier(tap.cut)]
    made = [p.diameter for p in under_thread(context, tap) if any(p.cut is cut for cut in earlier)]
    return max(made, default=tap.hole.diameter or 0.0)


def _remedy(context: Context, tap: Pass, depth: float, drilled: float, missing: float) -> Remedy:
    """A thread (``depth`` now, mm) that ends higher, where any is left of it, or a deeper hole, where the part's is."""
    step, deeper = tap.cut.step, f"drill {context.text(missing)} deeper"
    goes_on = bottom_of(tap.stage, tap.hole) <= drilled - missing + LENGTH
    if depth - missing <= LENGTH:
        text = deeper.capitalize() if goes_on else "Use a tap with a shorter chamfer, or ask for a deeper hole"
        return Remedy(text=f"{text}.", pointer=context.of_step(tap.stage, tap.cut))
    if step.cutting_depth is not None:
        name, value = "cutting_depth", step.cutting_depth - missing
    else:
        name, value = "bottom_z", (step.bottom_z or 0.0) + missing
    return Remedy(
        text=f"Set {name} of the tapping step to {context.text(value)}{f', or {deeper}' if goes_on else ''}.",
        pointer=context.of_step(tap.stage, tap.cut, name),
        value=value,
        unit="mm",
    )
