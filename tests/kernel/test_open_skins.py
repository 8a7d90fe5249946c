"""Bodies whose skin is open by a hair along an edge, as files write faces beside the curves that bound them."""

from __future__ import annotations

import math

import pytest
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Vec2d

from schemas.tolerances import BALANCE
from worker.kernel import boolean, primitives
from worker.kernel.measure import box_of, is_sum, volume, volumes_alike
from worker.kernel.shape import Body, copied, edges, faces
from worker.stage.rungs import parted_in_turn

RADIUS, HEIGHT, OFF = 50.0, 100.0, 1e-3


@pytest.fixture(scope="module")
def half() -> Body:
    """What of a cylinder about z lies past x = 10: its round face ends OFF above the edge where the top does."""
    rod = primitives.cylinder((0, 0, 0), (0, 0, HEIGHT), 2 * RADIUS)
    body = copied(boolean.cut(rod, [primitives.box((-60, -60, -1), (0, 60, 101))]))
    kind = GeomAbs_SurfaceType.GeomAbs_Cylinder
    (wall,) = (f for f in faces(body) if BRepAdaptor_Surface(f, False).GetType() == kind)
    (top,) = (e for e in edges(wall) if box_of(e).min[2] > HEIGHT - 1)
    ends = BRep_Tool.Range_s(top)
    curve = BRep_Tool.CurveOnSurface_s(top, wall, *ends)
    BRep_Builder().UpdateEdge(top, curve.Translated(gp_Vec2d(0.0, OFF)), wall, 2 * OFF)
    return boolean.common(body, [primitives.box((10, -60, -1), (60, 60, 101))], merge=False)


def test_pieces_are_a_whole_wherever_the_cones_to_its_faces_come_together(half: Body) -> None:
    """The segment of 50 mm radius past a chord at 10 mm, 100 mm high, by hand; told from corners of their own its
    pieces are a millionth off."""
    turn = math.acos(10 / RADIUS)
    assert volume(half) == pytest.approx((RADIUS**2 * (turn - math.sin(2 * turn) / 2)) * HEIGHT, rel=1e-5)
    tool = primitives.box((30, -60, -1), (60, 10, 101))
    removal, rest = parted_in_turn(half, [tool])
    assert abs(volume(removal) + volume(rest) - volume(half)) > BALANCE * volume(half)
    assert is_sum(half, [removal, rest])
    whole, *parts = volumes_alike([half, removal, rest])
    assert sum(parts) == pytest.approx(whole, rel=1e-8)


def test_a_piece_that_is_gone_is_missed_all_the_same(half: Body) -> None:
    removal, rest = parted_in_turn(half, [primitives.box((30, -60, -1), (60, 10, 101))])
    assert not is_sum(half, [rest])
    assert not is_sum(half, [removal, rest, primitives.box((0, 0, 0), (1, 1, 1))])
