"""Cutters whose round corner fits a hollow floor, against closed forms: a tilted axis, a stated depth."""

from __future__ import annotations

import math

import pytest

from examples.shapes import ball, box, cut, volume
from tests.support.filleted import filleted_pocket
from tests.support.trial import plan, raw_box, removals, setup, stages_of, step, tool

FINISH = "bottom_and_side_finish_milling"
TILT = math.radians(17)


def test_a_ball_finishes_a_dish_from_a_tilted_axis() -> None:
    """A cap 10 deep of a ball of 40: pi 10^2 (3 x 40 - 10) / 3."""
    part = cut(box((-40, -30, -40), (40, 30, 0)), ball((0, 0, 30), 40))
    axis, across = (math.sin(TILT), 0.0, math.cos(TILT)), (math.cos(TILT), 0.0, -math.sin(TILT))
    corner = {"on": "part", "at": ["min", "min", "max"]}
    works = [step(FINISH, tool("ballnose_endmill", 6), {"class": "closed_pocket"})]
    held = setup(works, axis=axis, ref_direction=list(across), location=corner)
    (stage,) = stages_of(part, plan(raw_box((-40, -30, -40), (40, 30, 0)), held))
    assert stage.failures == ()
    assert removals(stage)[0] == pytest.approx(math.pi * 100 * 110 / 3, rel=2e-6)


@pytest.mark.parametrize(("below", "gouge"), [(0.0, 0.0), (1.0, 1.0)])
def test_a_stated_depth_below_a_filleted_floor_is_obeyed_and_told(below: float, gouge: float) -> None:
    """The round cutter's form moves down as it is: what it takes more is the pocket's outline times the depth."""
    works = [step(FINISH, tool("bullnose_endmill", 6, RE=2), {"class": "closed_pocket"}, bottom_z=-8 - below)]
    (stage,) = stages_of(filleted_pocket(), plan(raw_box((0, 0, 0), (60, 40, 20)), setup(works, location=[0, 0, 20])))
    taken = stage.cuts[0].gouge
    outline = 30 * 20 - (4 - math.pi) * 5**2
    found = 0.0 if taken is None else volume(taken.wrapped)
    assert found == pytest.approx(gouge * outline, rel=1e-6, abs=1e-6)
