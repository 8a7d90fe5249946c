"""Chamfering cutters beside walls, floors and jaws: what their bodies meet is told, what has room passes.

A ledge 6 wide beside a wall 10 high, its outer edge broken by 1 x 45 degrees. The flank lies on the chamfer whatever
the tip's depth, so the cutter of radius R reaches R - d past the ledge's edge when its tip runs d below the chamfer:
closed forms by hand from that.
"""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from examples.shapes import Shape, box, chamfer_ring, common, cone, cut, cylinder, fuse, polygon, prism, rounded_block
from schemas.report import Report
from tests.support.trial import Json, plan, setup, step, step_bytes, tool
from worker.pipeline import check_plan

LEDGE, WALL = 6.0, 10.0
TOP = -10.0
HOLDER = [{"diameter": 30, "length": 40}]


def vise(jaws: float) -> Json:
    """Jaws along the long sides that end at a height of the setup."""
    return {
        "type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": jaws + 75, "jaw_thickness": 20,
        "parallel_height": 35, "parallel_thickness": 5, "max_opening": 100, "clamping_force": 15000,
        "jaw_surface": "smooth",
    }  # fmt: skip


def ledge(broken: bool = True) -> Shape:
    """80 x 60 x 40 with the ledge along X; its outer edge broken or not."""
    block = cut(box((-40, -30, -40), (40, 30, 0)), box((-41, -31, TOP), (41, -30 + LEDGE, 1)))
    corner = prism(polygon([(-41, -31, TOP), (-41, -29, TOP), (-41, -31, TOP - 2)]), (82, 0, 0))
    return cut(block, corner) if broken else block


def mill(**sizes: Any) -> Json:
    return {**tool("chamfer_mill", **{"DC": 16, "SIG": 90, "LU": 30, **sizes}), "stickout": 60, "holder": HOLDER}


def checked(
    cutter: Json, jaws: float = -25.0, part: Shape | None = None, raw: Shape | None = None, **keys: Any
) -> Report:
    works = [step("chamfering", cutter, {"class": "chamfer"}, **keys)]
    document = plan({"step": "RAW"}, setup(works, workholding=vise(jaws)))
    files = {"RAW": step_bytes(raw or ledge(broken=False))}
    return check_plan(step_bytes(part or ledge()), json.dumps(document).encode(), files).report


def told(report: Report) -> dict[str, Any]:
    return {f.code: f for f in report.findings if f.level != "note"}


@pytest.mark.parametrize(
    ("cutter", "keys"),
    [({}, {}), ({"DC": 10}, {"bottom_z": TOP - 1}), ({}, {"bottom_z": TOP - 3}), ({"DMM": 20, "LU": 13.1}, {})],
    ids=["its own depth", "slim", "deep enough", "thick shank above the wall"],
)
def test_a_cutter_with_room_passes(cutter: Json, keys: Json) -> None:
    report = checked(mill(**cutter), **keys)
    assert told(report) == {}
    assert report.setups[0].workingsteps[0].removal == pytest.approx(80 / 2, rel=1e-6)


def test_a_stated_depth_from_which_the_cutter_meets_the_wall_is_a_gouge() -> None:
    """The flank goes past the wall's plane 6 above the tip, at the full radius of 8 it is 2 deep: a triangle of
    2 x 2 / 2 and a strip 2 wide above it, all along the wall."""
    found = told(checked(mill(), bottom_z=TOP - 1))
    assert set(found) == {"cut.gouge"}
    high = WALL - 7  # of the wall above the height at which the cutter has its full radius
    assert found["cut.gouge"].measured == pytest.approx(80 * (2 + 2 * high), rel=2e-3)


def test_a_stated_depth_that_leaves_some_of_the_chamfer_leaves_its_metal() -> None:
    """From half its height up: of the triangle of 1 x 1 / 2 a quarter stays below the tip."""
    report = checked(mill(DC=8), bottom_z=TOP - 0.5)
    assert set(told(report)) == {"left.stock"}
    assert report.setups[0].workingsteps[0].removal == pytest.approx(80 * 0.5 * 0.75, rel=1e-6)


def test_a_flank_that_ends_below_the_chamfer_s_upper_edge_leaves_what_stands_over_it() -> None:
    report = checked(mill(), bottom_z=TOP - 8.5)  # the flank is 8 high
    assert set(told(report)) == {"left.stock"}
    assert report.setups[0].workingsteps[0].removal == pytest.approx(80 * 0.5 * 0.75, rel=1e-6)


def test_jaws_that_keep_the_tip_up_bring_the_cutter_into_the_wall() -> None:
    """Jaws 2 below the ledge: the tip runs 1 below the chamfer at most, and 7 is the largest radius beside the wall."""
    found = told(checked(mill(), jaws=TOP - 2))
    assert set(found) == {"reach.shank"}
    finding = found["reach.shank"]
    assert "16 mm" in finding.message and "the part" in finding.message
    assert finding.remedy is not None and finding.remedy.value == pytest.approx(14.0, abs=0.02)
    assert told(checked(mill(DC=finding.remedy.value), jaws=TOP - 2)) == {}


def test_stock_that_is_still_to_go_is_cut_by_the_flank_but_rubs_on_the_body_above_it() -> None:
    """The ledge goes on past the middle as a groove that a later setup cuts: its stock stands as high as the wall."""
    part = cut(ledge(), box((20, -31, TOP - 4), (41, -20, 1)))
    raw = cut(box((-40, -30, -40), (40, 30, 0)), box((-41, -31, TOP), (20, -30 + LEDGE, 1)))
    found = told(checked(mill(DC=8), part=part, raw=raw))
    assert found["reach.shank"].message.startswith("T1, ø 8 mm") and "the stock" in found["reach.shank"].message
    low = cut(raw, box((19, -31, TOP + 2), (41, 31, 1)))  # the same, no higher than the flank of 4
    assert "reach.shank" not in told(checked(mill(DC=8), part=cut(part, box((19, -31, TOP + 2), (41, 31, 1))), raw=low))


def test_a_shank_thicker_than_the_cutter_meets_the_wall() -> None:
    """Its axis runs 2 outside the ledge's edge, 8 from the wall: a shank of 20 must begin above the wall's top."""
    found = told(checked(mill(LU=9, DMM=20)))
    assert set(found) == {"reach.shank"}
    value = found["reach.shank"].remedy.value
    assert value == pytest.approx(WALL + 3, abs=0.02)
    assert told(checked(mill(LU=value, DMM=20))) == {}


def test_a_holder_is_measured_from_where_the_axis_runs() -> None:
    """The tip runs 3 below the ledge, the wall's top 13 above it: the holder of 30 has to stand that high."""
    report = checked({**mill(LU=10), "stickout": 12})
    assert set(told(report)) == {"reach.stickout"}
    assert report.setups[0].workingsteps[0].least_stickout == pytest.approx(WALL + 3, abs=0.02)


def test_a_holder_beside_a_round_crest_is_measured_on_its_slope() -> None:
    """Beside the ledge a round ridge of radius 24, its axis 30 in from the ledge's edge and 24 below its crest at 0.

    The cutter's tip runs right below the chamfer's lower edge, its holder of 30 goes 15 past it: 15 before the crest.
    """
    ridge = common(cylinder((-41, 0, -24), (41, 0, -24), 48), box((-40, -30, -24), (40, 30, 1)))
    whole = fuse(box((-40, -30, -40), (40, 30, TOP)), ridge)
    corner = prism(polygon([(-41, -31, TOP), (-41, -29, TOP), (-41, -31, TOP - 2)]), (82, 0, 0))
    report = checked({**mill(DC=8, LU=5, APMX=5), "stickout": 30}, part=cut(whole, corner), raw=whole)
    assert told(report) == {}
    rise = -24 + math.sqrt(24**2 - 15**2) - (TOP - 1)
    assert report.setups[0].workingsteps[0].least_stickout == pytest.approx(rise, abs=0.02)


def _mouth(hole: Shape, sunk: Shape, cutter: Json) -> set[str]:
    """Errors of a step that breaks the edge of a hole in a plate of 60 x 60 x 20."""
    plate = cut(box((-30, -30, -20), (30, 30, 0)), hole)
    works = [step("chamfering", cutter, {"class": "chamfer"})]
    document = plan({"step": "RAW"}, setup(works, location=[-30, -30, 0]))
    report = check_plan(step_bytes(cut(plate, sunk)), json.dumps(document).encode(), {"RAW": step_bytes(plate)}).report
    return {f.code for f in report.findings if f.level == "error"} - {"hold.support"}


@pytest.mark.parametrize(("blunt", "code"), [(0.0, set()), (4.0, set()), (6.0, {"reach.shank"})])
def test_a_point_wider_than_the_hole_does_not_break_its_edge(blunt: float, code: set[str]) -> None:
    hole, sunk = cylinder((0, 0, -21), (0, 0, 1), 5), cone((0, 0, -0.5), (0, 0, 0.5), 5, 7)
    assert _mouth(hole, sunk, mill(DC=12, tip_diameter=blunt)) == code


@pytest.mark.parametrize("blunt", [0.0, 4.0, 14.0], ids=["a point", "blunt", "blunter than the corners"])
def test_inner_corners_do_not_bar_a_flank_that_passes_them(blunt: float) -> None:
    """A pocket of 30 x 20 with corners of 5, its mouth broken by 1 x 45 degrees."""
    pocket = rounded_block((-15, -10, -8), (15, 10, 1), 5)
    sunk = chamfer_ring(rounded_block((-16, -11, -1), (16, 11, 1), 6), -1, 1)
    assert _mouth(pocket, sunk, mill(DC=18, tip_diameter=blunt)) == set()


def test_chamfers_at_several_heights_are_each_followed_from_their_own() -> None:
    """A lower, wider ledge behind the wall: the axis along the upper chamfer runs over its lower edge, 11 below the
    wall's top and 6 from it, whatever lies lower. A shank of 20 from 9 up goes 2 deep; the holder has to stay 11 up."""
    lower = box((-41, 14, -22), (41, 31, 1))
    corner = prism(polygon([(-41, 31, -22), (-41, 29, -22), (-41, 31, -24)]), (82, 0, 0))
    part, raw = cut(ledge(), lower, corner), cut(ledge(broken=False), lower)
    report = checked(mill(DC=10, LU=9, DMM=20), jaws=-30.0, part=part, raw=raw)
    assert set(told(report)) == {"reach.shank"}
    assert told(report)["reach.shank"].measured == pytest.approx(1 - TOP - 9, abs=0.02)
    assert report.setups[0].workingsteps[0].least_stickout == pytest.approx(1 - TOP, abs=0.02)


def two_ledges() -> tuple[Shape, Shape]:
    """80 x 60 x 40: a ledge 4 wide, 30 deep on the left, and one 3 wide, 10 deep on the right; the outer edges of both
    broken by 1 x 45 degrees, and before that."""
    block = cut(box((-40, -30, -40), (40, 30, 0)), box((-41, -31, -30), (-36, 31, 1)), box((37, -31, -10), (41, 31, 1)))
    left = prism(polygon([(-41, -31, -30), (-39, -31, -30), (-41, -31, -32)]), (0, 62, 0))
    right = prism(polygon([(41, -31, -10), (39, -31, -10), (41, -31, -12)]), (0, 62, 0))
    return cut(block, left, right), block


def test_the_largest_shank_is_that_of_the_chamfer_where_it_rubs() -> None:
    """The tip of 2 runs at each chamfer's foot, its axis 1 outside: 5 from the left wall, which is 31 high above the
    tip, and 4 from the right one, 11 high. A shank from 20 on meets the left one alone, and 10 is the widest there."""
    part, raw = two_ledges()
    cutter = mill(DC=6, tip_diameter=2, LU=20, DMM=12)
    del cutter["holder"]
    report = checked(cutter, jaws=-35.0, part=part, raw=raw)
    (shank,) = [f for f in report.findings if f.code == "reach.shank"]
    assert shank.measured == pytest.approx(31.0 - 20.0, abs=0.02)
    assert shank.remedy is not None and "a shank of at most ø 10 mm" in shank.remedy.text
    assert "reach.shank" not in told(checked(cutter | {"DMM": 10}, jaws=-35.0, part=part, raw=raw))


def _meeting(h: float) -> Shape:
    """A block with chamfers of h along three edges that meet, and a facet between them: from the corner inwards it goes
    through (0, h, h), (h, 0, h) and (h, h, 0)."""
    upright = prism(polygon([(40, -30, -41), (40 - h, -30, -41), (40, -30 + h, -41)]), (0, 0, 42))
    right = prism(polygon([(40, -31, 0), (40 - h, -31, 0), (40, -31, -h)]), (0, 62, 0))
    front = prism(polygon([(-41, -30, 0), (-41, -30 + h, 0), (-41, -30, -h)]), (82, 0, 0))
    facet = prism(polygon([(40 + h, -30, 0), (40, -30 - h, 0), (40, -30, h)]), (-h, h, -h))
    return cut(box((-40, -30, -40), (40, 30, 0)), upright, right, front, facet)


def test_a_facet_where_three_chamfers_meet_bars_none_of_them() -> None:
    """It ends along lines that lie on the flank, so the cutter touches it all the way up and enters it nowhere: it is
    steeper than the flank. A ball takes it afterwards as well as before."""
    h = 0.5
    along = [{"class": "chamfer", "at": [40 - h / 2, 0, -h / 2]}, {"class": "chamfer", "at": [0, -30 + h / 2, -h / 2]}]
    ball = {**tool("ballnose_endmill", 4, LU=20), "holder": HOLDER, "APMX": 10}
    facet = {"class": "chamfer", "at": [40 - 2 * h / 3, -30 + 2 * h / 3, -2 * h / 3]}
    works = [step("chamfering", mill(DC=8, tip_diameter=1), *along), step("freeform_operation", ball, facet)]
    document = plan({"step": "RAW"}, setup(works, workholding=vise(-25.0)))
    raw = step_bytes(box((-40, -30, -40), (40, 30, 0)))
    report = check_plan(step_bytes(_meeting(h)), json.dumps(document).encode(), {"RAW": raw}).report
    assert set(told(report)) == {"left.feature", "left.stock"}
    assert {id.split("-")[0] for f in told(report).values() for id in f.features} == {"chamfer"}  # the upright one


def test_a_chamfer_as_high_as_the_edge_is_cut_and_a_higher_one_rubs() -> None:
    """The chamfer is 1 high, from the tip on; ISO 13399: APMX is how much of the flank, along the axis, is ground."""
    assert told(checked(mill(DC=8, APMX=1))) == {}
    found = told(checked(mill(DC=8, APMX=0.8)))
    assert set(found) == {"reach.shank"} and found["reach.shank"].measured == pytest.approx(1, abs=0.01)
    assert told(checked(mill(DC=8, APMX=found["reach.shank"].remedy.value))) == {}
    deep = told(checked(mill(DC=8, APMX=2.9), bottom_z=TOP - 3))
    assert set(deep) == {"reach.shank"} and deep["reach.shank"].measured == pytest.approx(3, abs=1e-6)
