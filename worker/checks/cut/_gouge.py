"""The part's own metal that a step takes, without what the rules on threads and drill points speak of."""

from __future__ import annotations

from schemas.tolerances import VOLUME_NOTHING
from worker.checks.api import Context
from worker.checks.holes import Pass, passes_of, thread_of
from worker.kernel import boolean, measure
from worker.kernel.errors import KernelError
from worker.kernel.primitives import cylinder
from worker.kernel.shape import Body, compound, is_empty, solids
from worker.stage.model import Cut, Stage


def gouged(context: Context, stage: Stage, cut: Cut, film: float) -> Body | None:
    """Gouges thicker than ``film`` (mm), less the thread's room of tapped holes; None when nothing is left.

    Raises KernelError where the gouge is not known.
    """
    if cut.gouge_fault:
        raise KernelError("gouge", cut.gouge_fault)
    if cut.gouge is None:
        return None
    found: Body = cut.gouge
    rooms = [_thread_room(stage, p) for p in passes_of(context, stage, cut) if _in_thread(context, p)]
    if rooms:
        found = boolean.cut(found, rooms, merge=False)
    kept = [s for s in solids(found) if measure.volume(s) > VOLUME_NOTHING and thickness(s) > film]
    return compound(kept) if kept else None


def thickness(body: Body) -> float:
    """Mean thickness of a thin body: twice its volume over its surface, mm."""
    return 0.0 if is_empty(body) else 2 * measure.volume(body) / measure.area(body)


def _in_thread(context: Context, one: Pass) -> bool:
    """A drill no wider than the thread's crest diameter allows: what it takes is the thread's own room."""
    thread = thread_of(context, one.hole)
    return thread is not None and one.plunge is not None and one.diameter <= thread.major


def _thread_room(stage: Stage, one: Pass) -> Body:
    """The drilled column down to the modelled hole's bottom, point included."""
    assert one.plunge is not None
    place = one.hole.placement
    depth = (one.hole.depth or 0.0) + one.cut.tool.point_length
    return cylinder(place.to_world((0.0, 0.0, -depth)), place.to_world((0.0, 0.0, 1.0)), one.diameter * (1 + 1e-9))
