"""Sizes are those of edges and carriers, to the last digits: no chord, loose bound or lost digits in them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.Geom2d import Geom2d_TrimmedCurve
from OCP.Geom2dConvert import Geom2dConvert
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.gp import gp_Pnt2d
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face

from bench.rewrites import as_splines, in_halves
from schemas.base import Frame, Vec3, add, any_frame, cross, dot, scale, unit
from tests.recognise.parts import block
from tests.support.recognised import recognise
from worker.kernel.boolean import cut
from worker.kernel.graph import face_graph
from worker.kernel.primitives import revolve_profile
from worker.kernel.shape import Body, faces
from worker.kernel.stepio import read_part, write_step
from worker.recognise.borders import border_of

EXACT = 1e-9
WAVE = 1.6e-4
"""By so much curves in a face's parameters may miss the edges they belong to, in files of real parts (mm)."""


class Ring:
    """A whole circle as recognition reads it: 17 points, the last is the first."""

    curve = "circle"

    def __init__(self, middle: Vec3, axis: Vec3, radius: float) -> None:
        frame = any_frame(middle, axis)
        turns = [math.tau * k / 16 for k in range(16)]
        y = cross(frame.z, frame.x)
        found = [add(add(middle, frame.x, radius * math.cos(t)), y, radius * math.sin(t)) for t in turns]
        self.points = (*found, found[0])


@pytest.mark.parametrize("lean", [0.0, 1e-6, 1e-3, 1.0, math.pi / 2])
@pytest.mark.parametrize("way", [(0.0, 0.0, 1.0), (1.0, 2.0, -3.0), (0.894427191, 0.0, 0.447213595)])
def test_a_circle_reaches_as_far_as_the_sine_of_its_lean(way: Vec3, lean: float) -> None:
    """Middle +- r sin(lean), also along directions that are of length 1 to nine digits only."""
    up = unit(way)
    axis = add(scale(up, math.cos(lean)), any_frame((0.0, 0.0, 0.0), up).x, math.sin(lean))
    middle = (3.0, -20.0, 80.0)
    direction = up if abs(dot(way, way) - 1) > 1e-6 else way
    low, high = border_of([Ring(middle, axis, 70.5)]).reach(direction)
    wanted = 70.5 * math.sin(lean)
    assert (low, high) == pytest.approx((dot(middle, direction) - wanted, dot(middle, direction) + wanted), abs=2e-8)


def wavy(edge: TopoDS_Edge, face: TopoDS_Face) -> None:
    """Give an edge a spline for its curve in a face's parameters that swings up and down beside it."""
    curve = BRepAdaptor_Curve(edge)
    first, last = curve.FirstParameter(), curve.LastParameter()
    plain = Geom2d_TrimmedCurve(BRep_Tool.CurveOnSurface_s(edge, face, 0.0, 0.0), first, last)
    spline = Geom2dConvert.CurveToBSplineCurve_s(plain)
    spline.IncreaseDegree(4)
    for k, off in ((2, WAVE), (4, -WAVE)):
        pole = spline.Pole(k)
        spline.SetPole(k, gp_Pnt2d(pole.X(), pole.Y() + 2 * off))
    BRep_Builder().UpdateEdge(edge, spline, face, 2 * WAVE)


def with_wavy_cones(body: Body) -> Body:
    """The circles of all cones so written."""
    for face in faces(body):
        found = TopExp_Explorer(face, TopAbs_ShapeEnum.TopAbs_EDGE)
        while BRepAdaptor_Surface(face).GetType() == GeomAbs_SurfaceType.GeomAbs_Cone and found.More():
            edge = TopoDS.Edge_s(found.Current())
            if BRepAdaptor_Curve(edge).GetType() == GeomAbs_CurveType.GeomAbs_Circle:
                wavy(edge, face)
            found.Next()
    return body


def test_a_chamfer_has_its_size_however_loosely_its_edges_are_drawn_on_it() -> None:
    """0.5 x 45 degrees on a shaft of 141: the kernel's bounds of its cone lie wider."""
    profile = [(0.0, 0.0), (70.5, 0.0), (70.5, 79.5), (70.0, 80.0), (0.0, 80.0)]
    body = with_wavy_cones(in_halves(revolve_profile(profile, Frame()), 0))
    cones = [BRepAdaptor_Surface(f) for f in faces(body)]
    bounds = [
        c.LastVParameter() - c.FirstVParameter() for c in cones if c.GetType() == GeomAbs_SurfaceType.GeomAbs_Cone
    ]
    assert min(bounds) > 0.5 * math.sqrt(2) + WAVE / 10
    (found,) = [f for f in recognise(body) if f.class_ == "chamfer"]
    assert (found.depth, found.width) == pytest.approx((0.5, 0.5), abs=EXACT)
    assert found.diameter == pytest.approx(140.0, abs=EXACT) or found.top_diameter == pytest.approx(140.0, abs=EXACT)


LEAN, TURN = math.radians(25.0), math.radians(14.0)
WAY = (math.sin(LEAN) * math.cos(TURN), math.sin(LEAN) * math.sin(TURN), math.cos(LEAN))


def leaning_hole(seam: float) -> Body:
    """A block, 20 high, with a hole of 6 mm through it that leans by 25 degrees; where its wall begins (degrees)."""
    plain, angle = any_frame((50.0, 30.0, 20.0), WAY), math.radians(seam)
    ref = add(scale(plain.x, math.cos(angle)), cross(plain.z, plain.x), math.sin(angle))
    tool = [(0.0, -200.0), (3.0, -200.0), (3.0, 20.0), (0.0, 20.0)]
    return cut(block(), [revolve_profile(tool, Frame(location=(50.0, 30.0, 20.0), axis=WAY, ref_direction=ref))])


@pytest.mark.parametrize("seam", [0.0, 77.0])
def test_a_leaning_hole_is_as_deep_as_the_ellipses_at_its_ends_reach(seam: float) -> None:
    """h / cos(lean) along its axis, and d tan(lean) more from the highest point to the lowest."""
    wanted = 20 / math.cos(LEAN) + 6 * math.tan(LEAN)
    body = leaning_hole(seam)
    for other, near in ((body, 5e-6), (in_halves(body, 0), 5e-6), (as_splines(body, 0), 1e-4)):
        (found,) = [f for f in recognise(other) if f.class_ == "round_hole"]
        assert found.depth == pytest.approx(wanted, abs=near)


def test_a_leaning_hole_in_halves_is_one_hole_where_the_kernel_gives_one_half_no_triangles() -> None:
    """6 wide through 20, 25 degrees aslant: 2 pi r 20 / cos of wall; its halves' curves run on ranges of their own."""
    body = in_halves(read_part(write_step(leaning_hole(26.0))).body, 0)
    round_ = [f for f in face_graph(body).faces if f.surface.kind == "cylinder"]
    assert sum(f.area for f in round_) == pytest.approx(math.tau * 3 * 20 / math.cos(LEAN), rel=0.01)
    (found,) = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    assert (found.class_, found.bottom, len(found.faces)) == ("round_hole", "through", 2)
    assert found.diameter == pytest.approx(6.0) and np.allclose(np.abs(found.placement.axis), np.abs(WAY))
