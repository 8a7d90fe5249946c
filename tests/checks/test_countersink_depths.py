"""Depths of a countersink wider than its hole's mouth: at the full width (contract), they end above the face."""

from __future__ import annotations

import pytest

from examples.shapes import box, cone, cut, cylinder, fuse
from tests.support.block import told
from tests.support.plans import applied
from tests.support.trial import plan, setup, step, step_bytes, tool


def test_a_countersink_that_goes_too_deep_is_told_where_its_tip_belongs() -> None:
    """A mouth of 8 at 90 degrees: a point goes 4 deep, where the full width of 12 stays 2 above the face."""
    sunk = fuse(cylinder((20, 20, -1), (20, 20, 21), 4), cone((20, 20, 16), (20, 20, 20), 0, 8))
    part = step_bytes(cut(box((0, 0, 0), (40, 40, 20)), sunk))
    drill = step(
        "drilling", tool("twist_drill", 4, SIG=118, LU=40), {"class": "round_hole", "diameter": 4}, overcut_length=1
    )
    sink = step(
        "counter_sinking", tool("countersink", 12, SIG=90, LU=16), {"class": "countersunk_hole"}, cutting_depth=1
    )
    deep = plan({"box": {"min": [0, 0, 0], "max": [40, 40, 20]}}, setup([drill, sink]))
    (found,) = [f for f in told(deep, part) if f.code == "cut.gouge"]
    assert found.remedy and found.remedy.value == pytest.approx(-4.0, abs=1e-3)
    del deep["setups"][0]["workingsteps"][1]["cutting_depth"]  # the remedy puts bottom_z in its place
    assert not {f.code for f in told(applied(deep, found.remedy), part)} & {"cut.gouge", "left.stock", "depth.short"}
