"""What counts as the wall beside a cut does not hang on how large the part is: a shank no thicker than its drill.

A spot of 2 mm on a floor 20 below the top: its tip is 22 mm below the wall beside it, and LU is 12.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from examples.shapes import box, cut, cylinder
from schemas.finding import Finding
from tests.support.block import Json, context_of
from tests.support.trial import plan, raw_box, setup, step, step_bytes, tool
from worker.checks.reach.length import length
from worker.checks.reach.shank import shank
from worker.checks.run import run_checks
from worker.reach import reach_of

HOLDER: list[Json] = [{"diameter": 10, "length": 30}]


def told(side: float, gap: float) -> list[Finding]:
    """Of a block so long and wide, its wall in the middle, ``gap`` beside the spot drill of 6."""
    high = box((0, 0, 0), (side, side, 30))
    part = cut(high, box((side / 2, -1, 10), (side + 1, side + 1, 31)))
    x = side / 2 + gap + 3
    part = cut(part, cylinder((x, side / 2, -1), (x, side / 2, 11), 3))
    spot = tool("spotdrill", 6, SIG=90, LU=12, DMM=6, holder=HOLDER)
    work = step("center_drilling", spot, {"class": "round_hole"}, cutting_depth=2)
    context = context_of(plan(raw_box((0, 0, 0), (side, side, 30)), setup([*_opened(), work])), step_bytes(part))
    (stage,) = context.stages
    reach = {(stage.setup.id, id): found for id, found in reach_of(stage, context.part).items()}
    return [f for f in run_checks(replace(context, reach=reach), (length, shank))[0] if f.workingstep == "20"]


def _opened() -> list[Json]:
    return [step("bottom_and_side_finish_milling", tool("endmill", 10), {"class": "step"})]


@pytest.mark.parametrize("side", [30.0, 150.0])
def test_a_wall_that_the_shank_clears_is_not_beside_the_cut(side: float) -> None:
    assert told(side, 0.7) == []


def test_a_wall_along_which_the_drill_runs_is() -> None:
    (found,) = told(150.0, 0.0)
    assert found.code == "reach.length" and found.limit == pytest.approx(22.0, abs=1e-3)
