"""What lies straight between flats of a body that two jaws meet (mm)."""

from __future__ import annotations

from collections.abc import Sequence

from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.TopAbs import TopAbs_ShapeEnum

from schemas.base import Box, Frame, Vec3, scale
from worker.kernel import measure
from worker.kernel.contact import Patch, shifted
from worker.kernel.nearness import rough_box_in
from worker.kernel.shape import EMPTY, Body, compound_of, faces, sub_shapes, to_vec


def between(one: Sequence[Patch], other: Sequence[Patch], shift: Vec3) -> Body:
    """The prism from where ``other`` covers ``one`` moved by ``shift``, back to ``one``; EMPTY where nothing does."""
    if not one or not other:
        return EMPTY
    moved = shifted(compound_of(p.shape for p in one), shift)
    operation = BRepAlgoAPI_Common(moved, compound_of(p.shape for p in other))
    opposed = sub_shapes(operation.Shape(), TopAbs_ShapeEnum.TopAbs_FACE)
    prisms = [BRepPrimAPI_MakePrism(face, to_vec(scale(shift, -1.0))).Shape() for face in opposed]
    return Body(compound_of(prisms)) if prisms else EMPTY


def boxes_within(body: Body, room: Box, frame: Frame) -> tuple[Box, ...]:
    """Boxes, in a frame's axes, of the faces of a body that come into the inside of a room (mm)."""
    near = (face for face in faces(body) if _meet(rough_box_in(face, frame), room))
    return tuple(box for box in (measure.box_of(face, frame) for face in near) if _meet(box, room))


def _meet(box: Box, room: Box) -> bool:
    return all(box.min[k] < room.max[k] and box.max[k] > room.min[k] for k in range(3))
