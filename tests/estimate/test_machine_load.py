"""Power and torque of steps against the machine's own, worked by hand from Kienzle's formula.

Mill DC 8, z 4, n 4000, fz 0.05, ap 4, ae 4 (half of DC: arc pi/2, hm = fz 2/pi) in group P (kc1.1 1775, mc 0.24).
Drill DC 6, SIG 118, n 2000, fn 0.1, same material.
"""

import math
from typing import Any

import pytest

from schemas.finding import Finding
from tests.support.block import judged
from tests.support.plate import on_plate, plate

KC_MILL = 1775 * (0.05 * 2 / math.pi) ** -0.24
POWER_MILL = 4 * 4 * (0.05 * 4 * 4000) * KC_MILL / 60e6 / 0.8
TORQUE_MILL = 30000 * POWER_MILL * 0.8 / (math.pi * 4000)
SINE = math.sin(math.radians(59))
TORQUE_DRILL = 30000 / (math.pi * 2000) * 0.1 * (math.pi * 6 * 2000 / 1000) * 6 * 1775 * (0.05 * SINE) ** -0.24 / 240000


def plan(**machine: float) -> dict[str, Any]:
    made = on_plate()
    made["workpiece"]["material"] = {"name": "steel", "iso513_group": "P"}
    drilling, milling = made["setups"][0]["workingsteps"]
    drilling["technology"] = {"spindle_speed": 2000, "feed_per_rev": 0.1}
    milling["technology"] = {"spindle_speed": 4000, "feed_per_tooth": 0.05, "axial_cutting_depth": 4,
                             "radial_cutting_depth": 4}  # fmt: skip
    made["tools"][1]["NOF"] = 4
    made["tools"][0]["NOF"] = 2
    made["machine"] = machine
    return made


def found(made: dict[str, Any]) -> list[Finding]:
    return [f for f in judged(made, plate())[0] if f.code == "machine.speed"]


def test_enough_power_and_torque_is_no_finding() -> None:
    assert found(plan(max_spindle_power=POWER_MILL * 1.01, max_spindle_torque=TORQUE_MILL * 1.01)) == []


def test_too_much_power_is_told_and_a_lighter_cut_mends_it() -> None:
    made = plan(max_spindle_power=POWER_MILL * 0.9)
    [finding] = found(made)
    assert finding.workingstep == "20"
    assert finding.measured == pytest.approx(POWER_MILL, rel=1e-3)
    assert finding.unit == "kW"
    assert finding.remedy is not None
    key = str(finding.remedy.pointer).rpartition("/")[2]
    technology = made["setups"][0]["workingsteps"][1]["technology"]
    assert finding.remedy.value == pytest.approx(0.9 * technology[key], rel=1e-3)  # power goes with depth and speed
    technology[key] = finding.remedy.value
    assert found(made) == []


def test_too_much_torque_is_told_and_a_shallower_cut_mends_it() -> None:
    made = plan(max_spindle_torque=TORQUE_MILL * 0.9)
    [finding] = found(made)
    assert finding.measured == pytest.approx(TORQUE_MILL, abs=6e-3)
    assert finding.remedy is not None
    made["setups"][0]["workingsteps"][1]["technology"]["axial_cutting_depth"] = finding.remedy.value
    assert found(made) == []


def test_a_drill_that_needs_more_torque_feeds_less() -> None:
    made = plan(max_spindle_torque=TORQUE_DRILL * 0.8)
    finding = next(f for f in found(made) if f.workingstep == "10")
    assert finding.measured == pytest.approx(TORQUE_DRILL, abs=6e-3)
    assert finding.remedy is not None
    # torque goes with fn^(1 - mc): fn * 0.8^(1 / 0.76)
    assert finding.remedy.value == pytest.approx(0.1 * 0.8 ** (1 / 0.76), rel=1e-3)
    made["setups"][0]["workingsteps"][0]["technology"]["feed_per_rev"] = finding.remedy.value
    assert [f for f in found(made) if f.workingstep == "10"] == []


def test_what_the_plan_does_not_state_is_not_judged() -> None:
    made = plan(max_spindle_power=0.001)
    del made["setups"][0]["workingsteps"][1]["technology"]["radial_cutting_depth"]
    assert [f.workingstep for f in found(made)] == ["10"]
    del made["workpiece"]["material"]
    assert found(made) == []
