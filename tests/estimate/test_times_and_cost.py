"""Times and cost against worked values.

Hole: TM-dr of the drilling example (closed form Tc = (approach + depth + PL) / vf). Pocket: V / Q by hand.
"""

import math

import pytest

from schemas.plan import Machine, Material, Rates, Workingstep
from schemas.tool import Tool
from worker.estimate.cost import estimate_cost
from worker.estimate.geometry import CutSizes
from worker.estimate.times import APPROACH, estimate_step, plunge_seconds

ENDMILL = Tool(id="T1", type="endmill", DC=10.0, APMX=22.0, NOF=4, stickout=30.0)
DRILL = Tool(id="T2", type="twist_drill", DC=8.5, SIG=140.0, LU=45.0, NOF=2, stickout=60.0)
STEEL = Material(name="steel", iso513_group="P")
MACHINE = Machine(tool_change_time=5.0, rapid_feed=30000.0)


def step(operation: str, **technology: float) -> Workingstep:
    return Workingstep.model_validate(
        {"id": "10", "operation": operation, "tool": "T1", "features": ["x"], "technology": technology}
    )


DRILLING = step("drilling", cutspeed=80.0, feed_per_rev=0.2)
ROUGHING = step(
    "bottom_and_side_rough_milling",
    cutspeed=120.0, feed_per_tooth=0.05, axial_cutting_depth=5.0, radial_cutting_depth=4.0,
)  # fmt: skip


def test_a_hole_takes_its_travel_at_the_feed() -> None:
    # hole 30 deep, approach 2, point PL = 4.25 / tan 70 = 1.5469: travel 33.5469 mm at 599.17 mm/min = 3.3593 s
    plunge = 30 + 4.25 / math.tan(math.radians(70))
    assert APPROACH + plunge == pytest.approx(33.5469, rel=1e-5)
    one = estimate_step(DRILLING, DRILL, STEEL, CutSizes(1700.0, (8.5, 8.5, 31.5), (plunge,)), MACHINE)
    assert one.time.cutting == pytest.approx(3.3593, rel=1e-4)
    four = estimate_step(DRILLING, DRILL, STEEL, CutSizes(6800.0, (50.0, 50.0, 31.5), (plunge,) * 4), MACHINE)
    assert four.time.cutting == pytest.approx(4 * 3.3593, rel=1e-4)
    assert four.time.approach > one.time.approach


def test_a_pocket_takes_at_least_its_metal_over_the_removal_rate() -> None:
    # V 35678.0972 mm3 at Q 15.27887 cm3/min = 2.33513 min
    sizes = CutSizes(35678.0972, (60.0, 40.0, 15.0))
    assert estimate_step(ROUGHING, ENDMILL, STEEL, sizes, MACHINE).time.cutting == pytest.approx(2.33513 * 60, rel=1e-4)


def test_a_thin_finishing_pass_takes_its_way_round() -> None:
    # 0.1 mm off the four walls of 60 x 40 x 10: way 2 (60 + 40) + 2 x 2 mm at vf = 763.94 mm/min, two levels of 5
    fine = step("side_finish_milling", cutspeed=120.0, feed_per_tooth=0.05, axial_cutting_depth=5.0,
                radial_cutting_depth=0.1)  # fmt: skip
    sizes = CutSizes(200 * 10 * 0.1, (60.0, 40.0, 10.0))
    time = estimate_step(fine, ENDMILL, STEEL, sizes, MACHINE).time
    assert time.cutting == pytest.approx(60 * 2 * 204 / 763.94373, rel=1e-4)


def test_a_face_is_cut_in_strips() -> None:
    # 100 x 60 with a 50 mm cutter, 35 mm strips: 2 strips of (100 + 50 + 4) mm, one level
    tool = Tool(id="T", type="facemill", DC=50.0, APMX=9.0, NOF=5, stickout=40.0)
    facing = step("plane_finish_milling", spindle_speed=1000.0, feed_per_tooth=0.1, axial_cutting_depth=2.0,
                  radial_cutting_depth=35.0)  # fmt: skip
    time = estimate_step(facing, tool, STEEL, CutSizes(100 * 60 * 0.5, (100.0, 60.0, 0.5)), MACHINE).time
    assert time.cutting == pytest.approx(60 * 2 * 154 / 500)


def test_a_tap_feeds_out_again() -> None:
    assert plunge_seconds((20.0,), 450.0, there_and_back=True) == pytest.approx(60 * 44 / 450)


def test_tool_change_counts_once_and_is_the_machines_own() -> None:
    sizes = CutSizes(1700.0, (8.5, 8.5, 30.0), (30.0,))
    first = estimate_step(DRILLING, DRILL, STEEL, sizes, MACHINE).time
    again = estimate_step(DRILLING, DRILL, STEEL, sizes, MACHINE, tool_change=False).time
    assert (first.tool_change, again.tool_change) == (5.0, 0.0)
    assert first.total == pytest.approx(first.cutting + first.approach + 5.0)
    usual = estimate_step(DRILLING, DRILL, STEEL, sizes).time
    assert any("tool change 8 s: common practice" in note for note in usual.assumptions)


def test_the_machine_bounds_the_feed() -> None:
    slow = Machine(max_feed=100.0)
    sizes = CutSizes(1700.0, (8.5, 8.5, 30.0), (28.0,))
    time = estimate_step(DRILLING, DRILL, STEEL, sizes, slow).time
    assert time.cutting == pytest.approx(60 * 30 / 100)
    assert "feed held to the machine's greatest feed speed" in time.assumptions


def test_no_metal_no_milling_time() -> None:
    assert estimate_step(ROUGHING, ENDMILL, STEEL, CutSizes(0.0)).time.cutting == 0


def test_every_estimate_says_that_it_is_one() -> None:
    sizes = CutSizes(100.0, (10.0, 10.0, 1.0))
    assert estimate_step(ROUGHING, ENDMILL, STEEL, sizes).time.estimate is True
    assert estimate_cost(Rates(currency="EUR", machine_hour=60.0), 60.0, 1, None).estimate is True


def test_cost_of_a_lot_by_hand() -> None:
    # 20 parts, 6 min each at 60/h = 120; 2 setups x 20 x 1.5 min at 60/h = 60; 2 x 30 min at 45/h = 45;
    # 20 x 0.7 kg x 6 = 84; together 309, 15.45 a part
    rates = Rates(
        currency="EUR", machine_hour=60.0, setup_hour=45.0, setup_time=30.0, clamping_time=1.5, material_per_kg=6.0,
        lot_size=20,
    )  # fmt: skip
    cost = estimate_cost(rates, 360.0, 2, 0.7)
    assert cost.items == pytest.approx({"machining": 120.0, "clamping": 60.0, "setting_up": 45.0, "material": 84.0})
    assert (cost.per_lot, cost.per_part) == pytest.approx((309.0, 15.45))


def test_what_is_not_stated_is_not_in_the_cost_and_is_said() -> None:
    cost = estimate_cost(Rates(currency="EUR", machine_hour=60.0), 3600.0, 2, None)
    assert cost.items == pytest.approx({"machining": 60.0})
    told = " ".join(cost.assumptions)
    for word in ("clamping_time", "setup_time", "material_per_kg"):
        assert word in told
