"""Spots of holes that a wall stands half over: where their cone comes to rest, and whether they guide a drill."""

from __future__ import annotations

import functools
import math
from typing import Any

import pytest

from schemas.finding import Finding
from tests.support.block import as_step, told
from tests.support.trial import plan, raw_box, setup, step, tool
from worker.kernel import boolean
from worker.kernel import primitives as solid

HOLE = {"class": "round_hole"}
WALL, FLOOR = 20.0, -8.0
"""x of the wall, and the ledge's floor below the block's top."""


@functools.cache
def ledge(x: float, diameter: float) -> bytes:
    """60 x 40 x 20, a ledge 8 deep up to the wall, and a through hole in its floor near it."""
    cutters = [solid.box((-1, -1, 12), (WALL, 41, 21)), solid.cylinder((x, 20, -1), (x, 20, 21), diameter)]
    return as_step(boolean.cut(solid.box((0, 0, 0), (60, 40, 20)), cutters))


def spotted(x: float, diameter: float, spot: float, **keys: Any) -> list[Finding]:
    """What is told of the spot and of the drill after it."""
    steps = [
        step("bottom_and_side_finish_milling", tool("endmill", 6, APMX=20), {"class": "step"}),
        step("center_drilling", tool("spotdrill", spot, SIG=90, LU=20), HOLE, **keys),
        step("drilling", tool("twist_drill", diameter, SIG=118, LU=60), HOLE, overcut_length=1),
    ]
    found = told(plan(raw_box((0, 0, 0), (60, 40, 20)), setup(steps)), ledge(x, diameter))
    return [f for f in found if f.workingstep in ("20", "30")]


@pytest.mark.parametrize(("x", "diameter", "spot"), [(17.1, 6.6, 6.0), (17.7, 5.0, 8.0), (19.0, 5.0, 8.0)])
def test_a_spot_that_rests_on_a_walls_edge_is_told_with_the_depth_that_reaches(
    x: float, diameter: float, spot: float
) -> None:
    """Its hole bites into the wall, so that its cone, or its full diameter, comes to rest at the block's top, 0: the
    tip stays min(spot, hole) / 2 below that (90 degrees), above the floor at -8 that the axis goes through."""
    assert x + diameter / 2 > WALL > x
    half = min(spot, diameter) / 2
    nothing, entry = spotted(x, diameter, spot)
    assert (nothing.code, nothing.workingstep, entry.code, entry.workingstep) == (
        "cut.nothing",
        "20",
        "order.entry",
        "30",
    )
    assert nothing.measured == pytest.approx(-half - FLOOR)
    assert nothing.remedy is not None and nothing.remedy.pointer == "/setups/0/workingsteps/1/bottom_z"
    assert nothing.remedy.value == pytest.approx(FLOOR - half)
    codes = {f.code for f in spotted(x, diameter, spot, bottom_z=nothing.remedy.value)}
    deep = math.isclose(spot, 6.0)  # narrower than its hole: it stays in it; else the wall is in the cone's way
    assert codes == (set() if deep else {"cut.gouge"})


def test_a_spot_clear_of_the_wall_guides_its_drill() -> None:
    assert spotted(14.0, 5.0, 10.0) == []


def test_a_spot_with_its_axis_in_the_wall_guides_its_drill() -> None:
    """x 21: the axis meets the block's top."""
    assert {f.code for f in spotted(21.0, 5.0, 8.0)} == set()


@pytest.mark.parametrize(("x", "runs_off"), [(19.0, True), (20.0, True), (20.5, False), (24.0, False)])
def test_a_spot_that_a_cutter_has_opened_as_far_as_its_axis_guides_no_drill(x: float, runs_off: bool) -> None:
    """The ledge after the spot: up to its wall at x 20 the cone is gone, with the half of the drill's way there."""
    steps = [
        step("center_drilling", tool("spotdrill", 5, SIG=90, LU=20), HOLE, cutting_depth=2.0),
        step("bottom_and_side_finish_milling", tool("endmill", 6, APMX=20), {"class": "step"}),
        step("drilling", tool("twist_drill", 5, SIG=118, LU=60), HOLE, overcut_length=1),
    ]
    found = told(plan(raw_box((0, 0, 0), (60, 40, 20)), setup(steps)), ledge(x, 5.0))
    assert [(f.code, f.workingstep) for f in found if f.code == "order.entry"] == [("order.entry", "30")] * runs_off


@pytest.mark.parametrize("first", ["spot", "drill"])
def test_a_spot_where_a_step_has_been_names_that_step(first: str) -> None:
    """A second spot as deep as the first, or one in a hole that is drilled: no edge holds them up."""
    spot = step("center_drilling", tool("spotdrill", 4, SIG=90, LU=20), HOLE)
    drilled = step("drilling", tool("twist_drill", 5, SIG=118, LU=60), HOLE, cutting_depth=10)
    steps = [spot if first == "spot" else drilled, spot]
    found = told(plan(raw_box((0, 0, 0), (60, 40, 20)), setup(steps)), ledge(30.0, 5.0))
    assert not [f for f in found if "on its axis" in f.message]
    assert [f for f in found if f.code in ("cut.nothing", "order.sequence")]
