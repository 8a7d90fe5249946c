"""Contours round faces that the spindle sees from aside, against closed forms: their chords end inside them."""

from __future__ import annotations

import pytest

from examples.shapes import box, cylinder, fuse
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, removals, setup, step, tool


@pytest.mark.parametrize("diameter", [32.0, 50.0])
def test_a_hub_wider_than_its_bar_is_as_wide_as_its_cylinder(diameter: float) -> None:
    """A bar of 120 x 30 x 14 with a hub 26 high; its contour from an end leaves what the hub covers, seen from there,
    all along the bar: the blank is 60 x 38 across and 1 longer at the near end."""
    part = fuse(box((-60, -15, 0), (60, 15, 14)), cylinder((0, 0, 0), (0, 0, 26), diameter))
    contour = {"class": "profile_feature", "axis": [1, 0, 0]}
    work = step("side_finish_milling", tool("endmill", 16, APMX=150), contour)
    blank = raw_box((-61, -30, -8), (61, 30, 30))
    stage = agreed(part, plan(blank, setup([work], axis=(1, 0, 0), ref_direction=[0, 1, 0])))
    assert removals(stage) == pytest.approx([(60 * 38 - diameter * 26) * 121], rel=1e-9)
