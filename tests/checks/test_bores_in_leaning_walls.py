"""A step whose wall leans and has a lying bore in it: both computations cut it by the same heights (closed form)."""

from __future__ import annotations

import json

import pytest

from examples.shapes import cut, cylinder, polygon, prism
from tests.support.trial import FAR_PLATE, plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan


def test_the_wall_is_cut_from_where_the_bore_begins_and_where_it_ends() -> None:
    """A wall from (15, 4) up to (11, 20), a bore of 8 at height 10 in it. Over a height the wall keeps the cutter off
    by what it covers there, so it clears 15, 15.5 and 17.5 wide from 4, from 6 and from 14 up."""
    side = [(0, 0), (30, 0), (30, 4), (15, 4), (11, 20), (0, 20)]
    wall = prism(polygon([(0, y, z) for y, z in side]), (40, 0, 0))
    part = cut(wall, cylinder((20, -1, 10), (20, 31, 10), 8))
    work = step("bottom_and_side_finish_milling", tool("endmill", 12), {"class": "step"})
    document = plan(raw_box((0, 0, 0), (40, 30, 20)), setup([work], workholding=FAR_PLATE))
    report = check_plan(step_bytes(part), json.dumps(document).encode(), {}).report
    assert report.setups[0].workingsteps[0].removal == pytest.approx(40 * (15 * 2 + 15.5 * 8 + 17.5 * 6), rel=1e-6)
    assert "evidence.disagreement" not in {f.code for f in report.findings}
