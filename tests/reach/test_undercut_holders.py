"""Holders beside a T-slot, by hand: foot 18 wide and 20 deep, a wall along it at y = ``gap``, ``high`` above the top.

To cut the foot's far side a head of radius r runs with its axis at y = 9 - r, so a holder of radius R stands beside the
wall where R <= gap - (9 - r), above the block's top alone: 20 over the tip; else above the wall, 20 + ``high``.
"""

from __future__ import annotations

import pytest

from examples.shapes import box, fuse
from tests.support.trial import inputs, plan, setup, stages_of, step, step_bytes
from tests.support.undercut import FINISH, t_mill, t_slot, turned, with_mouth
from worker.reach import reach_of

FOOT = {"class": "slot", "at": [0, 9, -16]}


@pytest.mark.parametrize(
    ("head", "gap", "tilted"),
    [(18, 15.1, False), (18, 14.9, True), (16, 16.1, True), (16, 15.9, False)],
)
def test_a_holder_clears_the_wall_or_what_lies_below_it(head: float, gap: float, tilted: bool) -> None:
    high, radius = 6.0, 15.0
    part, raw = (fuse(shape, box((-40, gap, 0), (40, 30, high))) for shape in (t_slot(), with_mouth()))
    axis, ref, at = (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), FOOT
    if tilted:
        (part, axis, ref), (raw, _, _) = turned(part), turned(raw)
        at = {"class": "slot"}
    cutter = {**t_mill(DC=head, DN=7, DMM=7), "holder": [{"diameter": 2 * radius, "length": 40}]}
    one = setup([step(FINISH, cutter, at)], axis=axis, ref_direction=list(ref), location=[0, 0, 0])
    document, files = plan({"step": "RAW"}, one), {"RAW": step_bytes(raw)}
    (stage,) = stages_of(part, document, files)
    found = reach_of(stage, inputs(part, document, files).part)["10"]
    expected = 20.0 if radius <= gap - (9 - head / 2) else 20.0 + high
    assert found.clearing == pytest.approx(expected, abs=0.02)
