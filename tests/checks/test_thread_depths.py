"""What a tap meets, whoever drilled the hole: M6 with a chamfer of 2 pitches of 1 mm, so a thread 12 deep wants a hole
of 14 (DIN 2197 form C, from memory); depths of the drilled hole are the plan's own numbers."""

from __future__ import annotations

import pytest

from tests.support.block import Json, as_step, blind, one_setup, solid_block, told
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.shape import Body

HOLE = [{"class": "round_hole"}]
DRILL: Json = {"id": "10", "operation": "drilling", "tool": "D5", "features": HOLE}
TAP: Json = {"id": "20", "operation": "tapping", "tool": "M6", "features": HOLE}
BLIND, THROUGH = blind(39, 32, 5, 14), solid.cylinder((39, 32, -1), (39, 32, 21), 5)


def _depth(plan: Json, hole: Body) -> list[float | None]:
    """The drilled depth that each depth.thread finding tells."""
    part = as_step(boolean.cut(solid_block(), [hole]))
    return [f.measured for f in told(plan, part) if f.code == "depth.thread"]


@pytest.mark.parametrize(("deep", "found"), [(12.0, []), (12.05, [14.0]), (20.0, [14.0])])
def test_a_hole_that_an_earlier_setup_drilled_counts(deep: float, found: list[float]) -> None:
    plan = one_setup([DRILL])
    plan["setups"].append({**plan["setups"][0], "id": "S2", "workingsteps": [{**TAP, "cutting_depth": deep}]})
    assert _depth(plan, BLIND) == pytest.approx(found)


def test_a_thin_pilot_is_no_room_for_the_tap() -> None:
    pilot = {"id": "P", "type": "twist_drill", "DC": 2, "SIG": 118, "LU": 40, "stickout": 50}
    first = {**DRILL, "id": "5", "tool": "P", "cutting_depth": 17}
    assert _depth(one_setup([first, DRILL, {**TAP, "cutting_depth": 13}], pilot), BLIND) == pytest.approx([14.0])


def test_a_through_hole_that_is_drilled_half_way_yet_stops_the_tap() -> None:
    half, late = {**DRILL, "cutting_depth": 9}, {**DRILL, "id": "30", "overcut_length": 1}
    assert _depth(one_setup([half, {**TAP, "cutting_depth": 16}, late]), THROUGH) == pytest.approx([9.0])
    assert _depth(one_setup([late, {**TAP, "cutting_depth": 20}]), THROUGH) == []


def test_a_milled_hole_is_as_deep_as_it_is_milled() -> None:
    mill = {"id": "EM4", "type": "endmill", "DC": 4, "APMX": 16, "stickout": 30}
    milled = {**DRILL, "operation": "bottom_and_side_finish_milling", "tool": "EM4", "bottom_z": -12}
    assert _depth(one_setup([milled, {**TAP, "cutting_depth": 11}], mill), BLIND) == pytest.approx([12.0])


def test_a_hole_as_deep_as_the_part_s_is_not_drilled_deeper() -> None:
    """The part's hole is 14 deep: drilled to 12 it may be drilled deeper, drilled to 14 that would be a gouge."""
    for drilled, alternative in ((12.0, True), (14.0, False)):
        plan = one_setup([{**DRILL, "cutting_depth": drilled}, {**TAP, "cutting_depth": drilled - 1}])
        (found,) = [f for f in told(plan, as_step(boolean.cut(solid_block(), [BLIND]))) if f.code == "depth.thread"]
        assert found.remedy and found.remedy.value == pytest.approx(drilled - 2)
        assert ("drill 1 mm deeper" in found.remedy.text) == alternative


def test_no_depth_below_nothing_is_advised() -> None:
    """A hole 1.5 deep has no room for a chamfer of 2."""
    part = as_step(boolean.cut(solid_block(), [blind(39, 32, 5, 1.5)]))
    (found,) = [f for f in told(one_setup([DRILL, {**TAP, "cutting_depth": 1}]), part) if f.code == "depth.thread"]
    assert found.remedy and found.remedy.value is None and "shorter chamfer" in found.remedy.text


def test_a_spot_a_third_of_the_hole_deep_is_no_hole_for_the_tap() -> None:
    """A point of 90 degrees 2.5 deep in a hole of 6: there is air on its axis at 2, and nothing is drilled."""
    spot = {**DRILL, "id": "5", "operation": "center_drilling", "tool": "SP", "cutting_depth": 2.5}
    plan = one_setup([spot, {**TAP, "cutting_depth": 3}, {**DRILL, "id": "30"}])
    found = told(plan, as_step(boolean.cut(solid_block(), [blind(39, 32, 5, 6)])))
    assert [(f.code, f.workingstep) for f in found if f.level == "error"] == [("order.sequence", "20")]
    assert found[0].remedy and "Move step 20 behind step 30" in found[0].remedy.text
