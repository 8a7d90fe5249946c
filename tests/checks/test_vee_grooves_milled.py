"""Plans that mill a 90 degree V-groove, 5 deep, right through a block: the sound one passes, one change is told."""

from __future__ import annotations

import functools
import json
import math
import re
from typing import Any

import pytest

from schemas.base import Frame
from schemas.problem import Problem
from schemas.report import Report
from tests.recognise.parts import prism
from tests.support.block import _step, as_step, one_setup, solid_block
from tests.support.kept import kept
from worker.kernel.boolean import cut
from worker.kernel.planar import polygon
from worker.kernel.primitives import box, cone
from worker.kernel.sweep import prism as swept
from worker.pipeline import check_plan

Json = dict[str, Any]
CUTTER: Json = {
    "id": "V", "type": "chamfer_mill", "DC": 12, "SIG": 90, "LU": 10, "stickout": 30,
    "holder": [{"diameter": 30, "length": 40}],
}  # fmt: skip


@functools.cache
def part() -> bytes:
    return as_step(cut(solid_block(), [prism([(20, 15), (14, 21), (26, 21)], -1, 61)]))


@functools.cache
def beside_a_wall() -> bytes:
    """The same 9 mm below the top, 8 mm beside a wall."""
    ledge = box((-1, 12, 15), (61, 41, 41))
    return as_step(cut(solid_block(), [ledge, prism([(20, 10), (14, 16), (26, 16)], -1, 61)]))


def checked(body: bytes, changes: Json, before: tuple[Json, ...] = (), **keys: Any) -> Report:
    tool = {name: value for name, value in {**CUTTER, **changes}.items() if value is not None}
    steps = [
        *before,
        _step("20", keys.pop("operation", "bottom_and_side_finish_milling"), "V", [{"class": "slot"}], **keys),
    ]
    return check_plan(body, json.dumps(one_setup(steps, tool)).encode(), {}, kept=kept()).report


def told(report: Report) -> set[str]:
    return {f.code for f in report.findings if f.level != "note"}


@pytest.mark.parametrize(
    "operation", ["bottom_and_side_rough_milling", "bottom_and_side_finish_milling", "freeform_operation"]
)
def test_the_sound_plan_passes(operation: str) -> None:
    found = checked(part(), {}, operation=operation)
    assert (found.verdict, told(found)) == ("pass", set())


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        ({"SIG": 100}, {"fit.too-narrow", "left.stock"}),
        ({"SIG": 60}, {"left.stock"}),
        ({"tip_diameter": 1}, {"fit.too-narrow", "left.stock"}),
        ({"DC": 8}, {"reach.shank"}),  # its cone is 4 mm high
        ({"LU": 4}, {"reach.shank", "reach.length"}),
        ({"stickout": 4, "LU": 4, "DMM": 4}, {"reach.stickout", "reach.length"}),
        ({"DMM": 24, "LU": 4.9}, {"reach.shank", "reach.length"}),
    ],
)
def test_one_change_of_the_cutter_is_told(changes: Json, codes: set[str]) -> None:
    assert told(checked(part(), changes)) == codes


def test_passes_no_deeper_than_the_cone_is_high_are_sound() -> None:
    assert told(checked(part(), {"DC": 8}, technology={"axial_cutting_depth": 4.0})) == set()
    assert told(checked(part(), {"DC": 8}, technology={"axial_cutting_depth": 4.5})) == {"reach.shank"}


@pytest.mark.parametrize(("depth", "codes"), [(5.0, set()), (5.2, {"cut.gouge"}), (4.8, {"depth.short", "left.stock"})])
def test_a_stated_depth_is_judged(depth: float, codes: set[str]) -> None:
    assert told(checked(part(), {}, bottom_z=-depth)) == codes


@pytest.mark.parametrize(("high", "codes"), [(14.0, set()), (17.0, {"left.stock"})])
def test_jaws_higher_than_the_groove_is_deep_keep_the_cutter_off(high: float, codes: set[str]) -> None:
    """The groove runs out over both jaws; the stock, 20 high, stands on its parallels: the groove's bottom is 15 up."""
    steps = [_step("20", "bottom_and_side_finish_milling", "V", [{"class": "slot"}])]
    plan = one_setup(steps, CUTTER)
    plan["setups"][0]["workholding"] |= {"jaw_axis": "X", "jaw_height": 30 + high}
    assert told(check_plan(part(), json.dumps(plan).encode(), {}, kept=kept()).report) == codes


def test_a_weak_vise_is_told_to_slip_under_the_force_aside() -> None:
    technology = {"feed_per_tooth": 0.1, "spindle_speed": 5000, "axial_cutting_depth": 5, "radial_cutting_depth": 10}
    steps = [_step("20", "bottom_and_side_finish_milling", "V", [{"class": "slot"}], technology=technology)]
    plan = one_setup(steps, CUTTER)
    plan["setups"][0]["workholding"] |= {"clamping_force": 200}
    assert told(check_plan(part(), json.dumps(plan).encode(), {}, kept=kept()).report) == {"hold.slip"}


def test_the_remedies_are_what_mends_it() -> None:
    wide = next(f for f in checked(part(), {"SIG": 100}).findings if f.code == "fit.too-narrow")
    assert wide.remedy is not None and wide.remedy.value == pytest.approx(90.0, abs=1e-3)
    low = next(f for f in checked(part(), {"DC": 8}).findings if f.code == "reach.shank")
    assert low.remedy is not None and low.remedy.value == 4.0


@pytest.mark.parametrize(("stickout", "meets"), [(9.9, True), (10.1, False)])
def test_the_holder_stands_clear_of_a_wall_beside_the_groove(stickout: float, meets: bool) -> None:
    """The wall stands 8 mm from the groove's middle and 10 mm over its bottom: under the holder, 15 mm either way."""
    steps = [
        _step("10", "plane_finish_milling", "EM12", [{"class": "step"}]),
        _step("20", "bottom_and_side_finish_milling", "V", [{"class": "slot"}]),
    ]
    plan = json.dumps(one_setup(steps, {**CUTTER, "LU": 8, "stickout": stickout})).encode()
    found = told(check_plan(beside_a_wall(), plan, {}, kept=kept()).report)
    assert ("reach.stickout" in found) is meets


@functools.cache
def leaning(rise: float, left: float) -> bytes:
    """A groove from 5 mm up at x = 0 whose bottom rises by so much a millimetre; ``left``: its one flank's lean."""
    long = math.hypot(1.0, rise)
    frame = Frame(location=(0, 20, 15), axis=(1 / long, 0, rise / long), ref_direction=(0, 1, 0))
    outline = [(0.0, 0.0), (8.0, 8.0), (-8.0 * left, 8.0)]  # x across; y up and back where it rises
    return as_step(cut(solid_block(), [swept(polygon(outline), frame, -5.0, 70.0)]))


@pytest.mark.parametrize(("rise", "left"), [(0.05, 1.0), (0.0, 0.0)])
def test_flanks_that_this_setup_sees_askew_are_told_with_the_axis_that_a_cutter_fits_from(
    rise: float, left: float
) -> None:
    """Half way between both flanks: across the line in which they meet, and 22.5 degrees aside of an upright one."""
    found = checked(leaning(rise, left), {})
    assert {"cut.nothing", "left.stock"} <= told(found)
    why = next(f for f in found.findings if f.code == "cut.nothing")
    lean = 0.0 if left else math.radians(22.5)
    axis = (-rise / math.hypot(1, rise), math.sin(lean), math.cos(lean) / math.hypot(1, rise))
    told_axis = re.search(r"\[.*\]", why.remedy.text if why.remedy else "")
    assert told_axis and json.loads(told_axis.group()) == pytest.approx(axis, abs=1e-5)
    assert "no two flanks along a level line" in why.message


@functools.cache
def ring() -> bytes:
    """Round (30, 26), 3 deep in a ledge 15 high, its bottom line of radius 6; a wall 20 high begins 8 mm beside it."""
    groove = cut(cone((30, 26, 12), (30, 26, 15), 12, 18), [cone((30, 26, 12), (30, 26, 15), 12, 6)])
    return as_step(cut(solid_block(), [box((-1, 12, 15), (61, 41, 41)), groove]))


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        ({"LU": 7, "stickout": 8.1}, set()),
        ({"LU": 7, "stickout": 7.9}, {"reach.stickout"}),  # the holder, 15 mm either way, over the wall
        ({"DC": 5}, {"reach.shank"}),  # its cone is 2.5 mm high
        ({"SIG": 100}, {"fit.too-narrow", "left.stock"}),
    ],
)
def test_a_ring_is_judged_all_the_way_round(changes: Json, codes: set[str]) -> None:
    steps = [
        _step("10", "plane_finish_milling", "EM12", [{"class": "step"}]),
        _step("20", "bottom_and_side_finish_milling", "V", [{"class": "slot"}]),
    ]
    tool = {**CUTTER, **changes}
    found = check_plan(ring(), json.dumps(one_setup(steps, tool)).encode(), {}, kept=kept()).report
    assert told(found) == codes


@pytest.mark.parametrize("features", [[{"class": "planar_face", "normal": [0, 0, 1]}], [{"class": "profile_feature"}]])
def test_a_pointed_cutter_makes_no_plane_and_no_contour(features: list[Json]) -> None:
    steps = [_step("20", "bottom_and_side_finish_milling", "V", features)]
    with pytest.raises(Problem, match="with a chamfer_mill does not make"):
        check_plan(part(), json.dumps(one_setup(steps, CUTTER)).encode(), {})


def test_a_rounding_cutter_makes_no_groove() -> None:
    with pytest.raises(Problem, match="does not make"):
        checked(part(), {"RE": 1})


def test_chamfering_a_groove_is_refused_with_the_operation_that_makes_it() -> None:
    with pytest.raises(Problem) as refused:
        checked(part(), {}, operation="chamfering")
    assert refused.value.remedy is not None and "bottom_and_side_finish_milling" in refused.value.remedy
    found = checked(part(), {}, operation="bottom_and_side_finish_milling")
    assert found.verdict == "pass"
