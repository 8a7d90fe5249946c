"""A collet's three slots run on through its bore before it is drilled: walls, volume and faces of what stays."""

from __future__ import annotations

import math

import pytest

from schemas.base import any_frame
from tests.support.block import as_step
from tests.support.trial import plan, raw_box, setup, stages_of, step, tool
from worker.kernel import boolean, measure, primitives
from worker.kernel.meshes import mesh_of
from worker.kernel.planar import Region
from worker.kernel.planar_edge import line
from worker.kernel.shape import Body
from worker.kernel.sweep import prism

OUTER, BORE, HALF, BOTTOM, LENGTH, SIDE = 15.0, 8.0, 1.0, 15.0, 50.0, 17.0


def _band(angle: float) -> Body:
    """A slot from the axis out, at an angle."""
    c, s = math.cos(angle), math.sin(angle)
    points = [(c * x - s * y, s * x + c * y) for x, y in ((0.0, -HALF), (20.0, -HALF), (20.0, HALF), (0.0, HALF))]
    sides = tuple(line(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True))
    return prism(Region((sides,)), any_frame((0.0, 0.0, 0.0), (0.0, 0.0, 1.0)), BOTTOM, LENGTH + 1.0)


def _part(turn: float) -> Body:
    ring = boolean.cut(
        primitives.cylinder((0, 0, 0), (0, 0, LENGTH), 2 * OUTER),
        [primitives.cylinder((0, 0, -1), (0, 0, LENGTH + 1), 2 * BORE)],
    )
    return boolean.cut(ring, [_band(turn + k * math.tau / 3) for k in range(3)])


def _beyond(radius: float, out: float) -> float:
    """Area of a band of half width 1 from a circle's arc out to a distance."""
    arc = radius**2 * math.asin(HALF / radius) + HALF * math.sqrt(radius**2 - HALF**2)
    return 2 * HALF * out - arc


@pytest.mark.parametrize("turn", [0.0, 0.5])
def test_the_stock_closes_and_has_lost_the_slots_and_the_bore(turn: float) -> None:
    """A blank of 34 x 34, 2 over the part's top and under its foot: what a drill of 16 and the three slots take, which
    run out to the blank's sides."""
    slot, drill = tool("endmill", 2 * HALF), tool("twist_drill", 2 * BORE, SIG=118, LU=100)
    works = [
        step("plane_finish_milling", tool("endmill", 12), {"class": "planar_face", "normal": [0, 0, 1]}),
        step("bottom_and_side_finish_milling", slot, {"class": "slot"}),
        step("drilling", drill, {"class": "round_hole"}, overcut_length=3.0),
    ]
    blank = raw_box((-SIDE, -SIDE, -2), (SIDE, SIDE, LENGTH + 2))
    (stage,) = stages_of(as_step(_part(turn)), plan(blank, setup(works)))
    ends = [turn + k * math.tau / 3 for k in range(3)]
    slots = sum(_beyond(BORE, SIDE / max(abs(math.cos(a)), abs(math.sin(a)))) for a in ends)
    left = 4 * SIDE**2 * (LENGTH + 2) - math.pi * BORE**2 * (LENGTH + 2) - slots * (LENGTH - BOTTOM)
    assert stage.notes == ()
    assert measure.volume(stage.to_be) == pytest.approx(left, abs=1e-3)
    closed = mesh_of(stage.to_be, 1e-3).solid.volume()
    assert closed == pytest.approx(left, rel=1e-4)
