"""Recesses in whose wall a head as deep stands that comes out at the part's side: both computations, closed forms."""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, cut, cylinder
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, removals, setup, step, tool

R = 3.0
SQUARE_CORNER = (1 - math.pi / 4) * R**2
"""What a cutter of that radius leaves of a square inner corner: the square less the quarter of a circle (mm2)."""
HIGH = 17.0
"""From floor to the blank's top."""


def headed(recess: Shape, *drilled: Shape) -> Shape:
    """100 x 60 x 30 with a recess down to z = 15."""
    return cut(box((0, 0, 0), (100, 60, 30)), recess, *drilled)


def head(x: float, y: float, diameter: float = 20.0) -> Shape:
    """As deep as the recess."""
    return cylinder((x, y, 15), (x, y, 31), diameter)


def cleared(kind: str) -> Json:
    """The recess alone, out of a blank 2 larger all round."""
    work = step("bottom_and_side_finish_milling", tool("endmill", 2 * R), {"class": kind})
    return plan(raw_box((-2, -2, -2), (102, 62, 32)), setup([work]))


def test_walls_that_a_head_parts_go_on_where_it_comes_out_behind_them() -> None:
    """A slot open at one end; the head takes 4 of its wall and comes out at the side beyond."""
    part = headed(box((-1, 15, 15), (60, 45, 31)), head(40, 54.8))
    (taken,) = removals(agreed(part, cleared("slot")))
    assert taken == pytest.approx((62 * 30 - 2 * SQUARE_CORNER) * HIGH, rel=1e-6)


def test_walls_go_on_to_the_corner_that_such_a_head_took() -> None:
    """A pocket with walls all round but where the head took a corner: its own rectangle."""
    part = headed(box((25, 15, 15), (75, 45, 31)), head(22, 53))
    (taken,) = removals(agreed(part, cleared("closed_pocket")))
    assert taken == pytest.approx((50 * 30 - 4 * SQUARE_CORNER) * HIGH, rel=1e-6)


def test_a_bore_that_parts_the_side_leaves_it_open() -> None:
    """A step whose wall ends in the head, and the bore in that comes out at the step's side."""
    part = headed(box((-1, -1, 15), (101, 23, 31)), head(1, 25, 10), cylinder((1, 25, -1), (1, 25, 16), 5))
    (taken,) = removals(agreed(part, cleared("step")))
    assert taken == pytest.approx(104 * 25 * HIGH, rel=1e-6)


def test_metal_between_wall_and_head_is_seen_to_where_it_runs_out() -> None:
    """A slot right through whose wall the head enters by 0.03: the metal left beside is 0.02 thick 0.2 from its end."""
    part = headed(box((-1, 24, 15), (101, 36, 31)), head(94.38, 14.03))
    (taken,) = removals(agreed(part, cleared("slot")))
    assert taken == pytest.approx(104 * 12 * HIGH, rel=1e-6)


def test_a_bore_that_comes_within_a_hair_of_a_slots_cheek_stays_in_its_ground() -> None:
    """It touches it, or leaves 0.01 between: no line of the second computation runs through so narrow a place."""
    for y in (31.0, 30.99):
        part = headed(box((-1, 25, 15), (101, 35, 31)), cylinder((50, y, -1), (50, y, 16), 8))
        (taken,) = removals(agreed(part, cleared("slot")))
        assert taken == pytest.approx(104 * 10 * HIGH, rel=1e-6)


def test_a_slot_cut_from_its_end_down_to_a_block_in_its_far_mouth() -> None:
    """From the right: 80 up to the block, which is all of the floor there is that way; 15 stay open on both sides."""
    part = cut(box((0, 0, 0), (100, 60, 30)), cut(box((-1, 10, 15), (101, 50, 31)), box((-2, 25, 0), (20, 35, 32))))
    work = step("bottom_and_side_finish_milling", tool("endmill", 2 * R), {"class": "slot"})
    document = plan(raw_box((0, 0, 0), (100, 60, 30)), setup([work], (1, 0, 0), ref_direction=[0, 1, 0]))
    (taken,) = removals(agreed(part, document))
    assert taken == pytest.approx((40 * 15 - 2 * SQUARE_CORNER) * 80, rel=1e-6)
