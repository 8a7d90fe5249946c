"""What a turned profile sweeps over a plane region: the middle as a prism, the border as one solid an edge and corner.

The pieces meet in upright faces, so no boolean has to tell faces that touch tangentially from each other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1
from OCP.TopoDS import TopoDS_Face

from schemas.base import Frame, Vec3, scale
from worker.kernel.errors import KernelError
from worker.kernel.planar import Region, grow
from worker.kernel.planar_edge import Edge, Point2, tangent_at
from worker.kernel.planar_trace import Loop
from worker.kernel.primitives import ProfilePoint
from worker.kernel.shape import Body, to_dir, to_pnt, to_vec
from worker.kernel.sweep import lifted, outward, prism

Outline = Sequence[ProfilePoint]
"""A closed outline in the upright plane square to a border: (way in from the border, height), arcs as in primitives."""

SMALLEST = 1e-7
"""Shorter edges of an outline (mm) are left out."""


def swept(region: Region, frame: Frame, low: float, high: float, outline: Outline) -> tuple[Body, ...]:
    """The region between two heights, its border shaped by the outline, which ends upright at its largest way in.

    Arcs that turn left, outward corners of the region, must be at least that large; sharp ones are not shaped.
    """
    width = max(point[0] for point in outline)
    if width <= 0.0:
        return (prism(region, frame, low, high),)
    rims = [body for loop in region.loops for pair in _corners(loop) for body in _rim(*pair, outline, frame)]
    return (prism(grow(region, -width), frame, low, high), *rims)


def _rim(before: Edge, edge: Edge, outline: Outline, frame: Frame) -> list[Body]:
    return [_along_edge(edge, outline, frame), *_about_corner(before, edge, outline, frame)]


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
        if a.Distance(b) < SMALLEST:
            continue
        if len(end) == 2:
            wire.Add(BRepBuilderAPI_MakeEdge(a, b).Edge())
        else:
            wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(a, to_pnt(place(*end[2:])), b).Value()).Edge())
    return BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()
