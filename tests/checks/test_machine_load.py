"""Power and torque against the machine's, by the worked cutting examples of the trade."""

from __future__ import annotations

import math

import pytest

from tests.support.block import Json, sound, step_of, told, tool_of

EXAMPLE = {"cutspeed": 120, "feed_per_tooth": 0.05, "axial_cutting_depth": 5, "radial_cutting_depth": 4}
"""End mill 10 mm, 4 teeth: Pc = ap ae vf kc / 60e6 with kc = kc1.1 hm^-mc (Kienzle)."""


def _plan(**machine: float) -> Json:
    plan = sound()
    tool_of(plan, "EM12").update(DC=10, NOF=4)
    step_of(plan, "20")["technology"] = EXAMPLE
    plan["machine"] = machine
    return plan


def _expected_power() -> float:
    """kW at the cut: hm 0.02921 mm, vf 763.944 mm/min (handbook example), kc1.1 800 and mc 0.25 for group N."""
    return 5 * 4 * 763.94373 * 800 * math.pow(0.02921, -0.25) / 60e6


def test_more_power_than_the_spindle_has() -> None:
    asked = _expected_power() / 0.8  # what the motor gives, at the usual efficiency
    assert told(_plan(max_spindle_power=asked * 1.01)) == []
    found = told(_plan(max_spindle_power=asked * 0.9))
    assert [(f.code, f.setup, f.workingstep, f.unit) for f in found] == [("machine.speed", "S1", "20", "kW")]
    assert found[0].measured == pytest.approx(asked, abs=1e-3)


def test_more_torque_than_the_spindle_has() -> None:
    asked = _expected_power() * 30000 / (3.14159265 * 3819.71863)
    assert told(_plan(max_spindle_torque=asked * 1.01)) == []
    found = told(_plan(max_spindle_torque=asked * 0.9))
    assert [(f.code, f.workingstep, f.unit) for f in found] == [("machine.speed", "20", "N m")]
    assert found[0].measured == pytest.approx(asked, abs=1e-3)


def test_the_remedy_is_a_lighter_cut() -> None:
    plan = _plan(max_spindle_power=_expected_power() / 0.8 * 0.5)
    remedy = told(plan)[0].remedy
    assert remedy is not None and remedy.value == pytest.approx(2.5, abs=0.01)
    step_of(plan, "20")["technology"] = {**EXAMPLE, "axial_cutting_depth": remedy.value}
    assert told(plan) == []
