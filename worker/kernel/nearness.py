"""How near a point is to some faces of a body, and the box of those faces."""

from __future__ import annotations

from collections.abc import Sequence

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex

from schemas.base import Box, Frame, Vec3
from worker.kernel import measure
from worker.kernel.shape import Body, compound_of, pick, to_pnt


def distance_to_faces(body: Body, indices: Sequence[int], point: Vec3) -> float:
    """Least distance (mm) of a point to the faces with the given indices."""
    vertex = BRepBuilderAPI_MakeVertex(to_pnt(point)).Vertex()
    return measure.distance(compound_of(pick(body, indices)), vertex).distance


def lies_on_faces(body: Body, indices: Sequence[int], point: Vec3, gap: float) -> bool:
    """Whether a point lies within ``gap`` mm of one of the faces; most are told by their boxes."""
    at, near = to_pnt(point), []
    for index, face in zip(indices, pick(body, indices), strict=True):
        room = measure.rough_box(face)
        room.Enlarge(gap)
        if not room.IsOut(at):
            near.append(index)
    return bool(near) and distance_to_faces(body, near, point) <= gap


def box_of_faces(body: Body, indices: Sequence[int], frame: Frame) -> Box:
    """Bounding box of the faces in the axes of ``frame``."""
    return measure.box_of(compound_of(pick(body, indices)), frame)
