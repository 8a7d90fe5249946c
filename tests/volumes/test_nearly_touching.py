"""Cutters and walls that touch or miss each other by a hair: plan in, stage volume out, against closed forms (1e-6).

Below COINCIDENT two walls are one; from there to a micrometre the kernel's sections are at their worst.
"""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse, rounded_block
from tests.support.trial import plan, raw_box, setup, stages_of, step, to_be, tool
from worker.kernel.planar import grow, rectangle
from worker.stage.removal.levels import _with_hairs

REL = 1e-6
PI = math.pi
FINISH = "bottom_and_side_finish_milling"
RAW = raw_box((-50, -40, -30), (50, 40, 0))
BLOCK = 100 * 80 * 30
POCKET = 60 * 40 * 15 - (4 - PI) * 25 * 15
"""60 x 40 x 15 with corner radius 5."""
OFF = (-1e-4, -1e-5, -1e-6, 0.0, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3)


def block() -> Shape:
    return box((-50, -40, -30), (50, 40, 0))


def pocket() -> Shape:
    return rounded_block((-30, -20, -15), (30, 20, 1), 5)


def bore(x: float, y: float, diameter: float) -> Shape:
    return cylinder((x, y, -31), (x, y, 1), diameter)


def milled(diameter: float, x: float, y: float, z: float) -> dict[str, object]:
    return step(FINISH, tool("endmill", diameter), {"at": [x, y, z]})


def drilled(diameter: float) -> dict[str, object]:
    return step("drilling", tool("twist_drill", diameter, SIG=118), {"class": "round_hole"}, overcut_length=6)


def beyond(radius: float, distance: float) -> float:
    """Area of a circle beyond a line at a distance from its centre: R^2 acos(d/R) - d sqrt(R^2 - d^2)."""
    if distance >= radius:
        return 0.0
    return radius**2 * math.acos(distance / radius) - distance * math.sqrt(radius**2 - distance**2)


@pytest.mark.parametrize("off", OFF)
def test_a_cutter_of_the_corners_own_radius(off: float) -> None:
    # corners keep (4 - pi) r^2 h of the larger of the two radii
    part = cut(block(), pocket())
    (stage,) = stages_of(part, plan(RAW, setup([milled(2 * (5 + off), 0, 0, -15)])))
    corners = (4 - PI) * max(5, 5 + off) ** 2 * 15
    assert to_be(stage) == pytest.approx(BLOCK - (60 * 40 * 15 - corners), rel=REL)


@pytest.mark.parametrize("off", [o for o in OFF if o > -1e-4])
def test_a_cutter_as_wide_as_its_slot(off: float) -> None:
    # w L d + pi w^2/4 d, width 10 + 2 off, length between centres 40, depth 8
    w = 10 + 2 * off
    ends = [cylinder((x, 0, -8), (x, 0, 1), w) for x in (-20, 20)]
    part = cut(block(), fuse(box((-20, -w / 2, -8), (20, w / 2, 1)), *ends))
    (stage,) = stages_of(part, plan(RAW, setup([milled(10, 0, 0, -8)])))
    assert to_be(stage) == pytest.approx(BLOCK - (w * 40 + PI * w * w / 4) * 8, rel=REL)


@pytest.mark.parametrize("off", OFF)
def test_two_bores_side_by_side(off: float) -> None:
    # two discs of radius 5 at 10 + off; where they overlap, twice the segment beyond half of that
    part = cut(block(), bore(0, 0, 10), bore(10 + off, 0, 10))
    (stage,) = stages_of(part, plan(RAW, setup([drilled(10)])))
    assert to_be(stage) == pytest.approx(BLOCK - (2 * PI * 25 - 2 * beyond(5, 5 + off / 2)) * 30, rel=REL)


@pytest.mark.parametrize("off", [o for o in OFF if o >= 0])
def test_a_bore_on_the_axis_of_a_pockets_corner(off: float) -> None:
    # of the disc of 5 + off above the floor, what the pocket lacks: a quarter ring, and two halves beyond its walls
    radius = 5 + off
    part = cut(block(), pocket(), bore(25, 15, 2 * radius))
    (stage,) = stages_of(part, plan(RAW, setup([milled(10, -10, 0, -15), drilled(2 * radius)])))
    outside = PI / 4 * (radius**2 - 25) + beyond(radius, 5)
    assert to_be(stage) == pytest.approx(BLOCK - (POCKET + PI * radius**2 * 15 + outside * 15), rel=REL)


@pytest.mark.parametrize("off", [o for o in OFF if o])
def test_a_floor_a_hair_above_or_below(off: float) -> None:
    # first to 15 - |off|, then to the floor
    part = cut(block(), pocket())
    works = [milled(10, 0, 0, -15) | {"bottom_z": -15 + abs(off)}, milled(10, 0, 0, -15)]
    (stage,) = stages_of(part, plan(RAW, setup(works)))
    assert to_be(stage) == pytest.approx(BLOCK - POCKET, rel=REL)


def test_a_face_that_ends_just_below_a_level_bars_nothing_by_itself() -> None:
    """A hair along what stands above the level widens it; one by itself is no metal above the level, and an allowance
    of 0.3 round it would make a post that keeps a cutter out of a gap."""
    standing, beside, alone = rectangle(0, 0, 10, 5), rectangle(10, 0, 10.001, 5), rectangle(20, 0, 20.05, 0.001)
    found = _with_hairs(standing, [beside, alone])
    assert found.area == pytest.approx(50 + 0.005, abs=1e-9)
    assert grow(found, 0.3).bounds[2] == pytest.approx(10.301)
    assert _with_hairs(standing, [alone]).area == pytest.approx(50)
