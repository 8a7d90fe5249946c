"""Slots, steps and pockets with a floor of two slopes, in a valley or over a ridge, between upright walls; by hand."""

from __future__ import annotations

import math

import pytest

from bench.reencode import reencoded, turned
from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import block, prism, rounded
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.planar import polygon
from worker.kernel.primitives import box
from worker.kernel.shape import Body
from worker.kernel.sweep import prism as swept


def along(heights: tuple[float, float, float], x0: float = -1.0, x1: float = 101.0) -> Body:
    """Across a block 20 high from y 20 to 40: floor at these heights at the walls and half way; drawn along X."""
    a, b, c = heights
    return prism([(20, 21), (20, a), (30, b), (40, c), (40, 21)], x0, x1)


def across(heights: tuple[float, float, float], x: tuple[float, float, float], y0: float, y1: float) -> Body:
    """Between walls at y0 and y1: floor at these heights at these places along X."""
    floor = list(zip(x, heights, strict=True))
    outline = [*floor, (x[-1], 21.0), (x[0], 21.0)]
    return swept(polygon(outline), Frame(location=(0, 0, 0), axis=(0, -1, 0), ref_direction=(1, 0, 0)), -y1, -y0)


def features(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


VALLEY, RIDGE, UNEVEN = (14.0, 10.0, 14.0), (10.0, 14.0, 10.0), (10.0, 14.0, 11.0)


@pytest.mark.parametrize("heights", [VALLEY, RIDGE, UNEVEN, (10.0, 17.0, 10.0)])
def test_a_line_along_the_walls_leaves_one_slot(heights: tuple[float, float, float]) -> None:
    body = cut(block(), [along(heights)])
    for part in (body, turned(body, 2)[0], reencoded(body, 3)[0]):
        (found,) = features(part)
        assert (found.class_, found.ends, found.bottom) == ("slot", "open open", "general")
        assert (found.length, found.width, found.depth) == pytest.approx((100, 20, 10), abs=1e-4)
        assert found.course_of_travel == "linear"


@pytest.mark.parametrize("y", [(20.0, 40.0), (5.0, 55.0), (27.0, 32.0)])
@pytest.mark.parametrize("heights", [(16.0, 10.0, 16.0), (10.0, 16.0, 12.0)])
def test_a_line_across_leaves_one_slot_along_the_walls(
    heights: tuple[float, float, float], y: tuple[float, float]
) -> None:
    """However wide it is: both its ends are open."""
    body = cut(block(), [across(heights, (0.0, 35.0, 100.0), *y)])
    for part in (body, turned(body, 1)[0]):
        (found,) = features(part)
        assert (found.class_, found.ends) == ("slot", "open open")
        assert (found.length, found.width, found.depth) == pytest.approx((100, y[1] - y[0], 10), abs=1e-4)


@pytest.mark.parametrize("heights", [(16.0, 10.0, 16.0), (10.0, 16.0, 10.0)])
def test_one_wall_beside_slopes_leaves_a_step(heights: tuple[float, float, float]) -> None:
    (found,) = features(cut(block(), [across(heights, (0.0, 50.0, 100.0), 20, 61)]))
    assert (found.class_, found.open_sides) == ("step", 3)
    assert (found.length, found.width, found.height) == pytest.approx((100, 40, 10))


@pytest.mark.parametrize("heights", [(16.0, 10.0, 16.0), (10.0, 16.0, 10.0)])
def test_walls_all_round_slopes_leave_a_closed_pocket(heights: tuple[float, float, float]) -> None:
    tool = across(heights, (20.0, 50.0, 80.0), 20, 40)
    for corner in (0.0, 4.0):
        upright = rounded(tool, corner, lambda a, b: math.dist(a[:2], b[:2]) < 1e-6) if corner else tool
        (found,) = features(cut(block(), [upright]))
        assert (found.class_, found.open_sides, found.orthogonal_radius) == ("closed_pocket", 0, corner or None)
        assert (found.length, found.width, found.depth) == pytest.approx((60, 20, 10))


def test_a_trough_with_one_wall_at_its_end_is_a_slot_when_it_is_long() -> None:
    for x0, class_, length in ((20.0, "slot", 80.0), (70.0, "open_pocket", 30.0)):
        tool = across((16.0, 10.0, 16.0), (x0, (x0 + 100) / 2, 100.0), 20, 40)
        (found,) = features(cut(block(), [tool]))
        assert (found.class_, found.ends) == (class_, "open flat" if class_ == "slot" else None)
        assert (found.length, found.width) == pytest.approx((length, 20))


@pytest.mark.parametrize("rounds", [{(20.0, 14.0), (40.0, 14.0)}, {(30.0, 10.0)}])
def test_rounds_at_the_feet_of_slopes_change_no_class(rounds: set[tuple[float, float]]) -> None:
    tool = rounded(along(VALLEY), 1.5, lambda a, b: {(a[1], a[2]), (b[1], b[2])} <= rounds and a[1] == b[1])
    (found,) = features(cut(block(), [tool]))
    assert (found.class_, found.ends, found.planar_radius) == ("slot", "open open", pytest.approx(1.5))
    assert (found.length, found.width) == pytest.approx((100, 20))


def test_a_level_floor_beside_a_slope_between_walls_is_a_slots() -> None:
    tool = prism([(20, 21), (20, 10), (30, 10), (40, 14), (40, 21)], -1, 101)
    (found,) = features(cut(block(), [tool]))
    assert (found.class_, found.ends) == ("slot", "open open")
    assert (found.length, found.width, found.depth) == pytest.approx((100, 20, 10))


@pytest.mark.parametrize(
    ("tool", "wide"), [(along(RIDGE), 20.0), (prism([(20, 21), (20, 10), (36, 21)], -1, 101), 16 * 10 / 11)]
)
def test_what_crosses_a_slope_beside_a_wall_leaves_one_slot(tool: Body, wide: float) -> None:
    body = cut(block(), [tool, box((45, -1, 5), (55, 61, 21))])
    found = features(body)
    assert {f.class_ for f in found} == {"slot"}
    sizes = sorted((f.length, f.width, f.depth) for f in found)
    assert sizes == [pytest.approx((60, 10, 15)), pytest.approx((100, wide, 10))]
    same_when_rewritten(body, 2)


def test_saw_teeth_whose_crests_reach_the_mouth_stay_apart() -> None:
    """Two grooves, each with one upright flank, back to back: their crest lies in the face that they are cut into."""
    body = cut(
        block(), [prism([(20, 20.0), (20, 10), (30, 20.0)], -1, 101), prism([(40, 20), (40, 10), (30, 20)], -1, 101)]
    )
    found = features(body)
    assert [(f.class_, f.width, f.depth) for f in found] == [("slot", pytest.approx(10), pytest.approx(10))] * 2
