"""What a ball leaves along the inner edges of a room that it goes round in: the kernel's own fillet of its size."""

from __future__ import annotations

from collections.abc import Collection

from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.StdFail import StdFail_NotDone

from worker.kernel.measure import volume
from worker.kernel.shape import Body, compound, edges
from worker.kernel.validity import is_sound


def rolled(room: Body, along: Collection[int], radius: float) -> Body | None:
    """The room less what a ball of that radius cannot reach along some of its edges (by number, all of them convex);
    None where the kernel finds no such ball, or nothing sound.

    A ball that rolls along an edge touches both faces: the surface that it leaves is a rolling-ball blend. A volume
    outside the room, or none that is left, is no blend.
    """
    maker = BRepFilletAPI_MakeFillet(room.wrapped)
    every = edges(room.wrapped)
    for number in sorted(along):
        maker.Add(radius, every[number])
    try:
        maker.Build()
        found = compound([Body(maker.Shape())]) if maker.IsDone() else None
    except (StdFail_NotDone, RuntimeError):
        return None
    if found is None or not is_sound(found):
        return None
    return found if 0.0 < volume(found) < volume(room) else None
