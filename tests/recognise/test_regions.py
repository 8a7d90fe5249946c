"""A free-form region keeps its name whatever its faces and triangles are: an ellipsoid's cap."""

import numpy as np
import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_GTransform
from OCP.gp import gp_GTrsf, gp_Mat, gp_XYZ

from bench.reencode import as_nurbs, split
from bench.rewrites import in_halves, reordered
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, sphere
from worker.kernel.shape import Body
from worker.recognise import recognise

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


def test_a_region_elsewhere_has_another_name():
    x, y, z = MIDDLE
    assert region_of(capped((x + 0.5, y, z))).id != region_of(capped()).id
