"""Grooves with a round bottom, and vees, in a floor up to a wall beside it: slots of their own, the floor is whole."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from tests.recognise.parts import block
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body
from worker.recognise import recognise

LEDGE = box((-1, -1, 12), (60, 61, 21))
ROUND = cylinder((-1, 30, 12), (60, 30, 12), 10)
DEEP = fuse([cylinder((-1, 30, 10), (60, 30, 10), 10), box((-1, 25, 10), (60, 35, 13))])
VEE = box((-1, -4, -4), (60, 4, 4), Frame(location=(0, 30, 12), axis=(0, 1, 1), ref_direction=(1, 0, 0)))
VEE_WIDE = 8 * math.sqrt(2)
"""Across the corner of a square of 8."""


@pytest.mark.parametrize(
    "groove,wide,deep", [(ROUND, 10, 5), (DEEP, 10, 7), (VEE, VEE_WIDE, VEE_WIDE / 2)], ids=["round", "deep", "vee"]
)
def test_a_groove_in_a_steps_floor_up_to_its_wall_is_a_slot(groove: Body, wide: float, deep: float) -> None:
    """It took the step with it: one step with a round or a slope in its floor, seen from fewer sides."""
    (alone,) = [f for f in recognise(cut(block(), [LEDGE])) if f.class_ == "step"]
    body = cut(block(), [LEDGE, groove])
    found = recognise(body)
    (step,) = [f for f in found if f.class_ == "step"]
    assert (step.id, step.open_sides) == (alone.id, alone.open_sides) and set(step.access) >= set(alone.access)
    (slot,) = [f for f in found if f.class_ == "slot"]
    assert (slot.length, slot.width, slot.depth) == (60, pytest.approx(wide), pytest.approx(deep))
    assert (slot.ends, slot.placement.location) == ("open flat", pytest.approx((30, 30, 12)))
    assert {(0, 0, 1), (-1, 0, 0)} <= set(slot.access)
    same_when_rewritten(body, 3)


def test_a_round_groove_from_wall_to_wall_is_a_slot() -> None:
    """Across a pocket: as long as that is wide, whichever is more."""
    for wide in (8.0, 30.0):
        pocket_ = box((50 - wide / 2, 10, 12), (50 + wide / 2, 50, 21))
        groove = cylinder((50 - wide / 2, 30, 12), (50 + wide / 2, 30, 12), 10)
        (alone,) = [f for f in recognise(cut(block(), [pocket_])) if f.class_ == "closed_pocket"]
        found = recognise(cut(block(), [pocket_, groove]))
        assert [f.id for f in found if f.class_ == "closed_pocket"] == [alone.id]
        (slot,) = [f for f in found if f.class_ == "slot"]
        assert sorted((slot.length, slot.width)) == pytest.approx(sorted((wide, 10))) and slot.depth == pytest.approx(5)
