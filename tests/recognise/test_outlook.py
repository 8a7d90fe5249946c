"""Setups tilted to where no face of the part points: a feature is seen from there or it is not, by its own geometry."""

from __future__ import annotations

import json
import math
from functools import cache

import pytest
from OCP.BRepPrimAPI import BRepPrimAPI_MakeSphere
from OCP.gp import gp_Pnt

from schemas.base import Vec3
from tests.recognise.parts import block
from tests.support.block import one_setup
from tests.support.hand_stage import Sweep, stage_of
from worker.checks.access import hidden as rules
from worker.checks.api import Context
from worker.facts import Finish
from worker.inputs import read_inputs
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body
from worker.kernel.stepio import write_step
from worker.pipeline import looked_at
from worker.stage.frame import setup_frame

DISH = [{"class": "closed_pocket"}]
RIM = 90 - math.degrees(math.acos(58 / 60))
"""A ball of 60 with its middle 58 over the face rises to the rim at acos(58 / 60): lower than that nothing looks in."""
BALL = {"id": "BN", "type": "ballnose_endmill", "DC": 20, "APMX": 40, "LU": 60, "stickout": 90}


@cache
def dish() -> bytes:
    ball = Body(BRepPrimAPI_MakeSphere(gp_Pnt(50, 30, 20 + 58), 60).Shape())
    return write_step(cut(block(), [ball]), "mm", "part")


def plan(tilt: float, operation: str = "freeform_operation") -> bytes:
    """The dish worked from an axis tilted about Y by degrees, the block lying in a given body of a fixture."""
    step = {"id": "10", "operation": operation, "tool": "BN", "features": DISH}
    found = one_setup([step], BALL)
    found["workpiece"]["rawpiece"] = {"box": {"min": [0, 0, 0], "max": [100, 60, 20]}}
    a = math.radians(tilt)
    origin = {
        "location": [50, 30, 20],
        "axis": [math.sin(a), 0, math.cos(a)],
        "ref_direction": [math.cos(a), 0, -math.sin(a)],
    }
    plate = {"type": "plate", "box": {"min": [-80, -60, -90], "max": [80, 60, -60]}}
    found["setups"][0] |= {"origin": origin, "workholding": {"type": "fixture_plate", "elements": [plate]}}
    return json.dumps(found).encode()


def access(tilt: float) -> tuple[Vec3, ...]:
    inputs, resolved = looked_at(read_inputs(dish(), plan(tilt), {}))
    (step,) = resolved["S1"]
    (feature,) = step.features
    assert inputs.part.feature(feature.id) == feature
    return feature.access


@pytest.mark.parametrize("tilt", [5.0, -41.0, RIM - 1.5])
def test_a_dish_is_seen_from_within_the_cone_of_its_rim(tilt: float) -> None:
    a = math.radians(tilt)
    assert any(d == pytest.approx((math.sin(a), 0, math.cos(a)), abs=1e-9) for d in access(tilt))


@pytest.mark.parametrize("tilt", [RIM + 4, 85.0])
def test_beyond_its_rim_it_hides(tilt: float) -> None:
    assert access(tilt) == ((0.0, 0.0, 1.0),)


@pytest.mark.parametrize(("tilt", "told"), [(5.0, 0), (85.0, 1)])
def test_the_rule_tells_the_hidden_one_only(tilt: float, told: int) -> None:
    """What the step cuts plays no part in the rule."""
    inputs, resolved = looked_at(read_inputs(dish(), plan(tilt), {}))
    (step,) = resolved["S1"]
    frame = setup_frame(inputs.plan.setups[0], inputs.part.body, inputs.rawpiece)
    stage = stage_of(
        inputs.rawpiece, [Sweep(step.tool, box((49, 29, 18.5), (51, 31, 25)), 0.0, features=step.features)], frame=frame
    )
    context = Context(plan=inputs.plan, part=inputs.part, stages=(stage,), finish=Finish((), {}, {}))
    assert len(list(rules.hidden.check(context, stage, stage.cuts[0]))) == told


def test_a_straight_setup_asks_nothing() -> None:
    inputs = read_inputs(dish(), plan(0.0), {})
    assert looked_at(inputs)[0] is inputs
