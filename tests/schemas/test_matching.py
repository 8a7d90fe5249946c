"""Keys that would mean nothing with the tool or operation they stand at are refused: nothing is ignored silently."""

from __future__ import annotations

import json
from typing import Any

import pytest

from schemas.matching import TOOLS_FOR, check_tools_match
from schemas.plan import SetupPlan, read_plan
from schemas.problem import Problem
from tests.support.plate import element, on_plate
from tests.support.trial import Json, plan, raw_box, setup, step, tool

HOLE: Json = {"class": "round_hole"}
SIZES: dict[str, Json] = {
    "tapping_cutting_tool": {"thread": "M10"},
    "dovetail_mill": {"KAPR": 60, "APMX": 5, "DN": 4},
    "bullnose_endmill": {"RE": 1},
    **{pointed: {"SIG": 90} for pointed in ("spotdrill", "countersink", "chamfer_mill")},
}


def mill_or_drill(type: str) -> Json:
    return {"id": "T", "type": type, "DC": 10, "APMX": 10, "LU": 20, "stickout": 40, **SIZES.get(type, {})}


def plan_of(operation: str, type: str, **keys: Any) -> SetupPlan:
    keys |= {"size": 0.5} if operation == "edge_breaking" else {}
    work = step(operation, mill_or_drill(type), HOLE, **keys)
    return read_plan(json.dumps(plan(raw_box((0, 0, 0), (50, 50, 20)), setup([work]))).encode())


def refused(operation: str, type: str, key: str, **keys: Any) -> None:
    with pytest.raises(Problem) as caught:
        check_tools_match(plan_of(operation, type, **keys))
    assert caught.value.pointer == f"/setups/0/workingsteps/0/{key}"
    assert caught.value.remedy


@pytest.mark.parametrize(("operation", "types"), TOOLS_FOR.items(), ids=TOOLS_FOR)
def test_an_operation_takes_the_tools_that_can_do_it_and_no_others(operation: str, types: frozenset[str]) -> None:
    every = frozenset().union(*TOOLS_FOR.values())
    for type in sorted(types):
        check_tools_match(plan_of(operation, type))
    for type in sorted(every - types):
        refused(operation, type, "tool")


@pytest.mark.parametrize(
    ("operation", "type"),
    [
        ("drilling", "twist_drill"),
        ("drilling", "endmill"),
        ("center_drilling", "spotdrill"),
        ("boring", "rotating_boring_cutting_tool"),
        ("reaming", "reaming_cutting_tool"),
        ("counter_sinking", "counterbore"),
        ("tapping", "tapping_cutting_tool"),
    ],
)
def test_a_tool_on_the_holes_axis_has_a_depth_from_the_face(operation: str, type: str) -> None:
    check_tools_match(plan_of(operation, type, cutting_depth=5))


@pytest.mark.parametrize(
    ("operation", "type", "key"),
    [
        ("center_drilling", "spotdrill", "allowance_side"),
        ("center_drilling", "twist_drill", "allowance_side"),
        ("counter_sinking", "countersink", "allowance_side"),
        ("tapping", "tapping_cutting_tool", "allowance_side"),
        ("back_boring", "rotating_boring_cutting_tool", "allowance_side"),
        ("back_boring", "rotating_boring_cutting_tool", "allowance_bottom"),
    ],
)
def test_a_tool_that_leaves_no_wall_leaves_no_metal_on_one(operation: str, type: str, key: str) -> None:
    refused(operation, type, key, **{key: 0.2})


@pytest.mark.parametrize("key", ["allowance_side", "allowance_bottom", "overcut_length", "bottom_z"])
def test_a_broken_edge_has_its_size_and_no_depth(key: str) -> None:
    plan_of("edge_breaking", "chamfer_mill")
    with pytest.raises(Problem, match=f"'{key}' says nothing"):
        plan_of("edge_breaking", "chamfer_mill", **{key: 0.0 if key == "bottom_z" else 0.2})


@pytest.mark.parametrize(("type", "angle", "fits"), [("twist_drill", 59, True), ("twist_drill", 70, False)])
def test_the_edge_angle_of_a_point_is_half_of_the_points(type: str, angle: float, fits: bool) -> None:
    """KAPR lies between edge and feed, SIG between both edges (ISO 13399)."""
    document = plan(
        raw_box((0, 0, 0), (50, 50, 20)), setup([step("drilling", tool(type, 8, SIG=118, KAPR=angle), HOLE)])
    )
    if fits:
        read_plan(json.dumps(document).encode())
        return
    with pytest.raises(Problem, match="half of 'SIG'"):
        read_plan(json.dumps(document).encode())


def test_a_cutter_that_goes_round_the_hole_has_the_depth_of_its_tip() -> None:
    check_tools_match(plan_of("counter_sinking", "endmill", allowance_side=0.2, bottom_z=-5))
    refused("counter_sinking", "endmill", "cutting_depth", cutting_depth=5)


@pytest.mark.parametrize(("type", "angle"), [("facemill", 45), ("facemill", 70), ("endmill", 60)])
def test_a_cutter_of_an_angle_makes_no_upright_wall(type: str, angle: float) -> None:
    slanted = mill_or_drill(type) | {"KAPR": angle}
    for operation, fits in (("plane_finish_milling", True), ("side_finish_milling", False)):
        document = plan(raw_box((0, 0, 0), (50, 50, 20)), setup([step(operation, slanted, HOLE)]))
        if fits:
            check_tools_match(read_plan(json.dumps(document).encode()))
            continue
        with pytest.raises(Problem, match="upright wall"):
            check_tools_match(read_plan(json.dumps(document).encode()))


@pytest.mark.parametrize("name", ["base", "jack 6 6", "locator end"])
def test_what_does_not_press_has_no_force(name: str) -> None:
    document = on_plate()
    element(document, name)["force"] = 500
    with pytest.raises(Problem, match="does not press"):
        read_plan(json.dumps(document).encode())


def test_a_taps_stated_pitch_is_its_threads() -> None:
    # 1/2-13 UNC: 1/13 in = 1.9538 mm, as a catalogue rounds it (ASME B1.1); M12 coarse 1.75 mm (ISO 261)
    for thread, pitch in (("1/2-13 UNC", 1.954), ("M12", 1.75)):
        document = plan(raw_box((0, 0, 0), (50, 50, 20)), setup([step("drilling", tool("twist_drill", 5), HOLE)]))
        document["tools"].append(
            {"id": "T2", "type": "tapping_cutting_tool", "thread": thread, "TP": pitch, "LU": 20, "stickout": 40}
        )
        tap = read_plan(json.dumps(document).encode()).tool("T2")
        assert pytest.approx(pitch) == tap.TP
        document["tools"][-1]["TP"] = pitch * 1.05
        with pytest.raises(Problem, match="pitch"):
            read_plan(json.dumps(document).encode())


def test_a_taps_stated_diameter_is_its_threads() -> None:
    # 1/2 in = 12.7 mm; an oversize tap for M6 is a few hundredths larger
    for thread, diameter, fits in (
        ("1/2-13 UNC", 12.7, True),
        ("M6", 6.03, True),
        ("M6", 6.6, False),
        ("M6", 5, False),
    ):
        tap = {"id": "T2", "type": "tapping_cutting_tool", "thread": thread, "DC": diameter, "LU": 20, "stickout": 40}
        document = plan(raw_box((0, 0, 0), (50, 50, 20)), setup([step("drilling", tool("twist_drill", 5), HOLE)]))
        document["tools"].append(tap)
        if fits:
            read_plan(json.dumps(document).encode())
            continue
        with pytest.raises(Problem, match="diameter"):
            read_plan(json.dumps(document).encode())


@pytest.mark.parametrize("type", ["twist_drill", "reaming_cutting_tool", "counterbore"])
def test_a_tool_whose_edge_goes_up_to_lu_has_no_thicker_neck(type: str) -> None:
    """Between edge and LU (contract, tools) it has no length: a thicker one would be ignored."""
    stepped = mill_or_drill(type) | {"APMX": 5, "DN": 10.0}
    document = plan(
        raw_box((0, 0, 0), (50, 50, 20)), setup([step("center_drilling", tool("spotdrill", 5, SIG=90), HOLE)])
    )
    document["tools"].append({**stepped, "id": "T2"})
    read_plan(json.dumps(document).encode())
    document["tools"][-1]["DN"] = 12
    with pytest.raises(Problem, match="'DN' is thicker") as caught:
        read_plan(json.dumps(document).encode())
    assert caught.value.pointer == "/tools/1"


@pytest.mark.parametrize(("usable", "fits"), [(50, True), (50.1, False)])
def test_a_tool_is_no_longer_usable_than_it_is_long(usable: float, fits: bool) -> None:
    bar = mill_or_drill("rotating_boring_cutting_tool") | {"LU": usable, "OAL": 50, "stickout": 40}
    document = plan(raw_box((0, 0, 0), (50, 50, 20)), setup([step("boring", bar, HOLE)]))
    if fits:
        read_plan(json.dumps(document).encode())
        return
    with pytest.raises(Problem, match="'LU' is longer than 'OAL'"):
        read_plan(json.dumps(document).encode())


def test_no_cut_is_wider_than_the_mill() -> None:
    check_tools_match(plan_of("side_finish_milling", "endmill", technology={"radial_cutting_depth": 10}))
    wide = {"technology": {"radial_cutting_depth": 10.5}}
    refused("side_finish_milling", "endmill", "technology/radial_cutting_depth", **wide)


@pytest.mark.parametrize(
    ("type", "key", "value"),
    [("reaming_cutting_tool", "KAPR", 45), ("twist_drill", "RE", 1), ("tapping_cutting_tool", "SIG", 90)],
)
def test_a_size_that_nothing_reads_is_refused(type: str, key: str, value: float) -> None:
    document = plan(raw_box((0, 0, 0), (50, 50, 20)), setup([step("drilling", tool("twist_drill", 5), HOLE)]))
    document["tools"].append({**mill_or_drill(type), "id": "T2", key: value})
    with pytest.raises(Problem, match=f"'{key}' says nothing") as caught:
        read_plan(json.dumps(document).encode())
    assert caught.value.pointer == "/tools/1"
