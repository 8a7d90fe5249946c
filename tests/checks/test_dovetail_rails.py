"""A dovetail that stands out: an end mill clears the metal beside it, then a dovetail cutter its flanks, from one side.

20 wide at its foot, 8 high, flanks that lean out 1 in 2: the end mill leaves 4 * 8 / 2 * 40 = 640 mm3 under each flank.
"""

from __future__ import annotations

import math

import pytest

from examples.shapes import box, fuse, polygon, prism
from schemas.finding import Finding
from tests.support.block import Json, judged
from tests.support.trial import plan, raw_box, removals, setup, stages_of, step, step_bytes, tool

OUTLINE = [(20, 0, 10), (40, 0, 10), (44, 0, 18), (16, 0, 18)]
RAIL = step_bytes(fuse(box((0, 0, 0), (60, 40, 10)), prism(polygon(OUTLINE), (0, 40, 0))))
FLANKS = {"class": "slot", "count": 2}
CLEAR = step("bottom_and_side_rough_milling", tool("endmill", 10), FLANKS)
CUTTER = tool("dovetail_mill", 20, APMX=8, KAPR=math.degrees(math.atan2(8, 4)), DN=10, LU=20, DMM=12)
FINISH = step("bottom_and_side_finish_milling", CUTTER, FLANKS)


def _plan(*steps: Json) -> Json:
    return plan(raw_box((0, 0, 0), (60, 40, 18)), setup(steps))


def _told(*steps: Json) -> list[Finding]:
    found, _ = judged(_plan(*steps), RAIL)
    return [f for f in found if f.code.split(".")[0] in ("access", "left", "cut")]


def test_an_end_mill_may_clear_the_way_for_the_dovetail_cutter() -> None:
    assert _told(CLEAR, FINISH) == []
    (stage,) = stages_of(RAIL, _plan(CLEAR, FINISH))
    assert removals(stage) == pytest.approx([2 * 16 * 8 * 40, 2 * 640], rel=1e-6)


def test_an_end_mill_alone_does_not_see_the_flanks() -> None:
    assert "access.hidden" in {f.code for f in _told(CLEAR)}
