"""Friction against the estimated cutting force: 2 mu F >= S Fc, by hand."""

from __future__ import annotations

import pytest

from tests.support.block import Json, judged, sound, step_of, told
from tests.support.faults import HEAVY


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
