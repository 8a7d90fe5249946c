"""Threads as a CAD system models them: a profile swept along a helix and cut into a bore or shank; lengths in mm.

Profile by ISO 68-1: flanks of 60 degrees, P / 8 wide at the root of a nut; a bolt's root at d - 1.2268 P.
"""

from __future__ import annotations

import math

from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakePolygon,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Transform,
)
from OCP.BRepLib import BRepLib
from OCP.BRepOffsetAPI import BRepOffsetAPI_MakePipeShell
from OCP.Geom import Geom_ConicalSurface, Geom_CylindricalSurface
from OCP.Geom2d import Geom2d_Line
from OCP.gp import gp_Ax1, gp_Ax3, gp_Dir, gp_Dir2d, gp_Pnt, gp_Pnt2d, gp_Trsf
from OCP.TopoDS import TopoDS_Wire

from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body, solids

X, Y = 30.0, 20.0
"""Where the thread stands in its block of 60 x 40."""
TAN = math.tan(math.radians(30))
Profile = list[tuple[float, float]]


def minor(d: float, pitch: float) -> float:
    """D1 = d - (5/8) sqrt(3) P, ISO 68-1."""
    return d - 5 / 8 * math.sqrt(3) * pitch


def helix(z: float, length: float, radius: float, pitch: float, left: bool = False) -> TopoDS_Wire:
    surface = Geom_CylindricalSurface(gp_Ax3(gp_Pnt(X, Y, z), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0)), radius)
    line = Geom2d_Line(gp_Pnt2d(0, 0), gp_Dir2d((-1 if left else 1) * 2 * math.pi, pitch))
    end = length / pitch * math.hypot(2 * math.pi, pitch)
    edge = BRepBuilderAPI_MakeEdge(line, surface, 0, end).Edge()
    BRepLib.BuildCurves3d_s(edge)
    return BRepBuilderAPI_MakeWire(edge).Wire()


def taper_helix(z: float, length: float, radius: float, pitch: float, growth: float) -> TopoDS_Wire:
    """A helix on a cone whose radius grows by ``growth`` for each mm upwards."""
    half = math.atan(growth)
    surface = Geom_ConicalSurface(gp_Ax3(gp_Pnt(X, Y, z), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0)), half, radius)
    slant = pitch / math.cos(half)
    line = Geom2d_Line(gp_Pnt2d(0, 0), gp_Dir2d(2 * math.pi, slant))
    edge = BRepBuilderAPI_MakeEdge(line, surface, 0, length / pitch * math.hypot(2 * math.pi, slant)).Edge()
    BRepLib.BuildCurves3d_s(edge)
    return BRepBuilderAPI_MakeWire(edge).Wire()


def swept(
    z: float, length: float, pitch: float, profile: Profile, left: bool = False, growth: float = 0.0, turn: float = 0.0
) -> Body:
    """A polygon of (radius, height) drawn along the helix; ``turn``: turned about its axis by so many degrees."""
    polygon = BRepBuilderAPI_MakePolygon()
    for radius, height in profile:
        polygon.Add(gp_Pnt(X + radius, Y, z + height))
    polygon.Close()
    radius = profile[0][0]
    spine = taper_helix(z, length, radius, pitch, growth) if growth else helix(z, length, radius, pitch, left)
    pipe = BRepOffsetAPI_MakePipeShell(spine)
    pipe.SetMode(gp_Dir(0, 0, 1))
    pipe.Add(polygon.Wire(), False, False)
    pipe.Build()
    pipe.MakeSolid()
    motion = gp_Trsf()
    motion.SetRotation(gp_Ax1(gp_Pnt(X, Y, 0), gp_Dir(0, 0, 1)), math.radians(turn))
    return Body(BRepBuilderAPI_Transform(pipe.Shape(), motion, True).Shape() if turn else pipe.Shape())


def _less(body: Body, tool: Body) -> Body:
    """The kernel's own cut: the groove's ends are cut off again, which hides nothing that matters here."""
    return solids(Body(BRepAlgoAPI_Cut(body.wrapped, tool.wrapped).Shape()))[0]


def tapped_block(d: float, pitch: float, *, left: bool = False, drilled: float | None = None, starts: int = 1) -> Body:
    """60 x 40 x 20 with a blind hole from the top, 16 deep and 118 degrees pointed, threaded from 12 deep up."""
    bore = drilled or minor(d, pitch)
    inner = minor(d, pitch) / 2 - 0.1
    half = pitch / 16 + (d / 2 - inner) * TAN
    profile = [(inner, -half), (d / 2, -pitch / 16), (d / 2, pitch / 16), (inner, half)]
    point = cone((X, Y, 4), (X, Y, 4 - bore / 2 / math.tan(math.radians(59))), bore, 0)
    body = cut(box((0, 0, 0), (60, 40, 30)), [cylinder((X, Y, 4), (X, Y, 31), bore), point])
    for start in range(starts):
        body = _less(body, swept(8.1, 17, starts * pitch, profile, left, turn=360 / starts * start))
    return _less(body, box((-1, -1, 20), (61, 41, 31)))


def stud(d: float, pitch: float, *, left: bool = False, high: float = 20) -> Body:
    """A shank of diameter d on a block of 60 x 40 x 10, 20 high or so, threaded from 4 above the block up."""
    root, crest = d / 2 - 1.2268 * pitch / 2, d / 2 + 0.1
    low, wide = pitch / 8, pitch / 8 + (crest - root) * TAN
    groove = swept(14.1, high, pitch, [(root, -low), (root, low), (crest, wide), (crest, -wide)], left)
    body = fuse([box((0, 0, 0), (60, 40, 10)), cylinder((X, Y, 9), (X, Y, high + 20), d)])
    return _less(_less(body, groove), box((-1, -1, high + 10), (61, 41, high + 21)))


def oil_groove() -> Body:
    """A bore of 20 with a shallow spiral groove of lead 12: a screw motion, yet no thread."""
    groove = swept(2.1, 15, 12, [(9.7, -0.5), (10.5, -0.5), (10.5, 0.5), (9.7, 0.5)])
    return _less(cut(box((0, 0, 0), (60, 40, 20)), [cylinder((X, Y, -1), (X, Y, 21), 20)]), groove)


def trapezoid_stud(d: float, pitch: float, starts: int) -> Body:
    """Like :func:`stud` with flanks of 30 degrees, ISO 2904: root d - P - 2 a_c with a_c = 0.25."""
    root, crest, tan = d / 2 - pitch / 2 - 0.25, d / 2 + 0.1, math.tan(math.radians(15))
    low = 0.366 * pitch / 2 - 0.25 * tan
    high = low + (crest - root) * tan
    body = fuse([box((0, 0, 0), (60, 40, 10)), cylinder((X, Y, 9), (X, Y, 40), d)])
    profile = [(root, -low), (root, low), (crest, high), (crest, -high)]
    for start in range(starts):
        body = _less(body, swept(15.1, 20, starts * pitch, profile, turn=360 / starts * start))
    return _less(body, box((-1, -1, 30), (61, 41, 41)))


def pipe_radius(d: float, at: float) -> float:
    """Radius at a height above the foot of a pipe's end, d wide there: 1 : 16 of the diameter, ISO 7-1."""
    return d / 2 - at / 32


def pipe_stud(d: float, pitch: float, flank: float) -> Body:
    """A tapering end on a block of 60 x 40 x 10, 20 high and d wide at its foot, threaded from 4 above the block up.

    ``flank``: half the angle of the vee (degrees); ISO 7-1: 0.640327 P deep.
    """
    deep, tan, flat, out = 0.640327 * pitch, math.tan(math.radians(flank)), 0.07 * pitch, 0.15
    radius = pipe_radius(d, 4.1)
    high = flat + (deep + out) * tan
    profile = [(radius - deep, -flat), (radius - deep, flat), (radius + out, high), (radius + out, -high)]
    ends = [2 * pipe_radius(d, at) for at in (-1, 30)]
    body = fuse([box((0, 0, 0), (60, 40, 10)), cone((X, Y, 9), (X, Y, 40), *ends)])
    return _less(_less(body, swept(14.1, 20, pitch, profile, growth=-1 / 32)), box((-1, -1, 30), (61, 41, 41)))


def crossed(body: Body, tool: Body) -> Body:
    """The threaded part with something cut through its thread."""
    return _less(body, tool)
