"""Edges written beside their faces: the points of both faces are known by the equations of two crossing cylinders."""

from __future__ import annotations

import math

import pytest
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.GeomAPI import GeomAPI_Interpolate
from OCP.gp import gp_Vec
from OCP.TColgp import TColgp_HArray1OfPnt
from OCP.TColStd import TColStd_HArray1OfReal
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS, TopoDS_Edge
from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape

from schemas.tolerances import COINCIDENT
from worker.kernel.boolean import cut
from worker.kernel.measure import volume
from worker.kernel.primitives import box, cylinder
from worker.kernel.reseated import reseated
from worker.kernel.shape import Body, copied, edges, vertices

POST, HOLE, HIGH = 5.0, 3.0, 20.0
STOPS, BESIDE = 20, 2e-2


def crossed() -> Body:
    """A post along z with a hole along x through its middle."""
    post = cylinder((0, 0, 0), (0, 0, HIGH), 2 * POST)
    return cut(post, [cylinder((-9, 0, HIGH / 2), (9, 0, HIGH / 2), 2 * HOLE)])


def rims(body: Body) -> list[TopoDS_Edge]:
    curved = GeomAbs_CurveType.GeomAbs_BSplineCurve
    return [edge for edge in edges(body.wrapped) if BRepAdaptor_Curve(edge).GetType() == curved]


def written_coarsely(body: Body) -> Body:
    """The same with the hole's rims as splines through a few points, as an exporter writes them."""
    found = copied(body)
    for edge in rims(found):
        own = BRepAdaptor_Curve(edge)
        first, last = own.FirstParameter(), own.LastParameter()
        points, at = TColgp_HArray1OfPnt(1, STOPS), TColStd_HArray1OfReal(1, STOPS)
        for i in range(STOPS):
            at.SetValue(i + 1, first + (last - first) * i / (STOPS - 1))
            points.SetValue(i + 1, own.Value(at.Value(i + 1)))
        maker = GeomAPI_Interpolate(points, at, False, 0.0)
        maker.Perform()
        BRep_Builder().UpdateEdge(edge, maker.Curve(), BESIDE)
        for end in vertices(edge):
            BRep_Builder().UpdateVertex(end, BESIDE)
    return found


def off(body: Body) -> float:
    """How far the rims lie beside x2 + y2 = POST2 and y2 + (z - HIGH / 2)2 = HOLE2, mm."""
    found = 0.0
    for edge in rims(body):
        own = BRepAdaptor_Curve(edge)
        first, last = own.FirstParameter(), own.LastParameter()
        for i in range(201):
            x, y, z = own.Value(first + (last - first) * i / 200).Coord()
            found = max(found, abs(math.hypot(x, y) - POST), abs(math.hypot(y, z - HIGH / 2) - HOLE))
    return found


def test_edges_beside_their_faces_are_laid_where_these_meet() -> None:
    exact = crossed()
    coarse = written_coarsely(exact)
    laid = reseated(coarse)
    assert 1e-4 < off(coarse) < BESIDE
    assert off(laid) <= COINCIDENT
    widest = [BRep_Tool.Tolerance_s(one) for one in rims(laid)] + list(
        map(BRep_Tool.Tolerance_s, vertices(laid.wrapped))
    )
    assert max(widest) < 1e-5
    assert volume(laid) == pytest.approx(volume(exact), rel=1e-8)


def rounded_block() -> Body:
    """10 x 10 x 10 with a fillet of 2 along one edge, each edge said to lie up to BESIDE off its faces."""
    block = box((0, 0, 0), (10, 10, 10))
    maker = BRepFilletAPI_MakeFillet(block.wrapped)
    maker.Add(2.0, edges(block.wrapped)[0])
    rounded = Body(maker.Shape())
    for edge in edges(rounded.wrapped):
        BRep_Builder().UpdateEdge(edge, BESIDE)
    for end in vertices(rounded.wrapped):
        BRep_Builder().UpdateVertex(end, BESIDE)
    return rounded


def smooth_edges(body: Body) -> list[TopoDS_Edge]:
    """Those along which the fillet meets planes."""
    owners = TopTools_IndexedDataMapOfShapeListOfShape()
    TopExp.MapShapesAndAncestors_s(body.wrapped, TopAbs_ShapeEnum.TopAbs_EDGE, TopAbs_ShapeEnum.TopAbs_FACE, owners)
    found = []
    for edge in edges(body.wrapped):
        kinds = [BRepAdaptor_Surface(TopoDS.Face_s(face)).GetType() for face in owners.FindFromKey(edge)]
        straight = BRepAdaptor_Curve(edge).GetType() != GeomAbs_CurveType.GeomAbs_Circle
        found += [edge] if GeomAbs_SurfaceType.GeomAbs_Cylinder in kinds and straight else []
    return found


def test_faces_that_touch_without_crossing_keep_their_edge() -> None:
    # Where a fillet meets a plane both have one normal: any line nearby is as good as another
    rounded = rounded_block()
    for edge in smooth_edges(rounded):
        line = BRep_Tool.Curve_s(edge, 0.0, 0.0)
        BRep_Builder().UpdateEdge(edge, line.Translated(gp_Vec(BESIDE / 2, BESIDE / 2, BESIDE / 2)), BESIDE)
    laid = reseated(rounded)
    assert [BRep_Tool.Tolerance_s(edge) for edge in smooth_edges(laid)] == [BESIDE, BESIDE]
    assert volume(laid) == pytest.approx(1000 - (4 - math.pi) * 10, rel=1e-9)


def test_edges_that_lie_on_their_faces_are_told_no_wider_than_they_are() -> None:
    # All edges of such a block lie on its faces, those along the fillet too: their tolerance alone says otherwise
    laid = reseated(rounded_block())
    assert max(BRep_Tool.Tolerance_s(edge) for edge in edges(laid.wrapped)) <= COINCIDENT
    assert max(BRep_Tool.Tolerance_s(end) for end in vertices(laid.wrapped)) <= COINCIDENT
    assert volume(laid) == pytest.approx(1000 - (4 - math.pi) * 10, rel=1e-9)
