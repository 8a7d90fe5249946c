"""A bore that nicks a hub above a web: its wall goes on over its seam, and later cuts still find the metal."""

from __future__ import annotations

import math

import pytest

from examples.shapes import box, cut, cylinder, fuse
from tests.support.trial import plan, raw_box, setup, stages_of, step, to_be, tool

UP, DOWN = (0, 0, 1), (0, 0, -1)


def test_bore_that_nicks_a_hub_leaves_metal_that_the_next_setup_can_face() -> None:
    """A bar of 120 x 30 with hubs of diameter 40 at 25 and -30, a bore of diameter 12 between them that reaches 1 into
    the one; turned over, 2 of a blank 124 x 44 are faced off round the bore."""
    hubs = [cylinder((x, 0, 0), (x, 0, 26), 40) for x in (-30, 25)]
    part = cut(fuse(box((-60, -15, 0), (60, 15, 14)), *hubs), cylinder((0, 0, -1), (0, 0, 40), 12))
    mill = tool("endmill", 4)
    first = [
        step("plane_finish_milling", mill, {"class": "planar_face", "at": [25, 0, 26]}),
        step("side_finish_milling", tool("endmill", 3), {"class": "profile_feature", "axis": [0, 0, 1]}),
        step("plane_finish_milling", mill, {"class": "planar_face", "at": [55, 0, 14]}),
        step("drilling", tool("twist_drill", 12, SIG=118, LU=100), {"class": "round_hole"}, overcut_length=2),
    ]
    second = step("plane_finish_milling", mill, {"class": "planar_face", "normal": [0, 0, -1]})
    blank = raw_box((-62, -22, -2), (62, 22, 28))
    one, two = stages_of(part, plan(blank, setup(first, UP), setup([second], DOWN)))
    assert one.failures == () == two.failures
    assert to_be(one) - to_be(two) == pytest.approx(2 * (124 * 44 - math.pi * 36), rel=1e-7)
