"""A slot across the side of a round bar whose long edges are broken round the outside: the walls stand as far apart as
its width says, the strips between wall and outside are chamfers (ISO 14649-10), and a mill makes the slot alone."""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, common, cone, cut, cylinder
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, removals, setup, step, tool
from worker.kernel.shape import Body
from worker.recognise import recognise

BAR, HIGH, DEEP, BREAK = 30.0, 40.0, 5.0, 0.5
LOW, TOP = 12.0, 28.0
FLOOR = BAR - DEEP
TURN = 1e-4
"""Arcs that stand for a curve may end in another direction by so much (rad)."""


def _slotted() -> Shape:
    """A bar of 60 with a slot 16 wide and 5 deep across it, both edges broken by 0.5 at 45 degrees."""
    side = box((FLOOR, -BAR, 0), (BAR + 1, BAR, HIGH))
    below = cut(_ring(LOW - BREAK), cone((0, 0, LOW - BREAK), (0, 0, LOW), 2 * BAR, 2 * (BAR - BREAK)))
    above = cut(_ring(TOP), cone((0, 0, TOP), (0, 0, TOP + BREAK), 2 * (BAR - BREAK), 2 * BAR))
    slot = box((FLOOR, -BAR, LOW), (BAR + 1, BAR, TOP))
    return cut(cylinder((0, 0, 0), (0, 0, HIGH), 2 * BAR), slot, common(below, side), common(above, side))


def _ring(z: float) -> Shape:
    return cylinder((0, 0, z), (0, 0, z + BREAK), 2 * BAR + 4)


def _plan() -> Json:
    milling = step("bottom_and_side_finish_milling", tool("endmill", 10), {"class": "slot"})
    return plan(raw_box((-BAR, -BAR, 0), (BAR + 1, BAR, HIGH)), setup([milling], axis=(1, 0, 0)))


def test_slot_is_as_wide_as_its_walls_are_apart() -> None:
    found = recognise(Body(_slotted()))
    (slot,) = (f for f in found if f.class_ == "slot")
    chamfers = [f for f in found if f.class_ == "chamfer"]
    assert slot.width == pytest.approx(TOP - LOW, abs=1e-6)  # as drawn
    assert [(f.angle, f.width) for f in chamfers] == [pytest.approx((45.0, BREAK), abs=1e-6)] * 2


def test_mill_takes_what_lies_between_the_walls() -> None:
    """A block's strip, and what opens beside it where the floor goes on under the broken edges: out to the bar's side
    below arcs (sections of cones of 45 degrees), from there along their tangents (closed form)."""
    (milled,) = removals(agreed(_slotted(), _plan()))
    chord, short = (math.sqrt(r**2 - FLOOR**2) for r in (BAR, BAR - BREAK))
    out = BAR - chord
    beside = _under_arc(chord) - _under_arc(short) + out * BREAK + out**2 / 2 * chord / BAR
    turned = 4 * out**2 / 2 * TURN
    assert milled == pytest.approx((DEEP + 1) * ((TOP - LOW) * 2 * BAR + 4 * beside), abs=(DEEP + 1) * turned)


def _under_arc(y: float) -> float:
    """How far the cones open at the floor, summed up to ``y``: sqrt(y^2 + FLOOR^2) less their smallest radius."""
    r = math.hypot(y, FLOOR)
    return (y * r + FLOOR**2 * math.log(y + r)) / 2 - (BAR - BREAK) * y
