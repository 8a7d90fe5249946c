"""Free-form faces as grids, held to a surface in closed form: z = a x2 + b y2 + c x y, a Bezier patch of degree two."""

import numpy as np
import pytest
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.Geom import Geom_BezierSurface, Geom_BSplineSurface
from OCP.gp import gp_Pnt
from OCP.TColgp import TColgp_Array2OfPnt
from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal

from bench.growth_shapes import GROWTH
from schemas.tolerances import MESH
from worker.kernel.graph import face_graph
from worker.kernel.graph_grids import Side, grid_triangles
from worker.kernel.graph_mesh import TURN

WIDE, LONG = 12.0, 20.0
BOWL, SADDLE, TWIST, TUB = (0.05, 0.03, 0.0), (0.04, -0.05, 0.02), (0.0, 0.0, 0.06), (0.06, 0.0, 0.0)
ACROSS = (0.03, 0.03, -0.055)
"""A valley along the diagonal: chords across it sag eleven times as much as those along it."""


def height(bends, x, y):
    a, b, c = bends
    return a * x * x + b * y * y + c * x * y


def patch(bends, wide=WIDE, long=LONG):
    """The patch over a rectangle; the heights of its control points are the form's blossom (polar form)."""
    a, b, c = bends
    poles = TColgp_Array2OfPnt(1, 3, 1, 3)
    for i, (x, xx) in enumerate(((0.0, 0.0), (wide / 2, 0.0), (wide, wide**2)), 1):
        for j, (y, yy) in enumerate(((0.0, 0.0), (long / 2, 0.0), (long, long**2)), 1):
            poles.SetValue(i, j, gp_Pnt(x, y, a * xx + b * yy + c * x * y))
    return BRepAdaptor_Surface(BRepBuilderAPI_MakeFace(Geom_BezierSurface(poles), 1e-7).Face(), True)


def edges(bends, bow=0.0, wide=WIDE, long=LONG):
    """Points along the four borders; the first one bowed inwards."""
    share = np.linspace(0, 1, 17)
    lines = [(wide * share, bow * np.sin(np.pi * share)), (wide + 0 * share, long * share),
             (wide * share, long + 0 * share), (0 * share, long * share)]  # fmt: skip
    return [list(zip(x.tolist(), y.tolist(), height(bends, x, y).tolist(), strict=True)) for x, y in lines]


@pytest.mark.parametrize("flip", [1.0, -1.0])
@pytest.mark.parametrize("bends", [BOWL, SADDLE, TWIST, TUB, ACROSS], ids=["bowl", "saddle", "twist", "tub", "across"])
def test_triangles_cover_the_face_lie_as_near_as_promised_and_look_outwards(bends, flip):
    (found,) = grid_triangles([Side(patch(bends), flip, edges(bends))])
    assert found is not None
    areas = np.cross(found[:, 1] - found[:, 0], found[:, 2] - found[:, 0])[:, 2] / 2
    assert (areas * flip > 0).all()
    assert areas.sum() * flip == pytest.approx(WIDE * LONG, rel=1e-12)  # seen from above: the rectangle's area
    for weights in np.random.default_rng(1).dirichlet((1, 1, 1), 20):
        x, y, z = np.einsum("k,nkc->cn", weights, found)
        assert np.abs(z - height(bends, x, y)).max() <= MESH
    assert len(found) < 1000


def test_chords_turn_no_more_than_the_kernels_do():
    bends, size = (2.0, 0.0, 0.0), (1.2, 2.0)  # so small that the sag alone would do with six chords
    (found,) = grid_triangles([Side(patch(bends, *size), 1.0, edges(bends, 0.0, *size))])
    xs = np.unique(found[:, :, 0].round(9))
    slopes = np.arctan(np.diff(height(bends, xs, 0.0)) / np.diff(xs))
    assert np.diff(slopes).max() <= TURN


def test_a_face_whose_edges_run_inside_its_parameters_is_no_grid():
    assert grid_triangles([Side(patch(BOWL), 1.0, edges(BOWL, bow=5 * MESH))]) == [None]
    short = edges(BOWL)
    short[1] = short[1][:-1]
    assert grid_triangles([Side(patch(BOWL), 1.0, short), Side(patch(BOWL), 1.0, edges(BOWL)[:3])]) == [None, None]


def test_edges_that_do_not_go_round_the_border_bound_no_grid():
    first, _, third, fourth = edges(BOWL)
    assert grid_triangles([Side(patch(BOWL), 1.0, [first, third, third, fourth])]) == [None]


def test_a_surface_with_a_fold_is_left_to_the_kernel():
    poles, knots, degrees = TColgp_Array2OfPnt(1, 3, 1, 2), TColStd_Array1OfReal(1, 3), TColStd_Array1OfInteger(1, 3)
    for i, (x, z) in enumerate(((0.0, 0.0), (4.0, 3.0), (WIDE, 0.0)), 1):
        knots.SetValue(i, (i - 1) / 2)
        degrees.SetValue(i, (2, 1, 2)[i - 1])
        for j, y in enumerate((0.0, LONG), 1):
            poles.SetValue(i, j, gp_Pnt(x, y, z))
    ends, twice = TColStd_Array1OfReal(1, 2), TColStd_Array1OfInteger(1, 2)
    for i in (1, 2):
        ends.SetValue(i, i - 1.0)
        twice.SetValue(i, 2)
    roof = Geom_BSplineSurface(poles, knots, ends, degrees, twice, 1, 1)
    face = BRepBuilderAPI_MakeFace(roof, 1e-7).Face()
    lines = [[(0, 0, 0), (4, 0, 3), (WIDE, 0, 0)], [(WIDE, 0, 0), (WIDE, LONG, 0)],
             [(0, LONG, 0), (4, LONG, 3), (WIDE, LONG, 0)], [(0, 0, 0), (0, LONG, 0)]]  # fmt: skip
    assert grid_triangles([Side(BRepAdaptor_Surface(face, True), 1.0, lines)]) == [None]


def test_a_surface_with_a_bend_too_sharp_for_a_grid_is_left_to_the_kernel():
    assert grid_triangles([Side(patch((40.0, 0.0, 0.0)), 1.0, edges((40.0, 0.0, 0.0)))]) == [None]


def test_a_body_of_free_forms_is_closed():
    """The area vectors of a closed skin add up to nothing (Gauss)."""
    graph = face_graph(GROWTH["freeform"](30))
    every = np.concatenate([face.triangles for face in graph.faces])
    total = np.cross(every[:, 1] - every[:, 0], every[:, 2] - every[:, 0]).sum(axis=0) / 2
    area = sum(face.area for face in graph.faces)
    assert np.linalg.norm(total) < 1e-4 * area
