"""Bays of a contour and walls with holes in them, cut from aside: both computations tell the same; closed forms."""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, cut, cylinder
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, removals, setup, step, tool

R = 3.0
SQUARE_CORNER = (1 - math.pi / 4) * R**2
"""What a cutter of that radius leaves of a square inner corner: the square less the quarter of a circle (mm2)."""


def fork(*holes: Shape) -> Shape:
    """60 x 30 x 40, a gap of 36 right through along Y, down to z = 15."""
    return cut(box((-30, -15, 0), (30, 15, 40)), box((-18, -16, 15), (18, 16, 41)), *holes)


def from_aside(feature: Json) -> Json:
    """A setup along Y of a blank 2 larger all round, and a cutter of the radius that a 36 wide gap has room for."""
    works = step("bottom_and_side_finish_milling" if feature["class"] != "profile_feature" else "side_finish_milling",
                 tool("endmill", 2 * R), feature)  # fmt: skip
    return plan(raw_box((-32, -17, -2), (32, 17, 42)), setup([works], (0, 1, 0)))


def test_inner_corners_of_a_contour_stay_round() -> None:
    """All outside the fork's outline down to its back, but for two square corners."""
    (taken,) = removals(agreed(fork(), from_aside({"class": "profile_feature", "axis": [0, 1, 0]})))
    outline = 60 * 40 - 36 * 25
    assert taken == pytest.approx((64 * 44 - outline - 2 * SQUARE_CORNER) * 32, rel=1e-6)


@pytest.mark.parametrize("hole", [14.0, 24.0])
def test_hole_in_the_floor_of_a_gap_is_no_end_of_it(hole: float) -> None:
    """The gap, up to the top of the blank and out of its front, but for two square corners."""
    part = fork(cylinder((0, 0, -1), (0, 0, 16), hole))
    (taken,) = removals(agreed(part, from_aside({"class": "slot"})))
    assert taken == pytest.approx((36 * 27 - 2 * SQUARE_CORNER) * 32, rel=1e-6)


@pytest.mark.parametrize("groove", [25.0, 23.0])
def test_groove_round_a_half_bore_leaves_one_wall(groove: float) -> None:
    """A bearing cap's half bore ø44, cut along its axis past the groove in it: half a circle and the blank below it."""
    body = cut(box((-30, -15, 0), (30, 15, 40)), cylinder((0, -16, 0), (0, 16, 0), 44))
    part = cut(body, cylinder((0, -3, 0), (0, 3, 0), 2 * groove))
    (taken,) = removals(agreed(part, from_aside({"class": "open_pocket"})))
    assert taken == pytest.approx((math.pi * 22**2 / 2 + 44 * 2) * 32, rel=1e-6)
