"""Solids that tools sweep: regions given height, rounded floors, faces lifted along a direction (part's frame, mm)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepLib import BRepLib
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Ax2, gp_Circ, gp_Pln, gp_Vec
from OCP.ShapeUpgrade import ShapeUpgrade_ShapeDivideAngle
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Vertex, TopoDS_Wire

from schemas.base import Frame, Vec3, scale
from schemas.tolerances import COINCIDENT
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.planar import Region, components
from worker.kernel.planar_edge import Edge, Point2, distance, point_at
from worker.kernel.planar_trace import Loop
from worker.kernel.shape import EMPTY, Body, compound, sub_shapes, to_dir, to_pnt, to_vec

CONFUSION = 1e-7
"""The kernel's own tolerance of a vertex (mm)."""


def prism(region: Region, frame: Frame, low: float, high: float) -> Body:
    """The region of the frame's x, y between two heights; one solid a component, empty where there is no height."""
    if not region or high - low <= COINCIDENT:
        return EMPTY
    up = to_vec(scale(frame.z, high - low))
    return compound([lifted(face, up) for face in region_faces(region, frame, low)])


def lifted(face: TopoDS_Face, along: gp_Vec) -> Body:
    """The face swept along a vector: one solid."""
    maker = BRepPrimAPI_MakePrism(face, along, True)
    if not maker.IsDone():
        raise KernelError("prism", "the kernel could not lift a face")
    return Body(maker.Shape())


def lift_faces(faces: Iterable[TopoDS_Face], direction: Vec3, distance: float) -> Body:
    """What stands on each face and above it: the face swept along a direction; one solid a face, two of such as close
    on themselves."""
    along = to_vec(scale(direction, distance))
    return compound([outward(lifted(piece, along)) for face in faces for piece in _halves(face)])


def _halves(face: TopoDS_Face) -> Iterator[TopoDS_Face]:
    """A face that meets itself along a seam in pieces of half a turn: lifted whole, its seam would be a wall within."""
    edges = [TopoDS.Edge_s(e) for e in sub_shapes(face, TopAbs_ShapeEnum.TopAbs_EDGE)]
    if not any(BRep_Tool.IsClosed_s(edge, face) for edge in edges):
        yield face
        return
    divide = ShapeUpgrade_ShapeDivideAngle(math.pi, face)
    with kernel_step("lift"):
        divide.Perform()
    yield from (TopoDS.Face_s(s) for s in sub_shapes(divide.Result(), TopAbs_ShapeEnum.TopAbs_FACE))


def outward(body: Body) -> Body:
    """The solid with its faces pointing out of the metal."""
    solid = TopoDS.Solid_s(body.wrapped)
    if not BRepLib.OrientClosedSolid_s(solid):
        raise KernelError("sweep", "a swept body is no closed solid")
    return Body(solid)


def region_faces(region: Region, frame: Frame, z: float) -> list[TopoDS_Face]:
    """The components of the region as kernel faces at height ``z``, their normal along the frame's z."""
    return [_face(part, frame, z) for part in components(region)]


def _face(region: Region, frame: Frame, z: float) -> TopoDS_Face:
    plane = gp_Pln(to_pnt(frame.to_world((0.0, 0.0, z))), to_dir(frame.z))
    outer, *holes = (_wire(loop, frame, z) for loop in region.loops)
    maker = BRepBuilderAPI_MakeFace(plane, outer, True)
    for hole in holes:
        maker.Add(hole)
    if not maker.IsDone():
        raise KernelError("face", "the kernel could not build a plane face")
    return maker.Face()


def _wire(loop: Loop, frame: Frame, z: float) -> TopoDS_Wire:
    maker = BRepBuilderAPI_MakeWire()
    if is_circle(loop):
        maker.Add(BRepBuilderAPI_MakeEdge(kernel_circle(loop[0], frame, z)).Edge())
    else:
        offs = [max(off_arc(loop[i - 1], edge.a), off_arc(edge, edge.a)) for i, edge in enumerate(loop)]
        corners = [vertex(frame.to_world((*edge.a, z)), off) for edge, off in zip(loop, offs, strict=True)]
        for i, edge in enumerate(loop):
            maker.Add(kernel_edge(edge, corners[i], corners[(i + 1) % len(loop)], frame, z))
    if not maker.IsDone():
        raise KernelError("wire", "the kernel could not chain the edges of a plane region")
    return maker.Wire()


def is_circle(loop: Loop) -> bool:
    """True for two halves of one circle."""
    first = loop[0]
    if len(loop) != 2 or first.centre is None or loop[1].centre is None:
        return False
    together = abs(first.centre[0] - loop[1].centre[0]) + abs(first.centre[1] - loop[1].centre[1]) < 1e-9
    return together and abs(first.radius - loop[1].radius) < 1e-9


def off_arc(edge: Edge, corner: Point2) -> float:
    """How far a corner lies off its arc: points are merged and short edges left out."""
    return abs(distance(corner, edge.centre) - edge.radius) if edge.centre is not None else 0.0


def vertex(point: Vec3, off: float) -> TopoDS_Vertex:
    """A vertex with no more tolerance than it needs: a larger one spoils later booleans."""
    found = TopoDS_Vertex()
    BRep_Builder().MakeVertex(found, to_pnt(point), max(CONFUSION, 1.5 * off))
    return found


def kernel_circle(edge: Edge, frame: Frame, z: float) -> gp_Circ:
    """The arc's circle, its parameter's start opposite the arc: cylinders then have their seam where no face is."""
    assert edge.centre is not None
    up = frame.z if edge.sweep > 0 else scale(frame.z, -1.0)
    centre, middle = to_pnt(frame.to_world((*edge.centre, z))), point_at(edge, 0.5)
    away = (edge.centre[0] - middle[0], edge.centre[1] - middle[1], 0.0)
    return gp_Circ(gp_Ax2(centre, to_dir(up), to_dir(frame.direction_to_world(away))), edge.radius)


def kernel_edge(edge: Edge, a: TopoDS_Vertex, b: TopoDS_Vertex, frame: Frame, z: float) -> TopoDS_Edge:
    """The edge at a height of the frame, between two corners."""
    if edge.centre is None:
        maker = BRepBuilderAPI_MakeEdge(a, b)
    else:
        maker = BRepBuilderAPI_MakeEdge(kernel_circle(edge, frame, z), a, b)
    if not maker.IsDone():
        raise KernelError("edge", "the kernel could not build an edge of a plane region")
    return maker.Edge()
