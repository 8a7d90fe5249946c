"""The part's own metal that a step takes, without what the rules on threads and drill points speak of."""

from __future__ import annotations

from schemas.tolerances import LENGTH, VOLUME_NOTHING
from worker.checks.api import Context
from worker.checks.holes import Pass, passes_of, thread_of
from worker.kernel import boolean, measure
from worker.kernel.errors import KernelError
from worker.kernel.primitives import cone, cylinder
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
    rooms = [b for p in passes_of(context, stage, cut) if _in_thread(context, p) for b in _thread_room(stage, p)]
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


def _thread_room(stage: Stage, one: Pass) -> tuple[Body, ...]:
    """The drilled column down to the modelled hole's depth, and the drill's point below it."""
    assert one.plunge is not None
    place, wide = one.hole.placement, one.diameter * (1 + 1e-9)
    low = -(one.hole.depth or 0.0) - LENGTH  # so that its faces and the drill's do not coincide
    floor, point = (place.to_world((0.0, 0.0, z)) for z in (low, low - one.cut.tool.point_length))
    column = cylinder(floor, place.to_world((0.0, 0.0, 1.0)), wide)
    return (column, cone(floor, point, wide, 0.0)) if one.cut.tool.point_length else (column,)
