"""How near a point is to some faces of a body, and the box of those faces."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
from OCP.TopoDS import TopoDS_Shape

from schemas.base import Box, Frame, Vec3
from worker.kernel import measure
from worker.kernel.shape import Body, compound_of, pick, to_pnt
from worker.kernel.view import view_of


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


def rough_box_of_faces(body: Body, indices: Sequence[int], frame: Frame) -> Box:
    """A box in the axes of ``frame`` that holds the faces, not always the smallest."""
    return rough_box_in(compound_of(pick(body, indices)), frame)


def rough_box_in(shape: TopoDS_Shape, frame: Frame) -> Box:
    """The same of any shape that is not empty."""
    rough, view = measure.rough_box(shape), view_of(frame)
    ends = (rough.CornerMin(), rough.CornerMax())
    corners = [view.to_local((a.X(), b.Y(), c.Z())) for a, b, c in product(ends, repeat=3)]
    x, y, z = ([p[k] for p in corners] for k in range(3))
    return Box(min=(min(x), min(y), min(z)), max=(max(x), max(y), max(z)))
