"""Whether a solid holds a cylinder, as a drill's path holds its hole: told by faces on one axis, without a cut."""

from __future__ import annotations

from schemas.base import Frame, any_frame, cross, norm
from schemas.tolerances import COINCIDENT
from worker.kernel import measure
from worker.kernel.shape import Body
from worker.kernel.walls_side import Side, sides_of

SQUARE = 1e-9
"""Sine up to which two directions are one: what the kernel leaves of a turned axis."""


def holds_round(body: Body, cylinder: Body) -> bool:
    """True where no face of the body comes into the cylinder, and its middle lies in the metal; in doubt False.

    A face stays out that lies above or below it, and a round wall on the same axis that is no narrower.
    """
    round_walls = [side for side in sides_of(cylinder) if side.surface.kind == "cylinder"]
    if len(round_walls) != 1 or any(side.surface.kind not in ("cylinder", "plane") for side in sides_of(cylinder)):
        return False
    wall = round_walls[0].surface
    frame = any_frame(wall.origin, wall.axis)
    room = measure.bounding_box(cylinder, frame)
    low, high = room.min[2], room.max[2]
    if not all(_stays_out(side, frame, low, high, wall.radius) for side in sides_of(body)):
        return False
    return measure.contains(body, frame.to_world((0.0, 0.0, (low + high) / 2))) == "in"


def _stays_out(side: Side, frame: Frame, low: float, high: float, radius: float) -> bool:
    surface = side.surface
    if surface.kind == "cylinder" and surface.radius >= radius - COINCIDENT and _on_axis(side, frame):
        return True
    box = measure.box_of(side.shape, frame)
    return box.min[2] >= high - COINCIDENT or box.max[2] <= low + COINCIDENT


def _on_axis(side: Side, frame: Frame) -> bool:
    """Whether a round face has the frame's z for its axis."""
    x, y, _ = frame.to_local(side.surface.origin)
    return norm(cross(side.surface.axis, frame.z)) <= SQUARE and norm((x, y, 0.0)) <= COINCIDENT
