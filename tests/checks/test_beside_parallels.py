"""A drill that comes out into a parallel beside the hole: how thin it may be, and which setup drills from elsewhere."""

from __future__ import annotations

import copy

import pytest

from examples import shapes
from schemas.finding import Finding
from tests.support.block import Json, told
from tests.support.plans import applied, drilled_block
from tests.support.trial import step_bytes


def breakouts(y: float, plan: Json) -> list[Finding]:
    """A through hole of 6 mm, so far from the jaw; parallels are 6 thick where the plan says nothing."""
    part = shapes.cut(shapes.box((0, 0, 0), (60, 40, 20)), shapes.cylinder((30, y, -1), (30, y, 21), 6))
    return [f for f in told(plan, step_bytes(part)) if f.code == "depth.breakout"]


@pytest.mark.parametrize(("y", "end"), [(7.0, 4.0), (33.0, 4.0), (8.5, 5.5)])
def test_a_parallel_that_ends_beside_the_hole_mends_it(y: float, end: float) -> None:
    """Distance to the nearer jaw less the drill's radius."""
    plan = drilled_block(20, count=1)
    (found,) = breakouts(y, plan)
    assert found.remedy is not None and found.remedy.value == pytest.approx(end)
    assert not breakouts(y, applied(plan, found.remedy))


def test_no_parallel_is_thin_enough_for_a_hole_as_near_as_its_radius_and_the_other_side_sees_it() -> None:
    plan = drilled_block(20, count=1)
    (alone,) = breakouts(5.0, plan)
    assert alone.remedy is not None and alone.remedy.value is None and "another setup" in alone.remedy.text
    turned = copy.deepcopy(plan["setups"][0])
    turned |= {"id": "S2", "as_is": "carried", "workingsteps": []}
    turned["origin"] = {"location": [0, 40, 0], "axis": [0, 0, -1], "ref_direction": [1, 0, 0]}
    plan["setups"].append(turned)
    (found,) = breakouts(5.0, plan)
    assert found.remedy is not None and "drill it in S2, whose axis sees it" in found.remedy.text
