"""A floor that slopes: what a mill leaves on it, and the axis that mends it.

A block of 40 x 30 x 20 falls at 45 degrees from x = 10 to x = 20 and goes on level 10 deeper. Eight passes leave eight
prisms whose section is a right triangle with legs of 10 / 8: 8 * 1.25^2 / 2 * 30 = 187.5 mm3.
"""

from __future__ import annotations

import pytest

from examples.shapes import Shape, box, cut, polygon, prism
from schemas.finding import Finding
from tests.support.block import Json, judged
from tests.support.trial import FAR_PLATE, plan, raw_box, setup, step, step_bytes, tool

WORK = step("bottom_and_side_finish_milling", tool("endmill", 6), {"at": [15, 15, 15]})
SQUARE = [0.707106781, 0, 0.707106781]


def ramp(end: float) -> Shape:
    """The level floor goes on up to ``end``: past 40 it is open there."""
    outline = [(10, -1, 20), (10, -1, 21), (end, -1, 21), (end, -1, 10), (20, -1, 10)]
    return cut(box((0, 0, 0), (40, 30, 20)), prism(polygon(outline), (0, 32, 0)))


def left(part: Shape, *setups: Json) -> list[Finding]:
    found, _ = judged(plan(raw_box((0, 0, 0), (40, 30, 20)), *setups), step_bytes(part))
    return [f for f in found if f.code == "left.stock"]


def test_the_axis_square_to_a_floor_that_slopes_is_named_and_mends() -> None:
    from_above = setup([WORK], workholding=FAR_PLATE)
    (found,) = left(ramp(41), from_above)
    assert found.measured == pytest.approx(187.5, rel=1e-6)
    assert found.remedy and "[0.707107, 0, 0.707107]" in found.remedy.text
    square = setup([WORK], axis=SQUARE, ref_direction=[0, 1, 0], workholding=FAR_PLATE)
    assert left(ramp(41), from_above, square) == []


def test_no_axis_is_named_from_which_a_wall_hides_the_floor() -> None:
    # The wall at x = 36 is as high as the ramp: seen at 45 degrees it stands over the floor's last 10 mm
    (found,) = left(ramp(36), setup([WORK], workholding=FAR_PLATE))
    assert found.measured == pytest.approx(187.5, rel=1e-6)
    assert found.remedy and "axis [" not in found.remedy.text and "slopes" in found.remedy.text
