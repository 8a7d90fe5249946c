"""Chamfers and rounds on upright edges, cut by a mill's side: both computations against closed forms.

What stands past a quarter round of radius r in a square corner has the section (1 - pi/4) r^2, past a chamfer of
equal legs c half their square.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from bench.rewrites import as_splines, in_halves
from examples.shapes import Shape, box, cut, cylinder, polygon, prism, volume
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, removals, setup, step, tool
from worker.kernel.shape import Body
from worker.stage.model import Stage

X, Y, Z, R, C, OVER = 40.0, 30.0, 60.0, 5.0, 3.0, 2.0
ROUND, CHAMFER = {"class": "edge_round"}, {"class": "chamfer"}
SIDE = "side_finish_milling"


def corner_block() -> Shape:
    """A bar along X, upright in the setup: one of its edges is round, the one across from it chamfered."""
    sharp = cut(box((-1, -1, -1), (Z + 1, R, R)), cylinder((-2, R, R), (Z + 2, R, R), 2 * R))
    off = prism(polygon([(-1, X - C - 1, Y + 1), (-1, X + 1, Y - C - 1), (-1, X + 1, Y + 1)]), (Z + 2, 0, 0))
    return cut(box((0, 0, 0), (Z, X, Y)), sharp, off)


def seen(part: Shape, over: float, *works, **keys) -> Stage:
    raw = raw_box((0, -over, -over), (Z, X + over, Y + over))
    return agreed(part, plan(raw, setup(list(works), axis=(1, 0, 0), **keys)))


def mill(DC: float, **sizes):
    return tool("endmill", DC, **sizes)


@pytest.mark.parametrize("DC", [6, 16, 40])
def test_the_side_of_any_mill_makes_a_round_and_a_chamfer(DC: float) -> None:
    part = corner_block()
    stage = seen(
        part, 0.0, step(SIDE, mill(DC), ROUND, overcut_length=1), step(SIDE, mill(DC), CHAMFER, overcut_length=1)
    )
    assert removals(stage) == pytest.approx([(1 - math.pi / 4) * R**2 * Z, C**2 / 2 * Z], rel=1e-6)
    assert volume(stage.to_be.wrapped) == pytest.approx(volume(part), rel=1e-9)


def test_the_overcut_goes_on_below_the_part() -> None:
    low = raw_box((-OVER, 0, 0), (Z, X, Y))
    works = [step(SIDE, mill(10), one, overcut_length=1.5) for one in (ROUND, CHAMFER)]
    stage = agreed(corner_block(), plan(low, setup(works, axis=(1, 0, 0))))
    assert removals(stage) == pytest.approx([(1 - math.pi / 4) * R**2 * (Z + 1.5), C**2 / 2 * (Z + 1.5)], rel=1e-6)


def test_a_setup_that_lies_askew_cuts_the_same() -> None:
    part = corner_block()
    stage = seen(part, 0.0, step(SIDE, mill(10), ROUND, CHAMFER), ref_direction=[0, math.cos(0.4), math.sin(0.4)])
    assert volume(stage.to_be.wrapped) == pytest.approx(volume(part), rel=1e-9)


@pytest.mark.parametrize("rewrite", [in_halves, as_splines])
def test_who_wrote_the_part_does_not_matter(rewrite) -> None:
    part = rewrite(Body(corner_block()), 1).wrapped
    stage = seen(part, 0.0, step(SIDE, mill(10), ROUND, CHAMFER))
    assert volume(stage.to_be.wrapped) == pytest.approx(volume(corner_block()), rel=1e-6)


def test_stated_depth_and_side_allowance_are_kept() -> None:
    left = 0.4
    stage = seen(corner_block(), 0.0, step(SIDE, mill(10), ROUND, CHAMFER, allowance_side=left, bottom_z=-8))
    beyond = _square_corner_past(R, left)
    assert removals(stage)[0] == pytest.approx(8 * (beyond + (C - left * math.sqrt(2)) ** 2 / 2), rel=1e-6)


def _square_corner_past(radius: float, left: float) -> float:
    """Area of a square corner past a circle of radius + left about the point (radius, radius): sector and triangles."""
    big = radius + left
    reach = math.sqrt(big**2 - radius**2)  # the circle leaves the corner's sides so far from its own middle
    sector = big**2 / 2 * (math.pi / 2 - 2 * math.atan2(reach, radius))
    return radius**2 - radius * reach - sector


def test_in_stock_left_all_round_the_round_is_cut_straight_out_and_on_by_a_radius() -> None:
    """Area by counting a lattice of 0.02 mm: the cutter stands a radius past either end of the arc when it stops."""
    radius = 4.0
    stage = seen(corner_block(), OVER, step(SIDE, mill(2 * radius), ROUND))
    at = np.arange(-OVER + 0.01, 20, 0.02)
    x, y = np.meshgrid(at, at)
    out = (x < R) & (y < R) & (np.hypot(x - R, y - R) > R)
    last = R + radius
    for u, v in ((x, y), (y, x)):
        out |= (u < 0) & (v < last) | (np.hypot(u + radius, v - last) < radius)
    assert removals(stage)[0] / Z == pytest.approx(0.02**2 * np.count_nonzero(out), rel=2e-3)


def test_a_chamfer_mill_has_no_side_for_it() -> None:
    part = corner_block()
    stage = seen(part, 0.0, step("chamfering", tool("chamfer_mill", 10, SIG=90, LU=20), CHAMFER))
    assert removals(stage) == [0.0]
