"""Cutting forces against worked examples.

Example A: DC 10, z 4, vc 120, fz 0.05, ap 5, ae 4, kc1.1 1500, mc 0.22 (steel, VDI 3323 group 2).
Example B: twist drill DC 8.5, SIG 140, vc 80, fn 0.2, same material.
Values of A and B: closed forms worked by hand from the formulas printed in tool makers' technical guides (n, vf, Q, hm,
kc, Pc) or from memory of them (Mc, Ff). Worked problems of tool makers' guides are marked "printed".
"""

import math

import pytest

from schemas.plan import Machine, Material, Workingstep
from schemas.tool import Tool
from worker.estimate import forces
from worker.estimate.cutting_data import CuttingData, cutting_data, cutting_speed, spindle_speed
from worker.estimate.forces import drilling_load, estimate_load, milling_load, peak_tooth_force
from worker.estimate.materials import CUTTABILITY, Cuttability

STEEL = Cuttability("P", 1500.0, 0.22, "VDI 3323 group 2")
ENDMILL = Tool(id="T1", type="endmill", DC=10.0, APMX=22.0, NOF=4, stickout=30.0)
DRILL = Tool(id="T2", type="twist_drill", DC=8.5, SIG=140.0, LU=45.0, NOF=2, stickout=60.0)
A = CuttingData(120.0, spindle_speed(120, 10), 0.05, 4, 5.0, 4.0, True, ())
B = CuttingData(80.0, spindle_speed(80, 8.5), 0.1, 2, 30.0, 8.5, True, ())


def step(operation: str = "side_rough_milling", **technology: float) -> Workingstep:
    return Workingstep.model_validate(
        {"id": "10", "operation": operation, "tool": "T1", "features": ["x"], "technology": technology}
    )


def test_example_a_side_milling() -> None:
    load = milling_load(ENDMILL, A, STEEL)
    assert A.spindle_speed == pytest.approx(3819.71863, rel=1e-4)
    assert A.feed_speed == pytest.approx(763.94373, rel=1e-4)
    assert load.removal_rate == pytest.approx(15.27887, rel=1e-4)
    assert load.chip_thickness == pytest.approx(0.02921, rel=2e-4)
    assert load.specific_force == pytest.approx(3263.45337, rel=1e-4)
    assert load.power == pytest.approx(0.83103, rel=1e-4)
    assert load.torque == pytest.approx(2.07758, rel=1e-4)
    assert load.tangential_force == pytest.approx(415.51579, rel=1e-4)


def test_the_peak_and_not_the_mean_pushes_the_part() -> None:
    assert peak_tooth_force(ENDMILL, A, STEEL) == pytest.approx(713.4173, rel=1e-4)
    assert milling_load(ENDMILL, A, STEEL).side_force == pytest.approx(713.4173, rel=1e-4)  # 0.87 teeth in cut


def test_teeth_in_cut() -> None:
    assert forces.teeth_in_cut(4, forces.engagement_angle(4, 10)) == pytest.approx(0.871812, rel=1e-5)
    assert forces.teeth_in_cut(4, forces.engagement_angle(10, 10)) == pytest.approx(2.0)  # a slot: half a turn


def test_chip_thickness() -> None:
    assert forces.mean_chip_thickness(0.05, 10, 10) == pytest.approx(0.031831, rel=1e-4)  # 2 fz / pi
    assert forces.mean_chip_thickness(0.05, 4, 10, centred=True) == pytest.approx(0.048601, rel=1e-4)
    assert forces.largest_chip_thickness(0.05, 1, 10) == pytest.approx(0.03, rel=1e-4)
    assert forces.largest_chip_thickness(0.05, 5, 10) == pytest.approx(0.05)  # the tooth passes square to the feed


def test_printed_face_milling_problem() -> None:
    # printed: ap 2, ae 80, vf 280, kc 1800, efficiency 0.8 -> 1.68 kW; D 250, vc 80, z 12 -> n 101.91 (pi 3.14)
    n = spindle_speed(80, 250)
    assert n == pytest.approx(101.859, rel=1e-3)
    data = CuttingData(80.0, n, 280 / (12 * n), 12, 2.0, 80.0, True, ())
    tool = Tool(id="T", type="facemill", DC=250.0, APMX=9.0, NOF=12, stickout=60.0)
    assert data.feed_per_tooth == pytest.approx(0.228, rel=5e-3)
    assert milling_load(tool, data, Cuttability("P", 1800.0, 0.0, "")).motor_power == pytest.approx(1.68, abs=5e-3)


def test_printed_inch_end_milling_example() -> None:
    # printed: D 0.375 in, 450 ft/min, z 4, fz 0.004 in, ap 0.125, ae 0.10 -> 4584 1/min, 73.3 in/min, 0.91 in3/min
    n = spindle_speed(450 * 0.3048, 0.375 * 25.4)
    data = CuttingData(450 * 0.3048, n, 0.004 * 25.4, 4, 0.125 * 25.4, 0.1 * 25.4, True, ())
    tool = Tool(id="T", type="endmill", DC=0.375 * 25.4, APMX=25.0, NOF=4, stickout=40.0)
    load = milling_load(tool, data, STEEL)
    assert n == pytest.approx(4584, rel=5e-3)
    assert data.feed_speed / 25.4 == pytest.approx(73.3, rel=5e-3)
    assert load.removal_rate * 1000 / 25.4**3 == pytest.approx(0.9167, rel=5e-3)
    assert round(load.chip_thickness / 25.4, 3) == 0.002  # printed .002


def test_printed_inch_speed_of_an_old_handbook() -> None:
    # printed: 60 ft/min on 5 in -> 46 1/min (F. D. Jones, Turning and Boring)
    assert spindle_speed(60 * 0.3048, 5 * 25.4) == pytest.approx(45.84, abs=0.5)
    assert cutting_speed(spindle_speed(60.0, 30.0), 30.0) == pytest.approx(60.0)


def test_example_b_drilling() -> None:
    load = drilling_load(DRILL, B, STEEL)
    assert B.spindle_speed == pytest.approx(2995.85775, rel=1e-4)
    assert B.feed_speed == pytest.approx(599.17155, rel=1e-4)
    assert load.removal_rate == pytest.approx(34.0, rel=1e-4)
    assert load.chip_thickness == pytest.approx(0.09397, rel=1e-4)
    assert load.specific_force == pytest.approx(2523.68054, rel=1e-4)
    assert load.power == pytest.approx(1.43009, rel=1e-4)
    assert load.torque == pytest.approx(4.5584, rel=1e-4)
    assert load.feed_force == pytest.approx(1007.88069, rel=1e-4)
    assert load.side_force == 0


@pytest.mark.parametrize(
    ("group", "kc11", "mc"),
    [("P", 1775, 0.24), ("M", 2150, 0.20), ("K", 1350, 0.28), ("N", 800, 0.25), ("S", 3300, 0.24)],
)
def test_kienzle_rows(group: str, kc11: float, mc: float) -> None:
    # tool maker's user guide 2022, VDI 3323 groups 6, 14, 16, 22, 33
    assert (CUTTABILITY[group].kc11, CUTTABILITY[group].mc) == (kc11, mc)


def test_the_plans_own_data_win() -> None:
    data = cutting_data(step(cutspeed=120.0, feed_per_tooth=0.05, axial_cutting_depth=5.0, radial_cutting_depth=4.0),
                        ENDMILL, STEEL)  # fmt: skip
    assert (data.spindle_speed, data.feed_per_tooth, data.axial, data.radial) == pytest.approx(
        (A.spindle_speed, 0.05, 5.0, 4.0)
    )
    assert data.stated
    assert data.assumptions == ()


def test_a_stated_spindle_speed_is_never_held_back_but_a_taken_one_is() -> None:
    machine = Machine(max_spindle_speed=4000.0)
    stated, _ = estimate_load(step(spindle_speed=9000.0), ENDMILL, None, machine)
    assert stated.spindle_speed == 9000
    taken, load = estimate_load(step(), ENDMILL, Material(name="Al", iso513_group="N"), machine)
    assert taken.spindle_speed == 4000  # 240 m/min on 10 mm would ask for 7639 1/min
    assert any("held to the machine's 4000" in note for note in load.assumptions)


def test_what_is_not_stated_is_named() -> None:
    _, load = estimate_load(step(), ENDMILL, None)
    told = " ".join(load.assumptions)
    for word in ("cutting speed", "feed", "axial", "radial", "no iso513_group stated"):
        assert word in told


def test_depth_of_cut_is_never_more_than_the_metal_met() -> None:
    shallow, _ = estimate_load(step(), ENDMILL, None, depth=1.0)
    deep, _ = estimate_load(step(), ENDMILL, None, depth=100.0)
    assert (shallow.axial, deep.axial) == (1.0, 5.0)


def test_tapping_feeds_by_the_pitch() -> None:
    tap = Tool(id="T3", type="tapping_cutting_tool", thread="M10", LU=30.0, stickout=60.0)
    data, load = estimate_load(step("tapping", spindle_speed=300.0), tap, Material(name="steel", iso513_group="P"))
    assert data.feed_speed == pytest.approx(1.5 * 300)  # M10 coarse: P 1.5 (ISO 261)
    assert load.torque == pytest.approx(1.5**2 * 10 * 1775 / 8000)
    assert load.power == pytest.approx(load.torque * 2 * math.pi * 300 / 60 / 1000)  # P = M omega
