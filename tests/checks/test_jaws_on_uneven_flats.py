"""Flats that stand back by a few micrometres from what sticks out farthest: jaws meet them as they meet one flat."""

from __future__ import annotations

from tests.support.block import as_step, judged, one_setup, solid_block
from worker.kernel import boolean
from worker.kernel import primitives as solid

BACK = 0.004
"""Less than the tolerance within which a jaw touches (0.01 mm)."""


def test_a_flat_behind_a_narrow_rim_is_opposite_to_the_other_jaw() -> None:
    # The side at y = 40 stands back but for a rim of 2 mm at x = 0: 2 mm of 60 alone would lie opposite to metal.
    stock = boolean.cut(solid_block(), [solid.box((2, 40 - BACK, -1), (61, 41, 21))])
    plan = one_setup([])
    plan["workpiece"]["rawpiece"] = {"step": "bar"}
    findings, runs = judged(plan, as_step(stock), {"bar": as_step(stock)})
    assert "hold.faces" in {run.code for run in runs if run.ran}
    assert "hold.faces" not in {f.code for f in findings}
