"""Holes with round floors under mills, and holes in line under one drill: sound plans pass, faulty ones are told."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.recognise.parts import at_height, rounded
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cylinder, sphere
from worker.kernel.shape import Body
from worker.kernel.stepio import write_step
from worker.pipeline import check_plan

VISE = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 50, "parallel_height": 20,
        "parallel_thickness": 4, "max_opening": 150}  # fmt: skip


def setup(id: str, origin: list[float], axis: list[int], x: list[int], steps: list[Any], **vise: Any) -> dict[str, Any]:
    placement = {"location": origin, "axis": axis, "ref_direction": x}
    return {"id": id, "origin": placement, "workholding": VISE | vise, "workingsteps": steps}


def told(body: Body, height: float, tools: list[Any], *setups: dict[str, Any]) -> dict[str, list[str]]:
    """The codes of errors and warnings, each with the features it is about."""
    plan = {
        "plan_version": 1,
        "units": "mm",
        "workpiece": {
            "material": {"name": "C45", "iso513_group": "P"},
            "rawpiece": {"box": {"min": [0, 0, 0], "max": [40, 30, height]}},
        },
        "tools": tools,
        "setups": [s | {"as_is": "carried" if k else "rawpiece"} for k, s in enumerate(setups)],
    }
    report = check_plan(write_step(body), json.dumps(plan).encode(), {}).report
    return {f.code: list(f.features) for f in report.findings if f.level != "note"}


def milled(floor: Body, tool: dict[str, Any], operation: str) -> dict[str, list[str]]:
    """A block with one hole that a mill makes from above."""
    step = {"id": "10", "operation": operation, "tool": "T1", "features": [{"class": "round_hole"}]}
    cutter = {"id": "T1", "APMX": 34, "LU": 34, "stickout": 40} | tool
    body = cut(box((0, 0, 0), (40, 30, 40)), [floor])
    return told(body, 40, [cutter], setup("S1", [0, 0, 40], [0, 0, 1], [1, 0, 0], [step]))


FILLETED = rounded(cylinder((20, 15, 20), (20, 15, 41), 12), 2.0, at_height(20))
BULLNOSE = {"type": "bullnose_endmill", "RE": 2}
MILLING = "bottom_and_side_finish_milling"


@pytest.mark.parametrize(("diameter", "operation"), [(8, MILLING), (12, MILLING), (12, "drilling")])
def test_a_floor_with_a_radius_is_milled_down_to_its_flat(diameter: float, operation: str) -> None:
    assert milled(FILLETED, BULLNOSE | {"DC": diameter}, operation) == {}


def test_a_square_cutter_leaves_the_floors_radius() -> None:
    wide = rounded(cylinder((20, 15, 20), (20, 15, 41), 22), 2.0, at_height(20))
    assert set(milled(wide, {"type": "endmill", "DC": 8}, MILLING)) == {"fit.floor-radius", "left.stock"}


def counterbored(tool: dict[str, Any], operation: str, deeper: float = 0.0) -> dict[str, list[str]]:
    """Drilled 9, counterbored 18 wide and 10 deep, with a radius of 1 round the seat; the step names the compound."""
    sunk = rounded(cylinder((20, 15, 30), (20, 15, 41), 18), 1.0, at_height(30))
    body = cut(box((0, 0, 0), (40, 30, 40)), [sunk, cylinder((20, 15, -1), (20, 15, 41), 9)])
    drill = {"id": "D9", "type": "twist_drill", "DC": 9, "SIG": 118, "LU": 60, "stickout": 70}
    hole = [{"class": "counterbore_hole"}]
    steps = [
        {"id": "10", "operation": "drilling", "tool": "D9", "features": hole, "overcut_length": 1},
        {"id": "20", "operation": operation, "tool": "T1", "features": hole, "allowance_bottom": -deeper},
    ]
    cutter = {"id": "T1", "LU": 34, "stickout": 40} | tool
    return told(body, 40, [drill, cutter], setup("S1", [0, 0, 40], [0, 0, 1], [1, 0, 0], steps))


@pytest.mark.parametrize(
    ("tool", "operation", "codes"),
    [
        ({"type": "counterbore", "DC": 18}, "counter_sinking", {"fit.floor-radius"}),  # cuts the radius away
        (
            {"type": "counterbore", "DC": 18, "RE": 2},
            "counter_sinking",
            {"fit.floor-radius", "left.stock"},
        ),  # leaves a larger
        ({"type": "counterbore", "DC": 18, "RE": 1}, "counter_sinking", set()),
        ({"type": "endmill", "DC": 8, "APMX": 20}, MILLING, {"fit.floor-radius", "left.stock"}),
        (BULLNOSE | {"DC": 8, "RE": 1, "APMX": 20}, MILLING, set()),
    ],
)
def test_a_counterbore_with_a_radius_at_its_seat(tool: dict[str, Any], operation: str, codes: set[str]) -> None:
    """A radius of 1 comes of a corner of 1 where the tool is as wide as the hole, of a smaller one where it travels."""
    found = counterbored(tool, operation)
    assert set(found) == codes
    for features in found.values():
        assert len(features) == 1 and features[0].startswith("round_hole")  # the counterbore, not the compound


@pytest.mark.parametrize(("wider", "deeper"), [(0.0, 1.0), (1.0, 0.0)])
def test_a_square_counterbore_that_takes_more_than_the_radius_gouges(wider: float, deeper: float) -> None:
    found = counterbored({"type": "counterbore", "DC": 18 + wider}, "counter_sinking", deeper)
    assert {"fit.floor-radius", "cut.gouge" if deeper else "fit.hole-diameter"} <= set(found)


@pytest.mark.parametrize("diameter", [8, 12])
def test_a_round_bottom_is_milled_by_a_ball(diameter: float) -> None:
    whole = fuse([cylinder((20, 15, 20), (20, 15, 41), 12), sphere((20, 15, 20), 12)])
    assert milled(whole, {"type": "ballnose_endmill", "DC": diameter}, MILLING) == {}


CHEEKS = cut(box((0, 0, 0), (40, 30, 60)), [box((15, -1, 10), (41, 31, 50)), cylinder((28, 15, -1), (28, 15, 61), 10)])
UPPER, LOWER = ({"class": "round_hole", "at": [28, 15, z]} for z in (60, 0))
SLOT = setup(
    "slot", [40, 15, 30], [1, 0, 0], [0, 1, 0],
    [{"id": "10", "operation": MILLING, "tool": "T2", "features": [{"class": "slot"}]}],
    jaw_axis="X", jaw_height=25, parallel_height=10,
)  # fmt: skip


def drilled(features: list[Any], *, length: float = 100, slot_first: bool = True, more: tuple[Any, ...] = ()) -> Any:
    """A fork of two cheeks 40 mm apart, drilled from above, its slot milled before or after."""
    tools = [
        {"id": "T1", "type": "twist_drill", "DC": 10, "SIG": 118, "LU": length, "stickout": length + 10},
        {"id": "T2", "type": "endmill", "DC": 12, "APMX": 30, "LU": 30, "stickout": 40},
    ]
    step = {"id": "10", "operation": "drilling", "tool": "T1", "features": features, "overcut_length": 1.0}
    drilling = setup("drill", [0, 0, 60], [0, 0, 1], [1, 0, 0], [step])
    return told(CHEEKS, 60, tools, *([SLOT, drilling] if slot_first else [drilling, SLOT]), *more)


@pytest.mark.parametrize("slot_first", [True, False])
def test_one_stroke_drills_both_cheeks(slot_first: bool) -> None:
    assert drilled([{"class": "round_hole", "diameter": 10}], slot_first=slot_first) == {}


def test_a_drill_too_short_for_the_far_cheek_is_told() -> None:
    assert set(drilled([UPPER, LOWER], length=40)) == {"reach.length"}


def test_the_cheek_that_no_step_drills_is_told() -> None:
    found = drilled([UPPER])
    assert set(found) == {"left.feature", "left.stock"} and len(found["left.feature"]) == 1


def test_each_cheek_may_be_drilled_from_its_own_side_by_a_short_drill() -> None:
    step = {"id": "10", "operation": "drilling", "tool": "T1", "features": [LOWER], "overcut_length": 1.0}
    behind = setup("behind", [0, 30, 0], [0, 0, -1], [1, 0, 0], [step])
    assert drilled([UPPER], length=40, more=(behind,)) == {}
