"""An allowance on faces that a cutter follows stays on them, measured upwards: plan area times height. One below zero
is cut out of the part, and told.

Closed forms: over a quarter round of radius R on an edge stands (1 - pi / 4) R^2; over a parabola of radius r in a
plate, d deep, two thirds of its rectangle, 2 sqrt(2 r d) wide.
"""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, cut, cylinder, polygon, prism
from tests.field.test_field_every_step import ABOVE, REGION, X, Z, _valley
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, removals, setup, step, tool

LONG, UP = 60.0, 5.0
"""The parts' length, and how far the blank stands over them."""
WIDE = 2 * math.sqrt(2 * 12 * 12)
BALL = tool("ballnose_endmill", 10)
RAW = raw_box((0, -20, 0), (LONG, 20, 30 + UP))


def rounded() -> Shape:
    corner = box((-1, 12, 22), (LONG + 1, 21, 31))
    return cut(box((0, -20, 0), (LONG, 20, 30)), cut(corner, cylinder((-2, 12, 22), (LONG + 2, 12, 22), 16)))


def sloping(*outline: tuple[float, float]) -> Shape:
    return prism(polygon([(0, y, z) for y, z in outline]), (LONG, 0, 0))


CHAMFERED = sloping((-20, 0), (20, 0), (20, 22), (12, 30), (-20, 30))
RAMP = sloping((-20, 0), (20, 0), (20, 12), (-20, 30))
FOLLOWED = [
    (rounded(), {"class": "edge_round"}, 8.0, (1 - math.pi / 4) * 8**2),
    (CHAMFERED, {"class": "chamfer"}, 8.0, 32.0),
    (RAMP, {"class": "planar_face", "at": [30, 0, 21]}, 40.0, 40 * 18 / 2),
]


@pytest.mark.parametrize(("part", "named", "wide", "over"), FOLLOWED)
@pytest.mark.parametrize("stated", [{"allowance_bottom": 0.3}, {"allowance_side": 0.3, "allowance_bottom": 0.1}])
def test_what_a_step_is_to_leave_stays_until_the_next(
    part: Shape, named: Json, wide: float, over: float, stated: Json
) -> None:
    both = setup([step("freeform_operation", BALL, named, **stated), step("freeform_operation", BALL, named)])
    stage = agreed(part, plan(RAW, both))
    left = LONG * wide * 0.3
    assert removals(stage) == pytest.approx([LONG * (over + wide * UP) - left, left], rel=1e-6)


def test_a_negative_one_goes_into_the_part() -> None:
    part, named, wide, over = FOLLOWED[1]
    stage = agreed(part, plan(RAW, setup([step("freeform_operation", BALL, named, allowance_side=-0.2)])))
    assert removals(stage) == pytest.approx([LONG * (over + wide * (UP + 0.2))], rel=1e-6)
    assert stage.cuts[0].gouge is not None


def test_it_stays_in_a_hollow_free_form() -> None:
    raw = raw_box((-X / 2, -19, -Z), (X / 2, 19, UP))
    work = [step("freeform_operation", BALL, REGION, allowance_side=0.3), step("freeform_operation", BALL, REGION)]
    stage = agreed(_valley(12), plan(raw, setup(work, location=[0, 0, 0])))
    left = X * WIDE * 0.3
    assert removals(stage) == pytest.approx([ABOVE + X * WIDE * UP - left, left], rel=1e-4)
