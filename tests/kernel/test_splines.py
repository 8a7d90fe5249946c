"""Points and slopes of splines, evaluated from their poles, against the kernel asked for one after the other."""

import math

import numpy as np
import pytest
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace
from OCP.Geom import (
    Geom_BezierCurve,
    Geom_BezierSurface,
    Geom_BSplineCurve,
    Geom_BSplineSurface,
    Geom_Circle,
    Geom_OffsetSurface,
)
from OCP.GeomConvert import GeomConvert
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array2OfPnt
from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal, TColStd_Array2OfReal
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS

from worker.kernel.splines import (
    FEWEST,
    MOST,
    curve_nets,
    curve_points,
    steps,
    surface_nets,
    surface_points,
    surface_slopes,
)

EXACT = 1e-12
TWO = ((0.0, 0.3, 1.0), (4, 1, 4)), ((0.0, 0.5, 2.0, 3.0), (3, 1, 2, 3))
"""Knots and how often each stands, for degree 3 and 2; in the last but one the surface has a crease."""


def listed(kind, values):
    found = kind(1, len(values))
    for i, value in enumerate(values, 1):
        found.SetValue(i, value)
    return found


def placed(shape):
    turn = gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(1, 2, 3), gp_Dir(1, 2, 3)), 0.7)
    return shape.Moved(TopLoc_Location(turn))


def net_of_poles(dice, across, down):
    poles, weights = TColgp_Array2OfPnt(1, across, 1, down), TColStd_Array2OfReal(1, across, 1, down)
    for i in range(1, across + 1):
        for j in range(1, down + 1):
            poles.SetValue(i, j, gp_Pnt(3 * i + dice.random(), 3 * j + dice.random(), 2 * dice.random()))
            weights.SetValue(i, j, 0.5 + dice.random())
    return poles, weights


def surface(dice, bezier, rational):
    (us, often), (vs, often_v) = TWO
    across, down = (4, 3) if bezier else (sum(often) - 4, sum(often_v) - 3)
    poles, weights = net_of_poles(dice, across, down)
    given = (poles, weights) if rational else (poles,)
    if bezier:
        return Geom_BezierSurface(*given)
    knots = [listed(TColStd_Array1OfReal, us), listed(TColStd_Array1OfReal, vs)]
    return Geom_BSplineSurface(*given, *knots, *(listed(TColStd_Array1OfInteger, m) for m in (often, often_v)), 3, 2)


def faces_on(surfaces, bounds=()):
    made = [BRepBuilderAPI_MakeFace(each, *bounds, 1e-7).Face() for each in surfaces]
    return [BRepAdaptor_Surface(TopoDS.Face_s(placed(face)), True) for face in made]


@pytest.mark.parametrize("bounds", [(), (0.3, 0.9, 0.05, 0.5), (0.31, 0.5, 0.1, 0.8)])
@pytest.mark.parametrize("rational", [False, True])
@pytest.mark.parametrize("bezier", [False, True])
def test_surfaces(bezier, rational, bounds):
    dice = np.random.default_rng(3)
    made = faces_on([surface(dice, bezier, rational) for _ in range(FEWEST)], bounds)
    nets = surface_nets(made)
    us, vs = (np.sort(np.concatenate([steps(nets, way, 5), steps(nets, way, 3)], axis=1)) for way in (0, 1))
    at, by_u, by_v = surface_slopes(nets, us, vs)
    assert np.abs(surface_points(nets, us, vs) - at).max() < EXACT
    for n, one in enumerate(made):
        for i, u in enumerate(us[n].tolist()):
            for j, v in enumerate(vs[n].tolist()):
                p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
                one.D1(u, v, p, du, dv)
                told = [found[n, i, j] for found in (at, by_u, by_v)]
                assert np.abs(np.array([each.Coord() for each in (p, du, dv)]) - told).max() < EXACT


@pytest.mark.parametrize("bounds", [(), (0.31, 0.9)])
@pytest.mark.parametrize("rational", [False, True])
@pytest.mark.parametrize("bezier", [False, True])
def test_curves(bezier, rational, bounds):
    dice, ((knots, often), _) = np.random.default_rng(4), TWO
    made = []
    for _ in range(FEWEST):
        count = 4 if bezier else sum(often) - 4
        poles = listed(TColgp_Array1OfPnt, [gp_Pnt(3 * k, *dice.random(2).tolist()) for k in range(count)])
        weights = (listed(TColStd_Array1OfReal, (0.5 + dice.random(count)).tolist()),) if rational else ()
        spread = listed(TColStd_Array1OfReal, knots), listed(TColStd_Array1OfInteger, often), 3
        curve = Geom_BezierCurve(poles, *weights) if bezier else Geom_BSplineCurve(poles, *weights, *spread)
        made.append(BRepAdaptor_Curve(TopoDS.Edge_s(placed(BRepBuilderAPI_MakeEdge(curve, *bounds).Edge()))))
    nets = curve_nets(made)
    for one, points, at in zip(made, curve_points(nets, 20), steps(nets, 0, 20).tolist(), strict=True):
        assert np.abs([one.Value(u).Coord() for u in at] - points).max() < EXACT


def test_what_is_left_to_the_kernel():
    dice = np.random.default_rng(5)
    plain = surface(dice, True, False)
    assert surface_nets(faces_on([plain] * (FEWEST - 1))) == [None] * (FEWEST - 1)
    poles, _ = net_of_poles(dice, 12, MOST // 12 + 1)
    others = [Geom_OffsetSurface(plain, 1.0), Geom_BezierSurface(poles)]
    assert surface_nets(faces_on(others * FEWEST)) == [None] * 2 * FEWEST
    ring = GeomConvert.CurveToBSplineCurve_s(Geom_Circle(gp_Ax2(gp_Pnt(), gp_Dir(0, 0, 1)), 5.0))
    assert ring.IsPeriodic()
    arcs = [BRepAdaptor_Curve(BRepBuilderAPI_MakeEdge(ring, 0.0, end).Edge()) for end in (1.0, math.pi)]
    assert curve_nets(arcs * FEWEST) == [None] * 2 * FEWEST
