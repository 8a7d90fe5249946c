"""A window through a pocket's wall, its sill level with the floor, cut from aside no deeper than the wall."""

from __future__ import annotations

import json
import math

import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, removals, setup, step, step_bytes, tool
from worker.pipeline import check_plan

R = 1.5
CORNERS = (4 - math.pi) * R**2
"""What a cutter of that radius leaves of the four corners of a window (mm2)."""
ONE = box((40, -1, 8), (60, 20, 14))
ACROSS = box((40, -1, 8), (60, 61, 14))


def walled(*windows: Shape) -> Shape:
    """A block of 100 x 60 x 20 with a pocket 12 deep inside walls 15 thick."""
    return cut(box((0, 0, 0), (100, 60, 20)), box((30, 15, 8), (70, 45, 21)), *windows)


def from_aside(side: float, cutting_length: float = 100.0) -> Json:
    """A setup that sees the windows, of a blank 2 larger all round."""
    cutter = tool("endmill", 2 * R, APMX=cutting_length, LU=cutting_length)
    side_wall = {"class": "closed_pocket", "at": [40, 7, 11]}
    works = step("bottom_and_side_finish_milling", cutter, side_wall, overcut_length=1.0)
    return plan(raw_box((-2, -2, -2), (102, 62, 22)), setup([works], (0, side, 0)))


def test_window_is_as_deep_as_its_wall() -> None:
    """20 x 6 through 15 of wall, 2 of the blank before it and 1 of overcut behind it."""
    (taken,) = removals(agreed(walled(ONE), from_aside(-1)))
    assert taken == pytest.approx((20 * 6 - CORNERS) * 18, rel=1e-6)


def test_one_in_both_walls_goes_right_across() -> None:
    (taken,) = removals(agreed(walled(ACROSS), from_aside(-1)))
    assert taken == pytest.approx((20 * 6 - CORNERS) * 63, rel=1e-6)
    assert removals(agreed(walled(ACROSS), from_aside(1))) == [pytest.approx(taken, rel=1e-6)]


def test_one_with_round_ends() -> None:
    ends = [cylinder((x, -1, 11), (x, 20, 11), 6) for x in (45, 55)]
    document = from_aside(-1)
    document["setups"][0]["workingsteps"][0]["features"] = [{"class": "slot", "normal": [0, -1, 0]}]
    (taken,) = removals(agreed(walled(fuse(box((45, -1, 8), (55, 20, 14)), *ends)), document))
    assert taken == pytest.approx((10 * 6 + math.pi * 9) * 18, rel=1e-6)


def test_cutter_as_long_as_the_wall_is_long_enough() -> None:
    document = from_aside(-1, 19.0)
    told = {f.code for f in check_plan(step_bytes(walled(ONE)), json.dumps(document).encode(), {}).report.findings}
    assert not told & {"reach.length", "reach.shank", "cut.gouge", "cut.nothing", "evidence.disagreement"}
