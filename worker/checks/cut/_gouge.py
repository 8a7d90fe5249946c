"""The part's own metal that a step takes, without what the rules on threads, drill points and floor radii speak of."""

from __future__ import annotations

import math

from schemas.tolerances import LENGTH, VOLUME_NOTHING
from worker.checks.api import Context
from worker.checks.fit.floor_radius import stands_on_a_rounded_floor
from worker.checks.holes import Pass, makes_cylinder, passes_of, thread_of
from worker.kernel import boolean, measure
from worker.kernel.errors import KernelError
from worker.kernel.primitives import cone, cylinder
from worker.kernel.shape import Body, compound, is_empty, solids
from worker.stage.model import Cut, Stage


def gouged(context: Context, stage: Stage, cut: Cut, film: float) -> Body | None:
    """Gouges thicker than ``film`` (mm), less the thread's room of tapped holes and the fillet round a floor that a
    square tool comes down to (fit.floor-radius tells it); None when nothing is left.

    Raises KernelError where the gouge is not known.
    """
    if cut.gouge_fault:
        raise KernelError("gouge", cut.gouge_fault)
    if cut.gouge is None:
        return None
    found: Body = cut.gouge
    rooms = [body for p in passes_of(context, stage, cut) for body in _rooms(context, p)]
    if rooms:
        found = boolean.cut(found, rooms, merge=False)
    kept = [s for s in solids(found) if measure.volume(s) > VOLUME_NOTHING and thickness(s) > film]
    return compound(kept) if kept else None


def thickness(body: Body) -> float:
    """Mean thickness of a thin body: twice its volume over its surface, mm."""
    return 0.0 if is_empty(body) else 2 * measure.volume(body) / measure.area(body)


def _rooms(context: Context, one: Pass) -> tuple[Body, ...]:
    """What a tool on the axis of a tapped hole may take: a drill no wider than the thread its column, a spot or a
    countersink the cone at the mouth; one that comes down to a floor with a fillet, that fillet."""
    if stands_on_a_rounded_floor(one):
        return (_fillet_room(one),)
    thread = thread_of(context, one.hole)
    if thread is None or one.plunge is None:
        return ()
    if makes_cylinder(one.cut):
        return _thread_room(one) if one.diameter <= thread.major else ()
    return _mouth(one, highest_tip(context, one))


def highest_tip(context: Context, one: Pass) -> float | None:
    """Height in the setup of the tip of a spot or countersink that makes the mouth of the tapped hole as wide as is
    usual; None for a tool without a cone, and where no thread is cut."""
    thread, half = thread_of(context, one.hole), one.cut.tool.flank_half_angle
    if thread is None or one.plunge is None or half is None or half >= 90 or makes_cylinder(one.cut):
        return None
    wide = min(context.limit("thread_mouth") * thread.major, one.diameter)
    blunt = one.cut.tool.tip_diameter or 0.0
    return one.plunge.entry_z - max(wide - blunt, 0.0) / 2 / math.tan(math.radians(half))


def _mouth(one: Pass, highest: float | None) -> tuple[Body, ...]:
    """The column round a cone that makes the mouth no wider than is usual; of one that goes deeper, nothing."""
    assert one.plunge is not None
    deep = one.plunge.entry_z - one.plunge.tip_z
    if highest is None or one.plunge.tip_z < highest - LENGTH or deep <= LENGTH:
        return ()
    frame = one.stage.frame
    x, y, _ = frame.to_local(one.plunge.centre)
    low, high = (frame.to_world((x, y, z)) for z in (one.plunge.tip_z - LENGTH, one.plunge.entry_z + LENGTH))
    return (cylinder(low, high, one.diameter * (1 + 1e-9)),)


def _fillet_room(one: Pass) -> Body:
    """The hole from its floor up to where the fillet round that ends."""
    place, low = one.hole.placement, -(one.hole.depth or 0.0)
    floor, end = (place.to_world((0.0, 0.0, z)) for z in (low, low + (one.hole.planar_radius or 0.0) + LENGTH))
    return cylinder(floor, end, (one.hole.diameter or 0.0) * (1 + 1e-9))


def _thread_room(one: Pass) -> tuple[Body, ...]:
    """The drilled column down to the modelled hole's depth, and the drill's point below it."""
    assert one.plunge is not None
    place, wide = one.hole.placement, one.diameter * (1 + 1e-9)
    low = -(one.hole.depth or 0.0) - LENGTH  # so that its faces and the drill's do not coincide
    floor, point = (place.to_world((0.0, 0.0, z)) for z in (low, low - one.cut.tool.point_length))
    column = cylinder(floor, place.to_world((0.0, 0.0, 1.0)), wide)
    return (column, cone(floor, point, wide, 0.0)) if one.cut.tool.point_length else (column,)
