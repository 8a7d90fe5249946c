"""Spots of holes that are tapped: they may open the mouth as wide as a thread's countersink, and no wider.

DIN 76-1 (from memory): the countersink of an internal thread is 1 to 1.05 times as wide as its major diameter.
"""

from __future__ import annotations

import functools
from typing import Any

import pytest

from schemas.finding import Finding
from tests.support.block import as_step, told
from tests.support.trial import plan, raw_box, setup, step, tool
from worker.kernel import boolean
from worker.kernel import primitives as solid

HOLE = {"class": "round_hole"}
TAP = tool("tapping_cutting_tool", thread="M4", LU=20)
WIDEST = 1.05 * 4 / 2
"""Depth of a point of 90 degrees that opens M4's mouth as wide as is usual: half as wide."""


@functools.cache
def _block(pointed: bool) -> bytes:
    """30 x 30 x 20 with a hole for M4, 12 deep, with a point of 118 degrees or a flat floor."""
    hole = solid.cylinder((15, 15, 8), (15, 15, 21), 3.3)
    cutters = [hole, solid.cone((15, 15, 8), (15, 15, 7.00858), 3.3, 0)] if pointed else [hole]
    return as_step(boolean.cut(solid.box((0, 0, 0), (30, 30, 20)), cutters))


def _gouges(cutter: Any, *, tapped: bool = True, pointed: bool = True, **keys: Any) -> list[Finding]:
    spot = step("center_drilling", cutter, HOLE, **keys)
    drilled = step("drilling", tool("twist_drill", 3.3, SIG=118, LU=40), HOLE)
    steps = [spot, drilled, *([step("tapping", TAP, HOLE, cutting_depth=8)] if tapped else [])]
    found = told(plan(raw_box((0, 0, 0), (30, 30, 20)), setup(steps)), _block(pointed))
    return [f for f in found if f.code == "cut.gouge"]


SPOT = tool("spotdrill", 6, SIG=90, LU=10)


@pytest.mark.parametrize("depth", [1.65, 2.0, WIDEST])
def test_a_spot_opens_the_mouth_of_a_thread(depth: float) -> None:
    assert _gouges(SPOT, cutting_depth=depth) == []


def test_a_wider_mouth_is_told_with_the_depth_that_is_usual() -> None:
    (found,) = _gouges(SPOT, cutting_depth=2.4)
    assert found.remedy is not None and found.remedy.pointer == "/setups/0/workingsteps/0/cutting_depth"
    assert found.remedy.value == pytest.approx(WIDEST)


@pytest.mark.parametrize("pointed", [True, False])
def test_without_a_thread_the_spot_keeps_within_its_hole(pointed: bool) -> None:
    """Of 90 degrees, it is as deep as half the hole is wide, whatever bottom the hole has."""
    (found,) = _gouges(SPOT, tapped=False, pointed=pointed, cutting_depth=2.0)
    assert found.remedy is not None and found.remedy.pointer == "/setups/0/workingsteps/0/cutting_depth"
    assert found.remedy.value == pytest.approx(3.3 / 2)


def test_a_spot_drill_as_wide_as_the_thread_takes_the_thread_when_it_goes_on() -> None:
    """Its point, 2 long, opens the mouth; 6 deep it bores 4 mm of the thread away."""
    narrow = tool("spotdrill", 4, SIG=90, LU=10)
    assert _gouges(narrow, cutting_depth=2.0) == []
    assert [f.code for f in _gouges(narrow, cutting_depth=6.0)] == ["cut.gouge"]
