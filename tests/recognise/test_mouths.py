"""The broken mouths of pockets and bores in a bar: one chamfer each, seen from where the pocket is cut."""

from __future__ import annotations

import math

import pytest

from schemas.base import Vec3
from schemas.feature import Feature
from tests.recognise.parts import chamfered, rounded
from tests.support.recognised import recognise
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

RADIUS = 40.0


def told(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if not f.class_.startswith(("planar", "profile"))]


def on_skin(a: Vec3, b: Vec3) -> bool:
    return all(abs(math.hypot(p[0], p[1]) - RADIUS) < 1e-6 and 2 < p[2] < 38 for p in (a, b))


def along_y(a: Vec3, b: Vec3) -> bool:
    return abs(a[0] - b[0]) + abs(a[2] - b[2]) < 1e-6


def bar(*tools: Body, leg: float) -> Body:
    """Ø80 along Z, 40 long, with all edges on its skin broken."""
    return chamfered(cut(cylinder((0, 0, 0), (0, 0, 40), 2 * RADIUS), list(tools)), leg, on_skin)


@pytest.mark.parametrize("leg", [0.5, 1.5])
def test_the_mouth_of_a_pocket_in_a_bar_is_one_chamfer(leg: float) -> None:
    """Two planes, two cones about the bar and four free-form corners each; both pockets have cones on the same two."""
    pockets = [box((-22, 30, 10), (22, 45, 30)), box((-22, -45, 10), (22, -30, 30))]
    found = told(bar(*(rounded(p, 5.0, along_y) for p in pockets), leg=leg))
    assert [f.class_ for f in found] == ["chamfer", "chamfer", "closed_pocket", "closed_pocket"]
    for side, chamfer in zip((1.0, -1.0), found[:2], strict=True):
        assert len(chamfer.faces) == 8
        assert (0.0, side, 0.0) in chamfer.access


@pytest.mark.parametrize("off", [0.0, 8.0])
def test_so_is_the_mouth_of_a_bore_across_it(off: float) -> None:
    """A free-form ring; legs of 0.5 make it sqrt(2) / 2 wide where bore and skin are square, less elsewhere."""
    near, far = told(bar(cylinder((off, -50, 20), (off, 50, 20), 10), leg=0.5))[:2]
    assert [(f.class_, f.access) for f in (near, far)] == [
        ("chamfer", ((0.0, 1.0, 0.0),)),
        ("chamfer", ((0.0, -1.0, 0.0),)),
    ]
    assert near.width == pytest.approx(math.sqrt(0.5), rel=0.05)
    assert near.placement.location == pytest.approx((off, 39.4, 20.0), abs=0.5 if not off else 1.5)


def test_a_crowned_rim_is_no_broken_edge() -> None:
    """A free-form ring between two faces that look away from each other."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
    from OCP.GeomAPI import GeomAPI_PointsToBSpline
    from OCP.gp import gp_Ax1, gp_Pnt
    from OCP.TColgp import TColgp_Array1OfPnt

    at = [(40.0, 0.0), (40.6, 1.2), (40.9, 2.5), (40.7, 3.9), (40.0, 5.0)]
    points = TColgp_Array1OfPnt(1, len(at))
    for i, (x, z) in enumerate(at):
        points.SetValue(i + 1, gp_Pnt(x, 0, z))
    corners = [gp_Pnt(0, 0, 0), gp_Pnt(40, 0, 0), gp_Pnt(40, 0, 5), gp_Pnt(0, 0, 5)]
    wire = BRepBuilderAPI_MakeWire()
    wire.Add(BRepBuilderAPI_MakeEdge(corners[0], corners[1]).Edge())
    wire.Add(BRepBuilderAPI_MakeEdge(GeomAPI_PointsToBSpline(points).Curve()).Edge())
    wire.Add(BRepBuilderAPI_MakeEdge(corners[2], corners[3]).Edge())
    wire.Add(BRepBuilderAPI_MakeEdge(corners[3], corners[0]).Edge())
    face = BRepBuilderAPI_MakeFace(wire.Wire()).Face()
    wheel = Body(BRepPrimAPI_MakeRevol(face, gp_Ax1()).Shape())
    assert "chamfer" not in {f.class_ for f in recognise(wheel)}
