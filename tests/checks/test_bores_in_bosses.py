"""A bore in a low boss that no step makes is told as forgotten, never as what the pocket's cutter was too large for."""

from __future__ import annotations

import json

import pytest

from examples.shapes import box, cut, cylinder, rounded_block
from schemas.finding import Finding
from tests.support.trial import Json, plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan


def told(*steps: Json) -> list[Finding]:
    """A pocket 68 x 68 with a boss ø30, bored ø20 10 deep from its top, in the part's own box; nothing holds it."""
    hollow = cut(rounded_block((6, 6, 8), (74, 74, 26), 6), cylinder((40, 40, 7), (40, 40, 20), 30))
    part = cut(box((0, 0, 0), (80, 80, 25)), hollow, cylinder((40, 40, 10), (40, 40, 26), 20))
    document = json.dumps(plan(raw_box((0, 0, 0), (80, 80, 25)), setup(steps))).encode()
    findings = check_plan(step_bytes(part), document, {}).report.findings
    return [f for f in findings if f.level == "error" and not f.code.startswith("hold.")]


POCKET = step("bottom_and_side_finish_milling", tool("endmill", 6), {"class": "closed_pocket"})
BORE = step("bottom_and_side_finish_milling", tool("endmill", 8), {"class": "round_hole"})


@pytest.mark.parametrize("order", [(POCKET, BORE), (BORE, POCKET)])
def test_pocket_and_bore_are_both_needed_in_either_order(order: tuple[Json, Json]) -> None:
    assert told(*order) == []


def test_forgotten_bore_is_told_as_such() -> None:
    found = told(POCKET)
    assert {f.code for f in found} == {"left.feature", "left.stock"}
    assert all(f.features[0].startswith("round_hole") and f.workingstep is None for f in found)
