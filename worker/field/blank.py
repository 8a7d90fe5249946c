"""The blank as the plan states it, without a detour by triangles (mm)."""

from __future__ import annotations

from schemas.plan import SetupPlan, StepFile
from worker.field.solids import Turned
from worker.field.view import ALIGNED, View


def stated_blank(plan: SetupPlan, number: int) -> Turned | None:
    """The round bar that a setup starts from, where one is stated along an axis of the part's frame."""
    stated, bar = plan.setups[number].as_is, plan.workpiece.rawpiece.cylinder
    if bar is None or isinstance(stated, StepFile) or (number > 0 and stated != "rawpiece"):
        return None
    start, stop = bar.from_, bar.to
    along = [abs(b - a) for a, b in zip(start, stop, strict=True)]
    axis = along.index(max(along))
    if any(size > ALIGNED for k, size in enumerate(along) if k != axis):
        return None
    u, v = (axis + 1) % 3, (axis + 2) % 3
    view = View((u, v, axis), (1, 1, 1), (0.0, 0.0, 0.0))
    low, high = sorted((start[axis], stop[axis]))
    return Turned(view, start[u], start[v], (low, high), (bar.diameter / 2, bar.diameter / 2))
