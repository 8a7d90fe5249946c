"""Who takes what off features narrower than any allowance round a tool's plan; sizes as drawn."""

from __future__ import annotations

import pytest

from examples.shapes import box, cut, cylinder
from tests.support.trial import inputs, plan, setup, step, tool
from worker.facts import finish_of
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve


@pytest.mark.parametrize("width", [0.3, 1.6])
def test_a_slit_and_a_fine_hole_are_taken_by_their_own_steps(width: float) -> None:
    part = cut(
        box((0, 0, 0), (40, 30, 10)),
        box((10, -1, 7), (10 + width, 31, 11)),
        cylinder((30, 15, -1), (30, 15, 11), width),
    )
    steps = [
        step("bottom_and_side_finish_milling", tool("endmill", width), {"class": "slot"}),
        step("drilling", tool("twist_drill", width, SIG=118, LU=60), {"class": "round_hole"}),
    ]
    found = inputs(part, plan({"box": {"min": [0, 0, 0], "max": [40, 30, 10]}}, setup(steps)))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    finish = finish_of(found.part, cut_all(found, resolved, lambda _: None))
    classes = {found.part.feature(id).class_ for ids in finish.reached.values() for id in ids}
    assert {"slot", "round_hole"} <= classes and not finish.residual
