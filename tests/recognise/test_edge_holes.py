"""Holes that the outside cuts open: what only a tool along the axis makes is a hole, else a slot for a ball across."""

from __future__ import annotations

import math

import pytest

from tests.recognise.parts import block, drill, point
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import common, cut
from worker.kernel.measure import volume
from worker.kernel.primitives import box, cylinder

R = 8.0


def segment(inside: float) -> float:
    """Area of what a circle of 16 takes from a half-plane, its middle so far inside (mm2)."""
    return R**2 * math.acos(-inside / R) + inside * math.sqrt(R**2 - inside**2)


@pytest.mark.parametrize("inside", [0.2, 1.0, 4.0])
def test_a_hole_with_its_axis_in_the_metal_is_a_hole(inside: float) -> None:
    """By 3 degrees more than half a turn, and more: a ball that came in from the side would have to be smaller."""
    body = cut(block(), [drill(50, inside, -1, 21, 2 * R)])
    (found,) = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    assert (found.class_, found.bottom) == ("round_hole", "through")
    assert found.diameter == pytest.approx(2 * R) and found.placement.location[:2] == pytest.approx((50, inside))
    assert set(found.access) == {(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)}
    assert block_volume() - volume(body) == pytest.approx(segment(inside) * found.depth)
    same_when_rewritten(body, 4)


@pytest.mark.parametrize("inside", [0.0, -1e-6, 1e-6, -2.0])
def test_half_a_hole_and_less_is_a_groove_seen_along_it_too(inside: float) -> None:
    body = cut(block(), [drill(50, inside, -1, 21, 2 * R)])
    (found,) = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    assert (found.class_, found.ends, found.bottom) == ("slot", "open open", "radiused")
    assert found.width == pytest.approx(2 * math.sqrt(R**2 - inside**2)) and found.depth == pytest.approx(R + inside)
    assert set(found.access) == {(0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (0.0, -1.0, 0.0)}
    assert block_volume() - volume(body) == pytest.approx(segment(inside) * 20, rel=1e-6)


@pytest.mark.parametrize("inside", [-3.0, 0.0, 2.0])
def test_a_drills_point_tells_a_hole_however_much_is_left_of_it(inside: float) -> None:
    """No other tool leaves a cone there: its face was milled off afterwards, or stood clamped to another."""
    body = cut(block(), [drill(50, inside, 8, 21, 2 * R), point(50, inside, 8, 2 * R, R / math.tan(math.radians(59)))])
    (found,) = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    assert (found.class_, found.bottom, found.tip_angle) == ("round_hole", "conical", pytest.approx(118))
    assert (found.diameter, found.depth) == pytest.approx((2 * R, 12)) and found.access == ((0.0, 0.0, 1.0),)


def test_a_slightly_wider_round_end_is_the_slots() -> None:
    """10.05 at the end of a slot of 10: it goes round by 191 degrees, between walls that look at each other."""
    body = cut(block(), [box((50, 25, -1), (101, 35, 21)), cylinder((50, 30, -1), (50, 30, 21), 10.05)])
    found = [f.class_ for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    assert "round_hole" not in found


def block_volume() -> float:
    return 100.0 * 60.0 * 20.0


def test_less_than_half_of_a_counterbores_head_is_its_head() -> None:
    """Its axis 1 outside the metal that the head of 14 lies in; the hole of 6 goes on below what cut that open."""
    body = cut(block(z=40), [box((20, 10, 20), (80, 40, 41)), drill(50, 39, -1, 41, 6), drill(50, 39, 30, 41, 14)])
    (found,) = [f for f in recognise(body) if f.class_ == "counterbore_hole"]
    assert (found.diameter, found.top_diameter, found.bottom) == (pytest.approx(6), pytest.approx(14), "through")
    assert (0.0, 0.0, 1.0) in found.access
    assert {f.class_ for f in recognise(body)} == {
        "closed_pocket", "counterbore_hole", "round_hole", "planar_face", "profile_feature",
    }  # fmt: skip
    same_when_rewritten(body, 2)


@pytest.mark.parametrize("width,aside,deep", [(8, 0, 6), (12, 0, 6), (12, 0, 3), (9.5, 1.5, 6)])
def test_what_a_slot_leaves_of_a_counterbores_head_is_its_head(width: float, aside: float, deep: float) -> None:
    """Two pieces of the wall of 14, of 124 to 220 degrees together: a plug would sit between them."""
    slot = box((-1, 30 - width / 2, 20 - deep), (101, 30 + width / 2, 21))
    body = cut(block(), [slot, drill(50, 30 + aside, -1, 21, 6), drill(50, 30 + aside, 14, 21, 14)])
    found = recognise(body)
    (hole,) = [f for f in found if f.class_ == "counterbore_hole"]
    assert (hole.diameter, hole.top_diameter, hole.depth) == (pytest.approx(6), pytest.approx(14), pytest.approx(20))
    (crossing,) = [f for f in found if f.class_ == "slot"]
    assert (crossing.width, crossing.depth) == (pytest.approx(width), pytest.approx(deep))
    assert crossing.id in {f.id for f in recognise(cut(block(), [slot]))}


def test_a_slots_round_end_in_a_counterbores_head_leaves_it_its_head() -> None:
    """One piece of 193 degrees of the wall of 14, between the flank and the round end of a slot as deep."""
    slot = [box((39.5, 20, 14), (47.5, 50, 21)), drill(43.5, 20, 14, 21, 8), drill(43.5, 50, 14, 21, 8)]
    hole = [drill(38.7, 26.7, -1, 21, 6), drill(38.7, 26.7, 14, 21, 14)]
    (alone,) = [f for f in recognise(cut(block(), slot)) if f.class_ == "slot"]
    found = recognise(cut(block(), [*slot, *hole]))
    assert [f.top_diameter for f in found if f.class_ == "counterbore_hole"] == [pytest.approx(14)]
    assert alone.id in {f.id for f in found}


def test_a_head_in_a_bosss_edge_is_a_head() -> None:
    """The boss stands on the head's floor, but not within its wall: no ring goes round it."""
    around = cut(box((10, 5, 12), (90, 55, 21)), [drill(50, 30, 11, 22, 30)])
    body = cut(block(), [around, drill(63, 30, -1, 21, 5), drill(63, 30, 12, 21, 10)])
    found = recognise(body)
    assert [f.top_diameter for f in found if f.class_ == "counterbore_hole"] == [pytest.approx(10)]
    assert [f.diameter for f in found if f.class_ == "boss"] == [pytest.approx(30)]


@pytest.mark.parametrize("x", [46.0, 93.0])
def test_a_head_at_the_end_of_a_step_makes_it_no_wider(x: float) -> None:
    """What the head has of the part's side is none of the step's."""
    step = box((-1, 30, 12), (101, 61, 21))
    (alone,) = [f for f in recognise(cut(block(), [step])) if f.class_ == "step"]
    body = cut(block(), [step, drill(x, 28, -1, 21, 5), drill(x, 28, 12, 21, 16)])
    (beside,) = [f for f in recognise(body) if f.class_ == "step"]
    assert beside.id == alone.id and (beside.length, beside.width) == pytest.approx((100, 30))


def test_two_flats_across_a_round_seat_are_no_head() -> None:
    """A round recess of 20 with flats 12 apart, and a hole in its floor: no counterbore leaves such walls."""
    seat = common(box((40, 24, 14), (60, 36, 21)), [cylinder((50, 30, 14), (50, 30, 21), 20)])
    found = recognise(cut(block(), [seat, drill(50, 30, -1, 21, 6)]))
    assert "counterbore_hole" not in {f.class_ for f in found}
