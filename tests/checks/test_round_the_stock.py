"""The room that a tool needs round the stock, in the rules: one code a contact, and its remedy's value mends it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from schemas.finding import Finding
from tests.support.block import Json, context_of
from tests.support.plans import applied
from tests.support.plate import on_plate, plate
from worker.checks.run import run_checks
from worker.reach import reach_of

CODES = {"cut.workholding", "reach.stickout", "reach.shank", "access.covered"}
EM16: Json = {"id": "EM16", "type": "endmill", "DC": 16, "APMX": 20, "LU": 30, "stickout": 60}


def _plan(post: list[list[float]], **tool: object) -> Json:
    """The plate with 2 mm round it, milled all round to its bottom, between a clamp on its top and a post."""
    plan = on_plate()
    plan["workpiece"]["rawpiece"] = {"box": {"min": [-2, -2, 0], "max": [82, 52, 10]}}
    plan["tools"].append({**EM16, **tool})
    held = plan["setups"][0]["workholding"]
    held["elements"] = [e for e in held["elements"] if e["type"] in ("plate", "jack")]
    held["elements"] += [
        {"type": "clamp", "name": "clamp", "box": {"min": [30, 20, 0], "max": [50, 30, 1]}},
        {"type": "bolt", "name": "post", "box": {"min": post[0], "max": post[1]}},
    ]
    profile = {
        "id": "5",
        "operation": "side_finish_milling",
        "tool": "EM16",
        "features": [{"class": "profile_feature"}],
    }
    plan["setups"][0]["workingsteps"] = [{**profile, "bottom_z": -10}]
    return plan


def _told(plan: Json) -> list[Finding]:
    context = context_of(plan, plate())
    found = {("S1", id): reach for id, reach in reach_of(context.stages[0], context.part).items()}
    findings, _ = run_checks(replace(context, reach=found))
    return [f for f in findings if f.code in CODES]


def test_a_post_out_of_the_way_is_sound() -> None:
    assert _told(_plan([[20, 66.1, -30], [40, 80, 20]])) == []


def test_the_cutter_does_not_pass_a_post() -> None:
    """12 mm of room between the wall at y = 50 and the post, for a cutter of 16 mm."""
    plan = _plan([[20, 62, -30], [40, 80, 20]])
    told = _told(plan)
    assert [(f.code, f.workingstep) for f in told] == [("cut.workholding", "5")]
    assert told[0].limit == pytest.approx(12.0, abs=1e-3) and told[0].remedy and told[0].remedy.value == "EM8"
    assert _told(applied(plan, told[0].remedy)) == []


def test_a_holder_that_meets_the_post_is_told_by_its_stickout() -> None:
    """Axis at y = 58, post from y = 68: a holder of 24 mm meets it, 30 mm over the tip."""
    plan = _plan([[20, 68, -30], [40, 80, 20]], stickout=25, holder=[{"diameter": 24, "length": 40}])
    told = _told(plan)
    assert [(f.code, f.measured, f.limit) for f in told] == [("reach.stickout", 25.0, pytest.approx(30.0, abs=0.02))]
    assert told[0].remedy and "or move post away" in told[0].remedy.text
    assert _told(applied(plan, told[0].remedy)) == []


def test_a_shank_that_meets_the_post_enters_the_workholding() -> None:
    """Axis at y = 58, post from y = 68: a shank of 24 mm above LU = 20 goes 10 mm below its top."""
    plan = _plan([[20, 68, -30], [40, 80, 20]], DMM=24, LU=20)
    told = _told(plan)
    assert [(f.code, f.measured) for f in told] == [("cut.workholding", pytest.approx(10.0, abs=0.02))]
    assert told[0].remedy and told[0].remedy.value == pytest.approx(30.0, abs=0.02)
    assert _told(applied(plan, told[0].remedy)) == []
