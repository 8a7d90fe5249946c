"""Simple solids: boxes, cylinders, cones, balls, turned profiles, prisms' big boxes (mm, part's frame)."""

from __future__ import annotations

import math
from collections.abc import Sequence

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakeRevol,
    BRepPrimAPI_MakeSphere,
)
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2
from OCP.TopoDS import TopoDS_Edge

from schemas.base import Frame, Vec3, any_frame, norm, sub
from worker.kernel.errors import KernelError
from worker.kernel.shape import WORLD, Body, to_dir, to_pnt

ProfilePoint = tuple[float, float] | tuple[float, float, float, float]
"""(r, z): a straight line to that point; (r, z, rm, zm): an arc to (r, z) through (rm, zm)."""

_SMALLEST = 1e-7


def _ax2(frame: Frame, origin: Vec3) -> gp_Ax2:
    return gp_Ax2(to_pnt(origin), to_dir(frame.z), to_dir(frame.x))


def box(minimum: Vec3, maximum: Vec3, frame: Frame | None = None) -> Body:
    """The box between two corners given in ``frame`` (default: the part's); raises for one without volume."""
    place = frame or WORLD
    size = sub(maximum, minimum)
    if min(size) < _SMALLEST:
        raise KernelError("box", f"edge lengths {size} give no volume")
    return Body(BRepPrimAPI_MakeBox(_ax2(place, place.to_world(minimum)), *size).Solid())


def cylinder(start: Vec3, end: Vec3, diameter: float) -> Body:
    """The cylinder from the centre of one end to the centre of the other."""
    frame, length = _along(start, end)
    if length < _SMALLEST or diameter < _SMALLEST:
        raise KernelError("cylinder", f"diameter {diameter}, length {length} give no volume")
    return Body(BRepPrimAPI_MakeCylinder(_ax2(frame, start), diameter / 2.0, length).Solid())


def cone(start: Vec3, end: Vec3, start_diameter: float, end_diameter: float) -> Body:
    """The (truncated) cone between two centres; a diameter may be 0; equal diameters give a cylinder."""
    if abs(start_diameter - end_diameter) < _SMALLEST:
        return cylinder(start, end, start_diameter)
    frame, length = _along(start, end)
    if length < _SMALLEST:
        raise KernelError("cone", f"length {length} gives no volume")
    maker = BRepPrimAPI_MakeCone(_ax2(frame, start), start_diameter / 2.0, end_diameter / 2.0, length)
    return Body(maker.Solid())


def sphere(centre: Vec3, diameter: float) -> Body:
    """The ball about a centre."""
    return Body(BRepPrimAPI_MakeSphere(_ax2(WORLD, centre), diameter / 2.0).Solid())


def half_space_box(point: Vec3, direction: Vec3, size: float) -> Body:
    """A cube of edge ``size`` standing on the plane through ``point``, on the side ``direction`` points to."""
    half = size / 2.0
    return box((-half, -half, 0.0), (half, half, size), any_frame(point, direction))


def revolve_profile(profile: Sequence[ProfilePoint], frame: Frame, turn: float = math.tau) -> Body:
    """The closed (r, z) profile turned round the frame's z axis, from its x axis on (rad); r ≥ 0.

    It is closed from its last point to the first.
    """
    wire = BRepBuilderAPI_MakeWire()
    for i, point in enumerate(profile):
        edge = _profile_edge(profile[i - 1], point, frame)
        if edge is not None:
            wire.Add(edge)
    if not wire.IsDone():
        raise KernelError("revolve", "the profile does not close")
    face = BRepBuilderAPI_MakeFace(wire.Wire(), True)
    axis = gp_Ax1(to_pnt(frame.location), to_dir(frame.z))
    whole = turn >= math.tau
    maker = (
        BRepPrimAPI_MakeRevol(face.Face(), axis, True)
        if whole
        else BRepPrimAPI_MakeRevol(face.Face(), axis, turn, True)
    )
    if not maker.IsDone():
        raise KernelError("revolve", "the kernel could not turn the profile")
    return _outward(Body(maker.Shape()))


def _profile_edge(start: ProfilePoint, end: ProfilePoint, frame: Frame) -> TopoDS_Edge | None:
    a, b = (to_pnt(frame.to_world((p[0], 0.0, p[1]))) for p in (start, end))
    if a.Distance(b) < _SMALLEST:
        return None
    if len(end) == 2:
        return BRepBuilderAPI_MakeEdge(a, b).Edge()
    through = to_pnt(frame.to_world((end[2], 0.0, end[3])))
    return BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(a, through, b).Value()).Edge()


def _outward(body: Body) -> Body:
    """The solid with its faces pointing out (a profile given clockwise turns them in)."""
    from OCP.BRepLib import BRepLib
    from OCP.TopoDS import TopoDS

    solid = TopoDS.Solid_s(body.wrapped)
    if not BRepLib.OrientClosedSolid_s(solid):
        raise KernelError("revolve", "the turned profile is no closed solid")
    return Body(solid)


def _along(start: Vec3, end: Vec3) -> tuple[Frame, float]:
    direction = sub(end, start)
    length = norm(direction)
    return (any_frame(start, direction) if length > 0 else WORLD), length
