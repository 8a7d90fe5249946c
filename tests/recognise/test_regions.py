"""A free-form region keeps its name whatever its faces and triangles are: an ellipsoid's cap."""

import itertools

import numpy as np
import pytest
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_GTransform,
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakePolygon,
    BRepBuilderAPI_MakeWire,
)
from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.Geom import Geom_BezierCurve, Geom_BezierSurface
from OCP.gp import gp_GTrsf, gp_Mat, gp_Pnt, gp_Vec, gp_XYZ
from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array2OfPnt

from bench.reencode import as_nurbs, split, turned
from bench.rewrites import in_halves, reordered
from tests.support.recognised import recognise
from worker.kernel.boolean import common, cut
from worker.kernel.primitives import box, sphere
from worker.kernel.shape import Body

MIDDLE, AXES = (52.0, 29.0, 17.0), (30.0, 18.0, 9.0)


def capped(middle=MIDDLE):
    """What stands above z = 20 of an ellipsoid (half axes 30, 18, 9) whose middle lies below that."""
    turn = gp_Mat(AXES[0], 0, 0, 0, AXES[1], 0, 0, 0, AXES[2])
    ball = BRepBuilderAPI_GTransform(sphere((0, 0, 0), 2).wrapped, gp_GTrsf(turn, gp_XYZ(*middle)), True)
    return cut(Body(ball.Shape()), [box((0, 0, 0), (100, 60, 20))])


def region_of(body):
    (found,) = [f for f in recognise(body) if f.class_ == "region"]
    return found


WRITINGS = {
    "splines": lambda body: as_nurbs(body)[0],
    "in pieces": lambda body: split(body, 5)[0],
    "in halves": lambda body: in_halves(body, 1),
    "reordered": lambda body: reordered(body, 1),
}


@pytest.mark.parametrize("writing", WRITINGS)
def test_a_region_written_anew_keeps_its_name_and_axis(writing):
    body = capped()
    before, after = region_of(body), region_of(WRITINGS[writing](body))
    assert after.id == before.id
    assert after.placement.axis == pytest.approx(before.placement.axis, abs=1e-6)
    assert len(after.access) == len(before.access)


def test_a_region_lies_on_its_surface_and_faces_where_it_is_seen_best():
    found = region_of(capped())
    x, y, z = (np.array(found.placement.location) - MIDDLE) / AXES
    assert x * x + y * y + z * z == pytest.approx(1.0, abs=0.01)  # the ellipsoid's own equation
    assert found.placement.axis == pytest.approx((0, 0, 1)) and found.access == (found.placement.axis,)


@pytest.mark.parametrize("writing", [None, *WRITINGS])
def test_a_region_lies_over_its_middle_however_it_is_meshed(writing):
    """The cap's middle lies below its top, which it faces: symmetry of the ellipsoid."""
    found = region_of(WRITINGS[writing](capped()) if writing else capped())
    x, y, z = MIDDLE
    assert found.placement.location == pytest.approx((x, y, z + AXES[2]), abs=0.005)


def test_a_region_elsewhere_has_another_name():
    x, y, z = MIDDLE
    assert region_of(capped((x + 0.5, y, z))).id != region_of(capped()).id


def rising(lean, x0, x1):
    """What lies over a wavy surface that leans along x, from x0 to x1 and past a block of 60 x 40."""
    poles = TColgp_Array2OfPnt(1, 4, 1, 4)
    for i, k in itertools.product(range(4), range(4)):
        x, y = x0 + (x1 - x0) * i / 3, -10.0 + 20.0 * k
        poles.SetValue(i + 1, k + 1, gp_Pnt(x, y, 20 + lean * (x - 30) + (2.0, -1.0, 3.0, 0.0)[(i + k) % 4]))
    face = BRepBuilderAPI_MakeFace(Geom_BezierSurface(poles), 1e-6).Face()
    return Body(BRepPrimAPI_MakePrism(face, gp_Vec(0, 0, 60)).Shape())


def test_free_forms_that_meet_in_a_valley_are_a_region_each_and_no_pocket():
    """Two skins lean towards each other: nothing walls them in, and each is seen from above."""
    body = cut(box((0, 0, 0), (60, 40, 50)), [common(rising(0.3, -10, 70), [rising(-0.3, -10, 70)])])
    found = [f for f in recognise(split(body, 4)[0]) if f.class_ not in ("planar_face", "profile_feature")]
    assert [f.class_ for f in found] == ["region", "region"]
    assert all((0.0, 0.0, 1.0) in f.access for f in found)


def test_free_forms_that_stand_all_round_are_a_window_and_no_regions():
    """Four bent walls that meet in upright edges, right through a plate of 20."""
    wire = BRepBuilderAPI_MakeWire()
    for (a, b), (c, d) in itertools.pairwise([(20, 20), (60, 20), (60, 45), (20, 45), (20, 20)]):
        poles = TColgp_Array1OfPnt(1, 4)
        for k, (along, aside) in enumerate([(0.0, 0.0), (1 / 3, 0.1), (2 / 3, -0.05), (1.0, 0.0)]):
            x, y = a + along * (c - a) - aside * (d - b), b + along * (d - b) + aside * (c - a)
            poles.SetValue(k + 1, gp_Pnt(x, y, -1))
        wire.Add(BRepBuilderAPI_MakeEdge(Geom_BezierCurve(poles)).Edge())
    room = Body(BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(wire.Wire()).Face(), gp_Vec(0, 0, 30)).Shape())
    found = [f for f in recognise(cut(box((0, 0, 0), (80, 65, 20)), [room])) if len(f.faces) > 1]
    assert sorted(f.class_ for f in found) == ["closed_pocket"] + ["profile_feature"] * 3
    (window,) = [f for f in found if f.class_ == "closed_pocket"]
    assert window.depth == pytest.approx(20) and set(window.access) == {(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)}
    assert window.bottom == "through"


@pytest.mark.parametrize(("floor", "bottom"), [(-1, "through"), (8, "planar")])
def test_walls_that_lean_are_no_bottom(floor, bottom):
    """A frustum of 40 x 25 below and 44 x 29 at 21, through a plate of 20 or down to 8: drafted walls all round."""
    ends = BRepOffsetAPI_ThruSections(True, True)
    for z, grow in ((floor, 0), (21, 2)):
        corners = [(20 - grow, 20 - grow), (60 + grow, 20 - grow), (60 + grow, 45 + grow), (20 - grow, 45 + grow)]
        wire = BRepBuilderAPI_MakePolygon()
        for x, y in corners:
            wire.Add(gp_Pnt(x, y, z))
        wire.Close()
        ends.AddWire(wire.Wire())
    ends.Build()
    for body in (plain := cut(box((0, 0, 0), (80, 65, 20)), [Body(ends.Shape())]), turned(plain, 3)[0]):
        (found,) = [f for f in recognise(body) if f.class_ == "closed_pocket"]
        assert (found.bottom, found.depth) == (bottom, pytest.approx(20 - max(floor, 0)))


def test_a_tapering_trough_keeps_its_bottom():
    """Two free-form slants of a valley that leads out on both sides are no way through."""
    body = cut(box((0, 0, 0), (60, 40, 50)), [common(rising(1.2, -10, 70), [rising(-1.2, -10, 70)])])
    assert all(f.bottom != "through" for f in recognise(body))
