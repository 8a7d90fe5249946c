"""What a turned profile leaves along the border of the region that it is swept over: one solid an edge and a corner."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1
from OCP.TopoDS import TopoDS_Face

from schemas.base import Frame, Vec3, scale
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.measure import volume
from worker.kernel.planar import Bounds, Region, boxes_meet, components
from worker.kernel.planar_edge import Edge, Point2, bounds, tangent_at
from worker.kernel.planar_trace import Loop
from worker.kernel.primitives import ProfilePoint
from worker.kernel.shape import Body, compound, list_of, to_dir, to_pnt, to_vec
from worker.kernel.sweep import lifted, outward, prism

Outline = Sequence[ProfilePoint]
"""A closed outline in the upright plane square to a border: (way in from the border, height), arcs as in primitives."""
ASTRAY = 1e-6
"""Share of a volume that may go astray when borders are cut."""


def trimmed(region: Region, frame: Frame, span: tuple[float, float], lost: Sequence[Outline], within: Bounds) -> Body:
    """The region between two heights, less what the outlines take off along its border (in the box ``within``)."""
    column = prism(region, frame, *span)
    gone = [body for part in components(region) for outline in lost for body in _along(part, outline, frame, within)]
    return _without(column, gone) if gone else column


def _without(column: Body, gone: Sequence[Body]) -> Body:
    operation = BRepAlgoAPI_Cut()
    operation.SetArguments(list_of([column.wrapped]))
    operation.SetTools(list_of(body.wrapped for body in gone))
    with kernel_step("rim"):
        operation.Build()
    if not operation.IsDone():
        raise KernelError("rim", "the kernel could not shape the border")
    result = compound([Body(operation.Shape())])
    before, after, lost = volume(column), volume(result), sum(map(volume, gone))
    if not before - lost - ASTRAY * before <= after < before:
        raise KernelError("rim", f"the volume went from {before:.6g} to {after:.6g} mm3")
    return result


def _along(region: Region, outline: Outline, frame: Frame, within: Bounds) -> list[Body]:
    width, found = max(point[0] for point in outline), []
    for loop in region.loops:
        for before, edge in _corners(loop):
            if boxes_meet(bounds(edge), within, width):
                found += [_along_edge(edge, outline, frame), *_about_corner(before, edge, outline, frame)]
    return found


def _corners(loop: Loop) -> list[tuple[Edge, Edge]]:
    return [*pairwise(loop), (loop[-1], loop[0])]


def _along_edge(edge: Edge, outline: Outline, frame: Frame) -> Body:
    tx, ty = tangent_at(edge, 0.0)
    face = _standing(outline, edge.a, (-ty, tx), frame)
    if edge.centre is None:
        way = frame.direction_to_world((edge.b[0] - edge.a[0], edge.b[1] - edge.a[1], 0.0))
        return outward(lifted(face, to_vec(way)))
    return _turned(face, edge.centre, edge.sweep, frame)


def _about_corner(before: Edge, after: Edge, outline: Outline, frame: Frame) -> list[Body]:
    """Where the border turns right (about an edge of the part that stands) the profile goes round the vertex."""
    (ax, ay), (bx, by) = tangent_at(before, 1.0), tangent_at(after, 0.0)
    turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    if turn > -1e-9:
        return []
    return [_turned(_standing(outline, after.a, (-ay, ax), frame), after.a, turn, frame)]


def _turned(face: TopoDS_Face, centre: Point2, sweep: float, frame: Frame) -> Body:
    axis = gp_Ax1(to_pnt(frame.to_world((*centre, 0.0))), to_dir(scale(frame.z, math.copysign(1.0, sweep))))
    maker = BRepPrimAPI_MakeRevol(face, axis, abs(sweep), True)
    if not maker.IsDone():
        raise KernelError("revolve", "the kernel could not turn a border's outline")
    return outward(Body(maker.Shape()))


def _standing(outline: Outline, at: Point2, inward: Point2, frame: Frame) -> TopoDS_Face:
    """The outline in the upright plane through a border point."""

    def place(u: float, h: float) -> Vec3:
        return frame.to_world((at[0] + u * inward[0], at[1] + u * inward[1], h))

    wire = BRepBuilderAPI_MakeWire()
    for start, end in [(outline[-1], outline[0]), *pairwise(outline)]:
        a, b = to_pnt(place(*start[:2])), to_pnt(place(*end[:2]))
        if len(end) == 2:
            wire.Add(BRepBuilderAPI_MakeEdge(a, b).Edge())
        else:
            wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(a, to_pnt(place(*end[2:])), b).Value()).Edge())
    return BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()
