"""Edges that only the fit of a free-form face makes, and planes that are seen past round neighbours."""

from __future__ import annotations

import math
from collections import Counter

import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.Geom import Geom_BezierCurve
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TColgp import TColgp_Array1OfPnt

from bench.reencode import reencoded
from schemas.base import Frame
from tests.support.recognised import recognise
from worker.kernel.boolean import cut, fuse
from worker.kernel.graph import face_graph
from worker.kernel.primitives import box, cone, cylinder, revolve_profile
from worker.kernel.shape import Body


def rail(bend: float, free: bool) -> Body:
    """A rail along X whose top is flat for 20 mm, then rises by ``bend`` degrees: straight on, or on a free curve."""
    rise = math.radians(bend)
    ends = [(0.0, 0.0), (0.0, 10.0), (20.0, 10.0), (40.0, 10.0 + 20 * math.tan(rise)), (40.0, 0.0)]
    points = [gp_Pnt(0, y, z) for y, z in ends]
    wire = BRepBuilderAPI_MakeWire()
    for i, a in enumerate(points):
        b = points[(i + 1) % len(points)]
        wire.Add(curved(a, b, rise) if free and i == 2 else BRepBuilderAPI_MakeEdge(a, b).Edge())
    return Body(BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(wire.Wire()).Face(), gp_Vec(50, 0, 0)).Shape())


def curved(a: gp_Pnt, b: gp_Pnt, rise: float):  # type: ignore[no-untyped-def]
    poles = TColgp_Array1OfPnt(1, 4)
    for i, (y, z) in enumerate(((a.Y(), a.Z()), (a.Y() + 6, a.Z() + 6 * math.tan(rise)), (34.0, 12.0), (b.Y(), b.Z()))):
        poles.SetValue(i + 1, gp_Pnt(0, y, z))
    return BRepBuilderAPI_MakeEdge(Geom_BezierCurve(poles)).Edge()


@pytest.mark.parametrize(
    ("bend", "free", "wanted"),
    [(0.8, True, "smooth"), (3.0, True, "concave"), (0.8, False, "concave")],
)
def test_a_free_face_may_miss_its_neighbours_tangent_by_a_degree(bend: float, free: bool, wanted: str) -> None:
    (edge,) = [e for e in face_graph(rail(bend, free)).edges if abs(math.degrees(e.angle)) < 10]
    assert edge.convexity == wanted


def test_the_walls_of_a_slit_in_a_round_are_seen_along_the_parts_own_sides() -> None:
    # no plane beside them says where a tool may come from: cylinders inside and outside, cones above and below
    profile = [(20.0, 0.0), (25.0, -5.0), (30.0, 0.0), (30.0, 20.0), (25.0, 25.0), (20.0, 20.0)]
    ring = fuse([revolve_profile(profile, Frame()), box((-50, -60, -10), (50, -25, 30))])
    body = cut(ring, [box((-3, 0, -20), (3, 40, 40))])
    (slit,) = [f for f in recognise(body) if f.class_ == "slot"]
    assert slit.width == pytest.approx(6) and len(slit.faces) == 2
    assert set(slit.access) == {(0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0)}


@pytest.mark.parametrize(("seed", "low", "top", "depth"), [(5, 3.0, 5.0, 8.0), (37, 2.0, 6.0, 4.8)])
def test_a_crumb_of_a_divided_cone_is_no_feature(seed: int, low: float, top: float, depth: float) -> None:
    """Tapering holes in a plate of 8; written anew a face is a corner of a cone, as small as 0.0005 mm2."""
    places = [(8 + 12 * i, 8 + 12 * k) for i in range(4) for k in range(3)]
    tools = [cone((x, y, 8), (x, y, 8 - depth), top, low) for x, y in places]
    tools += [cylinder((x, y, -1), (x, y, 9), low) for x, y in places] if depth < 8 else []
    plate = cut(box((0, 0, 0), (52, 40, 8)), tools)
    told = Counter(f.class_ for f in recognise(plate))
    assert Counter(f.class_ for f in recognise(reencoded(plate, seed)[0])) == told
