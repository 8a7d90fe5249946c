"""What lies straight between flats of a body that two jaws meet (mm)."""

from __future__ import annotations

from collections.abc import Sequence

from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism

from schemas.base import Box, Frame, Vec3, scale
from worker.kernel import measure
from worker.kernel.contact import Patch, opposed
from worker.kernel.nearness import rough_box_in
from worker.kernel.shape import EMPTY, Body, compound_of, faces, to_vec


def between(one: Sequence[Patch], other: Sequence[Patch], axis: Vec3) -> Body:
    """The prisms from where ``other`` covers ``one``, seen along a unit vector square to all, back to ``one``; EMPTY
    where nothing does."""
    found = [BRepPrimAPI_MakePrism(face, to_vec(scale(axis, -far))).Shape() for face, far in opposed(one, other, axis)]
    return Body(compound_of(found)) if found else EMPTY


def boxes_within(body: Body, room: Box, frame: Frame) -> tuple[Box, ...]:
    """Boxes, in a frame's axes, of the faces of a body that come into the inside of a room (mm)."""
    near = (face for face in faces(body) if _meet(rough_box_in(face, frame), room))
    return tuple(box for box in (measure.box_of(face, frame) for face in near) if _meet(box, room))


def _meet(box: Box, room: Box) -> bool:
    return all(box.min[k] < room.max[k] and box.max[k] > room.min[k] for k in range(3))
