"""Corners a little wider than the cutter: it clears them all, and of tighter ones leaves what a closed form tells."""

from __future__ import annotations

import math

import numpy as np
import pytest

from examples import shapes
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, setup, step, taken, tool
from worker.field.lines import Floats, Lines
from worker.field.tight import opened

LOW, HIGH = (30.0, 20.0), (130.0, 100.0)


class Rounded:
    """A rectangle of 100 x 80 with round corners, exactly."""

    def __init__(self, radius: float) -> None:
        self.radius = radius

    def scan(self, along: int, at: Floats) -> Lines:
        """Its stretches: a quarter circle shorter at each end beside a corner."""
        r, other = self.radius, 1 - along
        inside = np.flatnonzero((at > LOW[other]) & (at < HIGH[other]))
        y = at[inside]
        past = np.maximum(np.maximum(LOW[other] + r - y, y - HIGH[other] + r), 0.0)
        short = r - np.sqrt(r * r - past * past)
        return Lines(inside, LOW[along] + short, HIGH[along] - short)


def left(radius: float, cutter: float) -> float:
    """Area that a cutter of that radius leaves in the corners, by lines 0.05 apart (mm2)."""
    region, at = Rounded(radius), np.arange(LOW[1] + 0.025, HIGH[1], 0.05)
    weight = np.full(len(at), 0.05)
    return region.scan(0, at).total(weight) - opened(region, cutter, (0, 0, 160, 120)).scan(0, at).total(weight)


@pytest.mark.parametrize("cutter", [20.0, 24.0, 25.0, 25.5, 25.9])
def test_a_corner_that_is_wider_than_the_cutter_is_cleared(cutter: float) -> None:
    assert left(26.0, cutter) < 0.01


@pytest.mark.parametrize(("radius", "cutter"), [(24.0, 25.0), (20.0, 25.0), (5.0, 25.0)])
def test_a_tighter_one_keeps_what_lies_between_two_arcs_and_the_walls(radius: float, cutter: float) -> None:
    """Four times (1 - pi / 4) (R^2 - r^2): a square's corner less its quarter circle, of the cutter and of the wall; up
    to what discs about points 1/48 of the radius apart are widened by along four quarter circles, and half as much."""
    widened = cutter / (4 * 48**2) * math.tau * cutter
    exact = 4 * (1 - math.pi / 4) * (cutter**2 - radius**2)
    assert exact - 1.5 * widened < left(radius, cutter) <= exact


@pytest.mark.parametrize(("radius", "kept"), [(26, 26), (24, 25)])
def test_a_window_with_corners_about_as_wide_as_the_mill_is_cut(radius: float, kept: float) -> None:
    """Volume: 100 x 80 less what corners of that radius round off, through 40 (closed form); both computations."""
    window = shapes.rounded_block((30, 20, -1), (130, 100, 41), radius)
    part = shapes.cut(shapes.box((0, 0, 0), (160, 120, 40)), window)
    milled = step("bottom_and_side_finish_milling", tool("endmill", 50), {"class": "closed_pocket"}, overcut_length=1.0)
    stage = agreed(part, plan(raw_box((0, 0, 0), (160, 120, 40)), setup([milled])))
    assert taken(stage) == pytest.approx((8000 - (4 - math.pi) * kept**2) * 40, rel=1e-9)
