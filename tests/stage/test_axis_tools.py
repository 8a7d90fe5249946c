"""Tools on a hole's axis, chamfers and edge rounds: depths, gouges and what is left, against closed forms."""

from __future__ import annotations

import math
from typing import Any

import pytest

from examples.shapes import Shape, box, cone, cut, cylinder, drill, polygon, prism, volume
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, removals, setup, stages_of, step, taken, to_be, tool
from worker.kernel import measure
from worker.stage.model import Stage

REL = 1e-6
PI = math.pi
RAW = raw_box((-50, -40, -30), (50, 40, 0))
HOLE = {"class": "round_hole"}


def block() -> Shape:
    return box((-50, -40, -30), (50, 40, 0))


def one(part: Shape, *works: dict[str, Any], raw: dict[str, Any] = RAW, **keys: Any) -> Stage:
    (stage,) = stages_of(part, plan(raw, setup(list(works), **keys)))
    return stage


def point(diameter: float, angle: float) -> float:
    """PL = DC/2 / tan(SIG/2) (ISO 13399)."""
    return diameter / 2 / math.tan(math.radians(angle / 2))


def blind(depth: float = 20, diameter: float = 10, angle: float = 118) -> Shape:
    return cut(block(), drill((0, 0, 0), (0, 0, -depth), diameter, angle))


def test_a_drill_s_full_diameter_reaches_the_modelled_depth() -> None:
    stage = one(blind(), step("drilling", tool("twist_drill", 10, SIG=118), HOLE))
    (plunge,) = stage.cuts[0].plunges
    assert plunge.full_diameter_z == pytest.approx(-20)
    assert plunge.tip_z == pytest.approx(-20 - point(10, 118))
    assert stage.cuts[0].gouge is None
    assert taken(stage) == pytest.approx(PI * 25 * (20 + point(10, 118) / 3), rel=REL)


@pytest.mark.parametrize("keys", [{"bottom_z": -23 - 10 / 2 / math.tan(math.radians(59))}, {"cutting_depth": 23}])
def test_too_deep_into_a_blind_hole_is_a_gouge(keys: dict[str, float]) -> None:
    """The same point, 3 mm lower: a cylinder of that height more, wherever in the hole one counts it."""
    stage = one(blind(), step("drilling", tool("twist_drill", 10, SIG=118), HOLE, **keys))
    assert stage.cuts[0].gouge is not None
    assert measure.volume(stage.cuts[0].gouge) == pytest.approx(PI * 25 * 3, rel=1e-3)


def test_another_point_angle_is_no_gouge_but_another_bottom() -> None:
    stage = one(blind(angle=140), step("drilling", tool("twist_drill", 10, SIG=118), HOLE))
    assert stage.cuts[0].gouge is None
    assert taken(stage) == pytest.approx(PI * 25 * (20 + point(10, 118) / 3), rel=REL)


def test_a_flat_bottom_stops_the_point_on_the_floor() -> None:
    part = cut(block(), cylinder((0, 0, -20), (0, 0, 1), 10))
    stage = one(part, step("drilling", tool("twist_drill", 10, SIG=118), HOLE))
    assert stage.cuts[0].tip_z == pytest.approx(-20)
    assert taken(stage) == pytest.approx(PI * 25 * (20 - point(10, 118) * 2 / 3), rel=REL)


def test_a_drill_too_large_is_obeyed_and_cuts_into_the_part() -> None:
    stage = one(blind(), step("drilling", tool("twist_drill", 10.4, SIG=118), HOLE))
    gouge = stage.cuts[0].gouge
    assert gouge is not None
    # the ring along the wall, and below the full diameter what the cone cuts outside the hole's own diameter
    cone_ring = 2 * PI / math.tan(math.radians(59)) * (5.2 * (5.2**2 - 25) / 2 - (5.2**3 - 125) / 3)
    assert volume(gouge.wrapped) == pytest.approx(PI / 4 * (10.4**2 - 100) * 20 + cone_ring, rel=1e-5)


def test_too_deep_is_a_gouge_below_the_cone() -> None:
    stage = one(blind(), step("drilling", tool("twist_drill", 10, SIG=118), HOLE, bottom_z=-27))
    assert stage.cuts[0].tip_z == pytest.approx(-27)
    assert stage.cuts[0].full_diameter_z == pytest.approx(-27 + point(10, 118))


def test_cutting_depth_counts_from_the_entry_face() -> None:
    stage = one(blind(), step("drilling", tool("twist_drill", 10, SIG=118), HOLE, cutting_depth=12))
    assert stage.cuts[0].full_diameter_z == pytest.approx(-12)
    spot = one(blind(), step("center_drilling", tool("spotdrill", 12, SIG=90), HOLE, cutting_depth=3))
    assert spot.cuts[0].tip_z == pytest.approx(-3)
    assert taken(spot) == pytest.approx(PI * 27 / 3, rel=REL)


def test_a_spot_goes_as_deep_as_its_cone_meets_the_edge() -> None:
    # SP-1: (DH/2) / tan(SIG/2) = 5 for a hole of 10 and 90 degrees
    stage = one(blind(), step("center_drilling", tool("spotdrill", 16, SIG=90), HOLE))
    assert stage.cuts[0].tip_z == pytest.approx(-5)
    assert stage.cuts[0].gouge is None
    assert taken(stage) == pytest.approx(PI * 125 / 3, rel=REL)


def test_drill_bore_ream_take_what_is_left() -> None:
    part = cut(block(), cylinder((0, 0, -31), (0, 0, 1), 10))
    works = [
        step("drilling", tool("twist_drill", 9, SIG=118), HOLE, overcut_length=1),
        step("boring", tool("rotating_boring_cutting_tool", 9.8), HOLE, overcut_length=1),
        step("reaming", tool("reaming_cutting_tool", 10), HOLE, overcut_length=1),
    ]
    stage = one(part, *works)
    rings = [PI / 4 * d * d * 30 for d in (9, 9.8, 10)]
    assert removals(stage) == pytest.approx([rings[0], rings[1] - rings[0], rings[2] - rings[1]], rel=REL)
    assert to_be(stage) == pytest.approx(volume(part), rel=REL)


def test_a_tap_cuts_only_a_hole_modelled_at_its_major_diameter() -> None:
    at_minor = cut(block(), cylinder((0, 0, -31), (0, 0, 1), 6.8))
    at_major = cut(block(), cylinder((0, 0, -31), (0, 0, 1), 8))
    predrill = step("drilling", tool("twist_drill", 6.8, SIG=118), HOLE, overcut_length=1)
    tap = step("tapping", tool("tapping_cutting_tool", thread="M8"), HOLE, overcut_length=2)
    assert removals(one(at_minor, predrill, tap))[1] == pytest.approx(0, abs=1e-9)
    assert removals(one(at_major, predrill, tap))[1] == pytest.approx(PI / 4 * (64 - 6.8**2) * 30, rel=REL)


def test_a_tap_without_a_depth_says_so_in_a_blind_hole_alone() -> None:
    """A tap's chamfer cuts no full thread (DIN 2197): in a blind hole the thread ends before the hole does."""
    through = cut(block(), cylinder((0, 0, -31), (0, 0, 1), 6.8))
    tap = step("tapping", tool("tapping_cutting_tool", thread="M8"), HOLE)
    (note,) = one(blind(diameter=6.8), tap).cuts[0].notes
    assert "no depth of thread" in note
    assert one(blind(diameter=6.8), {**tap, "cutting_depth": 15}).cuts[0].notes == ()
    assert one(through, tap).cuts[0].notes == ()


def test_a_hole_across_the_axis_is_left_alone() -> None:
    part = cut(block(), cylinder((-60, 0, -15), (60, 0, -15), 8))
    stage = one(part, step("drilling", tool("twist_drill", 8, SIG=118), HOLE))
    assert taken(stage) == 0
    assert stage.cuts[0].notes


def test_a_blind_hole_of_the_other_side_is_left_alone() -> None:
    stage = one(blind(), step("drilling", tool("twist_drill", 10, SIG=118), HOLE), axis=(0, 0, -1))
    assert taken(stage) == 0


def test_back_boring_comes_from_below() -> None:
    part = cut(block(), cylinder((0, 0, -31), (0, 0, 1), 10), cylinder((0, 0, -31), (0, 0, -24), 18))
    works = [
        step("drilling", tool("twist_drill", 10, SIG=118), {"at": [0, 0, -10]}, overcut_length=8),
        step("back_boring", tool("rotating_boring_cutting_tool", 18), {"class": "round_hole", "diameter": 18}),
    ]
    stage = one(part, *works)
    assert removals(stage)[1] == pytest.approx(PI / 4 * (324 - 100) * 6, rel=REL)
    assert to_be(stage) == pytest.approx(volume(part), rel=REL)


def chamfered(leg_down: float, leg_in: float) -> Shape:
    """The edge y = 40 broken by a plane: ``leg_down`` along the side, ``leg_in`` along the top."""
    return cut(
        block(),
        prism(polygon([(-50, 40 - leg_in, 0), (-50, 41, 0), (-50, 41, -leg_down), (-50, 40, -leg_down)]), (100, 0, 0)),
    )


def chamfer(angle: float) -> dict[str, Any]:
    return step("chamfering", tool("chamfer_mill", 20, SIG=angle, tip_diameter=1), {"class": "chamfer"})


def test_a_flank_of_another_angle_touches_one_edge_only() -> None:
    # chamfer 45 degrees, legs 2: a steeper flank (30 degrees to the axis) stands on the lower edge and takes
    # h^2 tan(30) / 2 a mm of length; a flatter one (60) hangs on the upper edge and takes h^2 / tan(60) / 2
    part = chamfered(2, 2)
    assert taken(one(part, chamfer(90))) == pytest.approx(200, rel=REL)
    assert taken(one(part, chamfer(60))) == pytest.approx(100 * 4 * math.tan(PI / 6) / 2, rel=REL)
    assert taken(one(part, chamfer(120))) == pytest.approx(100 * 4 / math.tan(PI / 3) / 2, rel=REL)


def test_a_steeper_flank_in_a_round_rim_stands_on_its_lower_edge() -> None:
    # the mouth of a hole ø20 widened to ø26 over 3 mm; a 60 degree cone that touches the lower edge: frustum less bore
    part = cut(block(), cylinder((0, 0, -31), (0, 0, 1), 20), cone((0, 0, 0), (0, 0, -3), 26, 20))
    bore = step("bottom_and_side_finish_milling", tool("endmill", 12), {"class": "round_hole", "diameter": 20})
    stage = one(part, bore, chamfer(60))
    top = 10 + 3 * math.tan(PI / 6)
    frustum = PI * 3 / 3 * (100 + 10 * top + top * top)
    assert removals(stage)[1] == pytest.approx(frustum - PI * 100 * 3, rel=1e-5)


def test_edge_breaking_is_recorded_and_removes_nothing() -> None:
    work = step(
        "edge_breaking", tool("chamfer_mill", 10, SIG=90), {"class": "planar_face", "normal": [0, 0, 1]}, size=0.3
    )
    stage = one(block(), work)
    assert taken(stage) == 0
    assert stage.cuts[0].gouge is None


def test_a_stated_depth_counts_from_the_face_not_from_the_chamfer_on_the_hole_s_edge() -> None:
    """ISO 14649-11 cutting_depth: from the entry face to the end of the full diameter, of a spot to its tip."""
    mouth = cone((0, 0, -1.5), (0, 0, 0), 10, 13)
    part = cut(cut(block(), drill((0, 0, 0), (0, 0, -20), 10, 118)), mouth)
    stage = one(
        part,
        step("center_drilling", tool("spotdrill", 8, SIG=90, LU=20), HOLE, cutting_depth=3.0),
        step("drilling", tool("twist_drill", 10, SIG=118), HOLE, cutting_depth=12.0),
    )
    spot, drilled = stage.cuts
    assert spot.tip_z == pytest.approx(-3.0)
    assert drilled.full_diameter_z == pytest.approx(-12.0)


BAR = raw_box((-50, -40, -35), (50, 40, 0))
"""5 mm more below than the part has."""


def broken_at_both_ends() -> Shape:
    """ø10 through 30 mm, its edges 1.5 x 45 degrees above and below."""
    hole = cut(block(), cylinder((0, 0, 1), (0, 0, -31), 10))
    return cut(cut(hole, cone((0, 0, -1.5), (0, 0, 0), 10, 13)), cone((0, 0, -30), (0, 0, -28.5), 13, 10))


def test_overcut_counts_from_the_face_that_a_hole_comes_out_of_not_from_the_chamfer_on_its_edge() -> None:
    """ISO 14649-11 overcut_length goes on past the hole's end; both computations tell pi r2 h + the point's cone."""
    work = step("drilling", tool("twist_drill", 10, SIG=118), HOLE, overcut_length=2.0)
    stage = agreed(broken_at_both_ends(), plan(BAR, setup([work])))
    assert stage.cuts[0].full_diameter_z == pytest.approx(-32.0)
    assert taken(stage) == pytest.approx(PI * 25 * (32 + point(10, 118) / 3), rel=REL)


def test_a_bore_goes_through_to_the_face_where_the_far_edge_is_chamfered() -> None:
    """No ring is left to come free: pi r2 h down to the far face."""
    work = step("boring", tool("rotating_boring_cutting_tool", 10), HOLE)
    stage = agreed(broken_at_both_ends(), plan(RAW, setup([work])))
    assert taken(stage) == pytest.approx(PI * 25 * 30, rel=REL)
    assert stage.loose == ()


def test_a_cutter_mills_a_hole_through_to_the_face_where_the_far_edge_is_chamfered() -> None:
    """As the bore, 1 mm lower: pi r2 h."""
    work = step("bottom_and_side_rough_milling", tool("endmill", 6), HOLE, overcut_length=1.0)
    stage = agreed(broken_at_both_ends(), plan(BAR, setup([work])))
    assert taken(stage) == pytest.approx(PI * 25 * 31, rel=1e-5)


def test_a_stated_depth_counts_from_the_chamfered_face_on_the_other_side_too() -> None:
    """The same hole seen from below: ISO 14649-11 cutting_depth, from that setup's entry face."""
    work = step("drilling", tool("twist_drill", 10, SIG=118), HOLE, cutting_depth=12.0)
    stage = agreed(broken_at_both_ends(), plan(RAW, setup([work], axis=(0, 0, -1))))
    assert stage.cuts[0].full_diameter_z == pytest.approx(-12.0)
    assert taken(stage) == pytest.approx(PI * 25 * (12 + point(10, 118) / 3), rel=REL)
