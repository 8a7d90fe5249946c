"""An allowance on faces that a cutter follows stays on them: square to planes, straight up over faces that bend. One
below zero is cut out of the part, and told. A stated tip stops the cutter.

Over a plane that rises t in 1 an allowance a square to it stands a sqrt(1 + t^2) up, but nowhere higher than a over its
upper end: a triangle of e^2 / (2 t) less, e what is more than a.

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
    (rounded(), {"class": "edge_round"}, 8.0, (1 - math.pi / 4) * 8**2, 0.0),
    (CHAMFERED, {"class": "chamfer"}, 8.0, 32.0, 1.0),
    (RAMP, {"class": "planar_face", "at": [30, 0, 21]}, 40.0, 40 * 18 / 2, 18 / 40),
]


def stays(wide: float, a: float, t: float) -> float:
    """Section of what stays on a plane that rises t in 1, or on a bent face (0)."""
    more = a * (math.sqrt(1 + t * t) - 1)
    return wide * (a + more) - (more * more / (2 * t) if t and a > 0 else 0.0)


@pytest.mark.parametrize(("part", "named", "wide", "over", "rise"), FOLLOWED)
@pytest.mark.parametrize("stated", [{"allowance_bottom": 0.3}, {"allowance_side": 0.3, "allowance_bottom": 0.1}])
def test_what_a_step_is_to_leave_stays_until_the_next(
    part: Shape, named: Json, wide: float, over: float, rise: float, stated: Json
) -> None:
    both = setup([step("freeform_operation", BALL, named, **stated), step("freeform_operation", BALL, named)])
    stage = agreed(part, plan(RAW, both))
    left = LONG * stays(wide, 0.3, rise)
    assert removals(stage) == pytest.approx([LONG * (over + wide * UP) - left, left], rel=1e-6)


def test_a_negative_one_goes_into_the_part() -> None:
    part, named, wide, over, rise = FOLLOWED[1]
    stage = agreed(part, plan(RAW, setup([step("freeform_operation", BALL, named, allowance_side=-0.2)])))
    assert removals(stage) == pytest.approx([LONG * (over + wide * UP - stays(wide, -0.2, rise))], rel=1e-6)
    assert stage.cuts[0].gouge is not None


def test_it_stays_in_a_hollow_free_form() -> None:
    raw = raw_box((-X / 2, -19, -Z), (X / 2, 19, UP))
    work = [step("freeform_operation", BALL, REGION, allowance_side=0.3), step("freeform_operation", BALL, REGION)]
    stage = agreed(_valley(12), plan(raw, setup(work, location=[0, 0, 0])))
    left = X * WIDE * 0.3
    assert removals(stage) == pytest.approx([ABOVE + X * WIDE * UP - left, left], rel=1e-4)


@pytest.mark.parametrize("tip", [17.0, 5.0])
def test_a_stated_tip_stops_on_a_slope(tip: float) -> None:
    """On a plane whose unit normal is n high a ball of 5 touches 5 (1 - n) over its tip: what stands lower stays."""
    part, named, wide, over, rise = FOLLOWED[2]
    works = step("freeform_operation", BALL, named, bottom_z=tip)
    stage = agreed(part, plan(RAW, setup([works], location=[0, 0, 0])))
    touched = max(tip + 5 * (1 - 1 / math.sqrt(1 + rise * rise)) - 12, 0.0)
    left = touched * touched / rise / 2
    assert removals(stage) == pytest.approx([LONG * (over + wide * UP - left)], rel=1e-6)
    assert stage.cuts[0].lowest_tip >= min(tip, 12.0 - 5) - 1e-6
