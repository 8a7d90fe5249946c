"""Dimples and pits through the whole check: the right tool makes them whole, others leave metal or cut too much."""

from __future__ import annotations

import math

import pytest
from OCP.BRepPrimAPI import BRepPrimAPI_MakeSphere
from OCP.gp import gp_Pnt

from tests.support.block import Json, as_step, context_of, one_setup, places, solid_block, told
from worker.kernel import boolean
from worker.kernel.primitives import cone
from worker.kernel.shape import Body

PIT = [{"class": "round_hole", "diameter": 8}]
DIMPLE = [{"class": "closed_pocket", "diameter": 8}]


def _pit() -> bytes:
    return as_step(boolean.cut(solid_block(), [cone((30, 20, 21), (30, 20, 16), 10, 0)]))


def _dimple() -> bytes:
    ball = Body(BRepPrimAPI_MakeSphere(gp_Pnt(30, 20, 23), 5).Shape())
    return as_step(boolean.cut(solid_block(), [ball]))


def _spot(diameter: float, angle: float, type_: str = "spotdrill") -> Json:
    return {"id": "SD", "type": type_, "DC": diameter, "SIG": angle, "LU": 12, "DMM": 10, "stickout": 35}


def _ball(diameter: float) -> Json:
    return {"id": "BN", "type": "ballnose_endmill", "DC": diameter, "APMX": 20, "LU": 30, "DMM": 10, "stickout": 40}


def _step(operation: str, tool: str, features: list[Json], **keys: object) -> Json:
    return {"id": "10", "operation": operation, "tool": tool, "features": features, **keys}


@pytest.mark.parametrize("operation", ["center_drilling", "counter_sinking", "drilling"])
def test_a_pit_is_made_by_a_tool_of_its_angle(operation: str) -> None:
    # A cone of radius 4 and height 4: pi 4^2 4 / 3.
    type_ = {"center_drilling": "spotdrill", "counter_sinking": "countersink", "drilling": "twist_drill"}[operation]
    made = one_setup([_step(operation, "SD", PIT)], _spot(8 if operation == "drilling" else 10, 90, type_))
    assert told(made, _pit()) == []
    (stage,) = context_of(made, _pit()).stages
    assert stage.cuts[0].removal_volume == pytest.approx(math.pi * 64 / 3, rel=1e-6)


@pytest.mark.parametrize(("diameter", "angle"), [(10, 120), (10, 60), (6, 90)])
def test_a_blunter_sharper_or_smaller_point_stays_inside_the_pit(diameter: float, angle: float) -> None:
    part, wrong = _pit(), one_setup([_step("center_drilling", "SD", PIT)], _spot(diameter, angle))
    (stage,) = context_of(wrong, part).stages
    assert stage.cuts[0].gouge is None
    assert any(code == "left.stock" for code, *_ in places(told(wrong, part)))


def test_a_point_sent_deeper_than_the_pit_is_a_gouge() -> None:
    deep = one_setup([_step("center_drilling", "SD", PIT, cutting_depth=4.5)], _spot(10, 90))
    assert any(code == "cut.gouge" for code, *_ in places(told(deep, _pit())))


@pytest.mark.parametrize("diameter", [6, 10])
def test_a_dimple_is_made_by_a_ball_no_larger_than_its_own(diameter: float) -> None:
    # pi h^2 (3R - h) / 3 with R 5, h 2.
    made = one_setup([_step("freeform_operation", "BN", DIMPLE)], _ball(diameter))
    assert told(made, _dimple()) == []
    (stage,) = context_of(made, _dimple()).stages
    assert stage.cuts[0].removal_volume == pytest.approx(math.pi * 4 * 13 / 3, rel=1e-6)


def test_a_larger_ball_leaves_metal_in_the_dimple() -> None:
    found = {
        code for code, *_ in places(told(one_setup([_step("freeform_operation", "BN", DIMPLE)], _ball(12)), _dimple()))
    }
    assert "left.stock" in found


def test_a_ball_wider_than_the_mouth_is_not_too_narrow_for_it() -> None:
    """A ball of 10 sinks into a mouth of 8; what it leaves when it stops short has another cause."""
    short = one_setup([_step("freeform_operation", "BN", DIMPLE, allowance_bottom=0.5)], _ball(10))
    assert "fit.too-narrow" not in {code for code, *_ in places(told(short, _dimple()))}
