"""Vees that end at a wall, one flank hanging over or not: slots with a V section, as those that run right through.

ISO 14649-10 calls what a V section travels a slot, whatever ends it. Sizes by hand: flanks h deep that lean by a and b
from the vertical make an opening of b - a; half way between them they lie h / cos a and h / cos b along their slopes.
"""

from __future__ import annotations

import math

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, prism
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.shape import Body

DEPTH = 6.0
HANGING = [(30.0, 50.0), (10.0, 45.0)]
"""Of both the first flank hangs over."""
OPEN, ENDS = (-1.0, 101.0), [(-1.0, 60.0, "open flat"), (30.0, 70.0, "flat flat")]


def vee(a: float, b: float, start: float, end: float) -> Body:
    """In a block of 100 x 60 x 20, its bottom at y = 25; one flank leans by a, the other by b (degrees, towards +y)."""
    rise = DEPTH + 1
    mouth = [(25 + rise * math.tan(math.radians(lean)), 21.0) for lean in (b, a)]
    return cut(block(), [prism([(25.0, 20 - DEPTH), *mouth], start, end)])


def told(body: Body) -> Feature:
    (found,) = (f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature"))
    return found


@pytest.mark.parametrize(("a", "b"), HANGING)
@pytest.mark.parametrize(("start", "end", "ends"), ENDS)
def test_a_hanging_vee_that_ends_at_a_wall_is_as_wide_and_deep_as_one_right_through(
    a: float, b: float, start: float, end: float, ends: str
) -> None:
    body = vee(a, b, start, end)
    found, through = told(body), told(vee(a, b, *OPEN))
    assert (found.class_, found.ends, found.open_sides) == ("slot", ends, ends.count("open"))
    assert found.length == pytest.approx(end - max(start, 0))
    half = math.radians(b - a) / 2
    short, long = (DEPTH / math.cos(math.radians(lean)) for lean in (a, b))
    assert (found.width, found.depth) == pytest.approx(((short + long) * math.sin(half), long * math.cos(half)))
    assert (through.width, through.depth) == pytest.approx((found.width, found.depth))
    assert found.placement.axis == pytest.approx(through.placement.axis)
    if a == 10:
        same_when_rewritten(body, 2)


@pytest.mark.parametrize(("a", "b"), [(-12.0, 12.0), (-20.0, 5.0)])
@pytest.mark.parametrize(("start", "end", "ends"), ENDS)
def test_a_steep_vee_is_read_from_its_mouth_and_not_from_its_end(
    a: float, b: float, start: float, end: float, ends: str
) -> None:
    """A cutter along it leaves no sharper corners at its end than at its bottom."""
    found = told(vee(a, b, start, end))
    width = DEPTH * (math.tan(math.radians(b)) - math.tan(math.radians(a)))
    assert (found.class_, found.ends, found.placement.axis) == ("slot", ends, (0, 0, 1))
    assert (found.length, found.width, found.depth) == pytest.approx((end - max(start, 0), width, DEPTH))
