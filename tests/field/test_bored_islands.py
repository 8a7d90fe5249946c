"""A pocket's cutter keeps out of bores in what stands on its floor and of cavities inside a groove, told alike."""

from __future__ import annotations

import math

import pytest

from examples.shapes import box, cut, cylinder, rounded_block
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, removals, setup, step, tool

CORNERS = (4 - math.pi) * 36.0
"""What round corners of 6 take from a rectangle (mm2)."""


@pytest.mark.parametrize(
    ("top", "bore", "floor"), [(20.0, 20.0, -1.0), (20.0, 28.0, 10.0), (25.0, 20.0, 10.0), (25.0, 28.0, -1.0)]
)
def test_bore_in_a_boss_is_not_the_pockets(top: float, bore: float, floor: float) -> None:
    """Pocket 68 x 68 and 17 deep, a boss ø30 in it: over one that is lower the cutter passes; the blank is 2 higher."""
    hollow = cut(rounded_block((6, 6, 8), (74, 74, 26), 6), cylinder((40, 40, 7), (40, 40, top), 30))
    part = cut(box((0, 0, 0), (80, 80, 25)), hollow, cylinder((40, 40, floor), (40, 40, 26), bore))
    works = step("bottom_and_side_finish_milling", tool("endmill", 6), {"class": "closed_pocket"})
    (taken,) = removals(agreed(part, plan(raw_box((0, 0, 0), (80, 80, 27)), setup([works]))))
    boss = math.pi * 15**2 * ((27 if top == 25 else top) - 8)
    assert taken == pytest.approx((68 * 68 - CORNERS) * 19 - boss, rel=1e-6)


@pytest.mark.parametrize("width", [3.0, 4.0])
def test_cavity_inside_a_groove_is_not_the_grooves(width: float) -> None:
    """A groove 2 deep round a cavity 17 deep, both in one blank: the ring between two round corners, and no more."""
    outer = rounded_block((4, 4, 23), (96, 76, 26), 8)
    inner = rounded_block((4 + width, 4 + width, 22), (96 - width, 76 - width, 27), 8 - width)
    part = cut(box((0, 0, 0), (100, 80, 25)), cut(outer, inner), rounded_block((12, 12, 8), (88, 68, 26), 6))
    works = step("bottom_and_side_finish_milling", tool("endmill", 2.5), {"class": "slot"})
    (taken,) = removals(agreed(part, plan(raw_box((0, 0, 0), (100, 80, 27)), setup([works]))))
    ring = 92 * 72 - (92 - 2 * width) * (72 - 2 * width) - (4 - math.pi) * (8**2 - (8 - width) ** 2)
    assert taken == pytest.approx(ring * 4, rel=1e-6)
