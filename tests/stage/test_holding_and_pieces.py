"""Workholding as an obstacle and as what keeps a piece; stated depths are obeyed; loose pieces go (boxes by hand)."""

from __future__ import annotations

import math
from typing import Any

import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse, volume
from schemas.base import Frame
from schemas.tolerances import LENGTH
from schemas.workholding import Vise
from tests.support.trial import plan, raw_box, setup, stages_of, step, step_bytes, taken, to_be, tool
from worker.kernel import boolean, primitives
from worker.kernel.planar import polygon
from worker.kernel.sweep import prism
from worker.stage.holding import place_holding

REL = 1e-6
PI = math.pi
VISE = {"type": "vise", "jaw_axis": "Y", "jaw_width": 150, "jaw_height": 45, "parallel_height": 35}
FACE = step("plane_finish_milling", tool("facemill", 50), {"class": "planar_face", "normal": [0, 0, 1]})


def block() -> Shape:
    return box((-50, -40, -30), (50, 40, 0))


def profile(**keys: Any) -> dict[str, Any]:
    return step("side_finish_milling", tool("endmill", 16), {"class": "profile_feature"}, **keys)


def test_a_profile_stops_above_the_jaws() -> None:
    # grip 45 - 35 = 10 mm: below z = -20 the jaws, and right above them their whole width, keep the cutter off
    raw = raw_box((-53, -43, -30), (53, 43, 0))
    (stage,) = stages_of(block(), plan(raw, setup([profile()], workholding=VISE)))
    jaws_top = -20
    above = (106 * 86 - 100 * 80) * (0 - jaws_top)
    ends = 2 * 3 * 86 * (jaws_top + 30)  # the ends along X stand free of the jaws
    assert taken(stage) == pytest.approx(above + ends - 4 * _in_corner(8, 3) * 10, rel=REL)
    assert stage.cuts[0].in_workholding is None


def _in_corner(r: float, w: float) -> float:
    """Between a cutter of radius r and the corner of two walls it touches, within w of one wall: the integral of
    r - sqrt(r^2 - t^2) over t from r - w to r."""
    inner = r - w
    circle = (r * r * (PI / 2 - math.asin(inner / r)) - inner * math.sqrt(r * r - inner * inner)) / 2
    return r * w - circle


def test_a_stated_depth_is_obeyed_in_the_jaws() -> None:
    raw = raw_box((-53, -43, -30), (53, 43, 0))
    (stage,) = stages_of(block(), plan(raw, setup([profile(bottom_z=-25)], workholding=VISE)))
    assert taken(stage) == pytest.approx((106 * 86 - 100 * 80) * 25, rel=REL)
    inside = stage.cuts[0].in_workholding
    assert inside is not None
    assert stage.cuts[0].tip_z == pytest.approx(-25)
    assert stage.cuts[0].gouge is None


def test_an_overcut_comes_out_below_into_the_parallels() -> None:
    # a pocket right through, over both parallels: all of it is cut, and what the tool does below shows
    part = cut(block(), box((-10, -38, -31), (10, 38, 1)))
    work = step("bottom_and_side_finish_milling", tool("endmill", 8), {"class": "closed_pocket"}, overcut_length=1)
    (stage,) = stages_of(part, plan(raw_box((-50, -40, -30), (50, 40, 0)), setup([work], workholding=VISE)))
    assert taken(stage) == pytest.approx((20 * 76 - (4 - PI) * 16) * 30, rel=REL)
    inside = stage.cuts[0].in_workholding
    assert inside is not None
    # two parallels 6 wide from the jaws inwards (|y| from 34 to 40), the pocket ends at 38: 4 of each, 1 deep
    corner = (4 - PI) * 16
    assert volume(inside.wrapped) == pytest.approx(2 * 20 * 4 - corner, rel=REL)


def test_metal_under_a_clamp_stays() -> None:
    clamp = {"type": "clamp", "box": {"min": [-50, -10, 2], "max": [-30, 10, 12]}}
    plate = {"type": "plate", "box": {"min": [-100, -100, -50], "max": [100, 100, -30]}}
    held = {"type": "fixture_plate", "elements": [plate, clamp]}
    (stage,) = stages_of(block(), plan(raw_box((-50, -40, -30), (50, 40, 2)), setup([FACE], workholding=held)))
    # a facemill runs round the clamp: an obstacle that bulges everywhere keeps only its own foot
    assert taken(stage) == pytest.approx((100 * 80 - 20 * 20) * 2, rel=REL)
    assert stage.released is False


def test_the_part_cut_free_is_released() -> None:
    raw = raw_box((-60, -50, -30), (60, 50, 0))
    clamp = {"type": "clamp", "box": {"min": [-60, -10, 0], "max": [-56, 10, 12]}}
    plate = {"type": "plate", "box": {"min": [-100, -100, -50], "max": [100, 100, -31]}}
    held = {"type": "fixture_plate", "elements": [plate, clamp]}
    (stage,) = stages_of(block(), plan(raw, setup([profile(bottom_z=-30.5)], workholding=held)))
    assert stage.released
    assert to_be(stage) == pytest.approx(volume(block()), rel=REL)


def test_the_part_cut_free_of_a_frame_that_stays_in_the_jaws_is_released() -> None:
    # a ring of 76 x 2 right through: most of the part is its core, and the jaws hold what is round it
    ring = cut(cylinder((0, 0, -28), (0, 0, 1), 78), cylinder((0, 0, -28), (0, 0, 1), 74))
    work = step("bottom_and_side_finish_milling", tool("endmill", 2), {"class": "slot"}, bottom_z=-30.5)
    raw = raw_box((-50, -40, -30), (50, 40, 0))
    (stage,) = stages_of(cut(block(), ring), plan(raw, setup([work], workholding=VISE | {"parallel_height": 30})))
    assert stage.released
    assert stage.loose == ()
    assert to_be(stage) == pytest.approx(100 * 80 * 30 - PI * 76 * 2 * 30, rel=REL)


def test_two_halves_are_both_kept_while_both_are_held() -> None:
    # a slot right through the part's full height parts the stock; both halves reach both jaws (jaws along Y)
    part = cut(block(), box((-3, -50, -28), (3, 50, 1)))
    work = step("bottom_and_side_finish_milling", tool("endmill", 6), {"class": "slot"}, bottom_z=-30.5)
    raw = raw_box((-50, -40, -30), (50, 40, 0))
    (stage,) = stages_of(part, plan(raw, setup([work], workholding=VISE | {"parallel_height": 30})))
    assert taken(stage) == pytest.approx(6 * 80 * 30, rel=REL)
    assert stage.loose == ()
    assert stage.cuts[0].gouge is not None
    assert volume(stage.cuts[0].gouge.wrapped) == pytest.approx(6 * 80 * 2, rel=REL)


def test_of_two_halves_the_one_out_of_the_jaws_is_loose() -> None:
    # jaws 60 wide, offset to one side, hold only the larger half
    part = cut(block(), box((17, -50, -28), (23, 50, 1)))
    work = step("bottom_and_side_finish_milling", tool("endmill", 6), {"class": "slot"}, bottom_z=-30.5)
    raw = raw_box((-50, -40, -30), (50, 40, 0))
    narrow = VISE | {"jaw_width": 60, "jaw_offset": -20}
    (stage,) = stages_of(part, plan(raw, setup([work], workholding=narrow)))
    assert [volume(p.wrapped) for p in stage.loose] == pytest.approx([27 * 80 * 30], rel=REL)
    assert to_be(stage) == pytest.approx(67 * 80 * 30, rel=REL)
    assert abs(stage.balance.error) < 1e-3


def test_the_vise_stands_where_the_plan_says() -> None:
    (stage,) = stages_of(block(), plan(raw_box((-53, -43, -36), (53, 43, 4)), setup([FACE], workholding=VISE)))
    jaws = stage.holding.jaws
    assert jaws is not None
    # support = the stock's lowest height; bed 35 below it; jaws 45 above the bed (contract, section 1)
    assert (jaws.support_z, jaws.bed_z, jaws.top_z, jaws.grip) == pytest.approx((-36, -71, -26, 10))
    assert (jaws.low, jaws.high, jaws.opening) == pytest.approx((-43, 43, 86))


def test_jaws_meet_the_stock_below_a_carrier_that_overhangs() -> None:
    raw = {"step": "BLANK"}
    blank = fuse(box((-50, -40, -30), (50, 40, -10)), box((-55, -48, -10), (55, 48, 2)))
    document = plan(raw, setup([FACE], workholding=VISE))
    (stage,) = stages_of(block(), document, {"BLANK": step_bytes(blank)})
    assert stage.holding.jaws is not None
    assert (stage.holding.jaws.low, stage.holding.jaws.high) == pytest.approx((-40, 40))


def test_soft_jaws_grip_as_deep_as_their_nest() -> None:
    soft = {"type": "vise", "jaw_axis": "X", "jaw_width": 100, "jaw_height": 40, "jaws": "soft", "nest_depth": 6}
    (stage,) = stages_of(block(), plan(raw_box((-50, -40, -30), (50, 40, 2)), setup([FACE], workholding=soft)))
    assert stage.holding.jaws is not None
    assert stage.holding.jaws.grip == pytest.approx(6)
    assert stage.holding.jaws.top_z == pytest.approx(-24)


@pytest.mark.parametrize("over", [0.0, 1e-7, -1e-7], ids=["flush", "a hair above", "a hair below"])
def test_jaws_as_high_as_an_overhang_pass_under_it(over: float) -> None:
    # grip 45 - 35 = 10 above z = -30: the overhang begins where the jaws end, but for rounding
    blank = fuse(box((-50, -40, -30), (50, 40, -20 + over)), box((-55, -48, -20 + over), (55, 48, 2)))
    document = plan({"step": "BLANK"}, setup([FACE], workholding=VISE))
    (stage,) = stages_of(block(), document, {"BLANK": step_bytes(blank)})
    assert stage.holding.jaws is not None
    assert (stage.holding.jaws.low, stage.holding.jaws.high) == pytest.approx((-40, 40))


@pytest.mark.parametrize("grip", [4.0, 10.0, 16.0])
def test_jaws_meet_slanted_and_round_sides_where_their_top_ends(grip: float) -> None:
    # sides that lean out by 1 in 4 from y = -40 at z = -30; on the other side a post of ø20 stands out 5 at any height
    floor, wall = -30.0, 40.0
    profile = [(-40.0, floor), (wall, floor), (wall, 2.0), (-48.0, 2.0)]
    place = Frame(location=(-50, 0, 0), axis=(1, 0, 0), ref_direction=(0, 1, 0))
    leaning = prism(polygon(profile), place, 0, 100)
    blank = boolean.fuse([leaning, primitives.cylinder((0, 35, floor), (0, 35, 2), 20)])
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 150, "jaw_height": 40 + grip, "parallel_height": 40}
    holding = place_holding(Vise.model_validate(vise), Frame(), blank, {})
    assert holding.jaws is not None
    assert holding.jaws.low == pytest.approx(-40 - (grip - LENGTH) / 4, abs=1e-6)
    assert holding.jaws.high == pytest.approx(45, abs=1e-9)
