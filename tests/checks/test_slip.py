"""Friction against the estimated cutting force: 2 mu F >= S Fc, by hand."""

from __future__ import annotations

import json

import pytest

from examples.shapes import box
from schemas.finding import Finding
from tests.support.block import Json, judged, sound, step_of, told
from tests.support.faults import HEAVY
from tests.support.trial import plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan


def _plan(**holding: object) -> Json:
    plan = sound()
    plan["workpiece"]["material"] = {"name": "steel", "iso513_group": "P"}
    plan["policy"] = {"limits": {"slip_safety": 2.5}}
    plan["setups"][0]["workholding"].update(holding)
    step_of(plan, "20")["technology"] = dict(HEAVY)
    return plan


def test_the_largest_force_that_two_smooth_jaws_hold() -> None:
    """F 25 kN, mu 0.10 (smooth jaws, machined steel), S 2.5: 2 x 0.10 x 25000 / 2.5 = 2000 N."""
    found = [f for f in told(_plan(clamping_force=25000)) if f.code == "hold.slip"]
    assert [(f.setup, f.workingstep, f.unit, f.limit) for f in found] == [("S1", "20", "N", 2000.0)]
    assert "Estimate" in found[0].message


def test_serrated_jaws_hold_three_and_a_half_times_as_much() -> None:
    found = [f for f in told(_plan(clamping_force=25000, jaw_surface="serrated")) if f.code == "hold.slip"]
    assert [f.limit for f in found] == [7000.0]


def test_enough_force_holds() -> None:
    needed = next(f for f in told(_plan(clamping_force=25000)) if f.code == "hold.slip").measured
    assert needed is not None
    assert "hold.slip" not in {f.code for f in told(_plan(clamping_force=needed * 2.5 / 0.2 * 1.001))}


@pytest.mark.parametrize("missing", ["feed_per_tooth", "axial_cutting_depth"])
def test_nothing_is_estimated_from_data_that_the_plan_does_not_state(missing: str) -> None:
    plan = _plan(clamping_force=25000)
    step_of(plan, "20")["technology"] = {k: v for k, v in HEAVY.items() if k != missing}
    findings, runs = judged(plan)
    assert "hold.slip" not in {f.code for f in findings}
    assert "S1/20" in next(r for r in runs if r.code == "hold.slip").skipped


def _tall(**holding: object) -> Json:
    """A block of 80 x 80 x 100 in jaws that meet it over 80 x 20, its top face cut: the pass 5 deep lies 92.5 above
    the middle of the grip."""
    light = {"spindle_speed": 3820, "feed_per_tooth": 0.05, "axial_cutting_depth": 5, "radial_cutting_depth": 4}
    mill = {**tool("endmill", 10, NOF=4, APMX=20), "stickout": 40}
    works = [step("plane_finish_milling", mill, {"class": "planar_face", "normal": [0, 0, 1]}, technology=light)]
    vise = {
        "type": "vise", "jaw_axis": "Y", "jaw_width": 150, "jaw_height": 60, "jaw_thickness": 20, "parallel_height": 40,
        "parallel_thickness": 6, "max_opening": 180, "clamping_force": 25000, "jaw_surface": "smooth", **holding,
    }  # fmt: skip
    document = plan(raw_box((0, 0, 0), (80, 80, 105)), setup(works, workholding=vise))
    document["workpiece"]["material"] = {"name": "steel", "iso513_group": "P"}
    document["policy"] = {"limits": {"slip_safety": 2.5}}
    return document


def _slips(document: Json) -> list[Finding]:
    part = step_bytes(box((0, 0, 0), (80, 80, 100)))
    found = check_plan(part, json.dumps(document).encode(), {}).report.findings
    return [f for f in found if f.code == "hold.slip"]


def test_a_cut_high_above_the_jaws_lifts_one_end_out() -> None:
    """F 25 kN, mu 0.10, contact half as long as 80, S 2.5: 2 x 0.1 x 25000 x 40 / 2.5 = 80 N m at most. The force of
    a cut that alone stays below 2000 N then acts on a lever of 105 - 2.5 - 10 = 92.5."""
    assert _slips(_tall(clamping_force=30000)) == []
    (found,) = _slips(_tall(clamping_force=16000))
    assert found.unit == "N m" and found.limit == pytest.approx(80 * 16000 / 25000)
    force = found.measured / 92.5 * 1000
    assert force < 2 * 0.1 * 16000 / 2.5  # sideways the friction would hold it
    assert "Estimate" in found.message
    assert _slips(_tall(clamping_force=found.remedy.value)) == []
    assert _slips(_tall(clamping_force=16000, jaw_height=136)) == []  # a grip of 96 shortens the lever
    (weak,) = _slips(_tall(clamping_force=12000))
    thinner = _tall(clamping_force=12000)
    thinner["setups"][0]["workingsteps"][0]["technology"]["axial_cutting_depth"] = weak.remedy.value
    assert weak.remedy.unit == "mm" and _slips(thinner) == []
