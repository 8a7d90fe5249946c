"""A curved slot that runs out into a round head at one end: a cutter of its own width leaves nothing of it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from examples.shapes import Shape, box, common, cut, cylinder, fuse, polygon, prism, volume
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, removals, setup, stages_of, step, to_be, tool
from worker.field.curved_ends import rounded_on

START, END = 0.2, 1.4
"""Where the slot's ends are, as angles (rad): on a circle of radius 20 about (50, 30)."""


def headed(width: float, head: float, at: float) -> Shape:
    """A block 20 thick, a curved slot right through it and a round head at one of its ends."""
    ring = cut(cylinder((50, 30, -1), (50, 30, 21), 40 + width), cylinder((50, 30, -2), (50, 30, 22), 40 - width))
    far = [(50 + 60 * math.cos(a), 30 + 60 * math.sin(a), -1.0) for a in (START, (START + END) / 2, END)]
    middle = common(ring, prism(polygon([(50.0, 30.0, -1.0), *far]), (0, 0, 22)))
    ends = [(50 + 20 * math.cos(a), 30 + 20 * math.sin(a), head if a == at else width) for a in (START, END)]
    return cut(box((0, 0, 0), (100, 60, 20)), fuse(middle, *(cylinder((x, y, -1), (x, y, 21), d) for x, y, d in ends)))


@pytest.mark.parametrize(("width", "head", "at"), [(6.0, 9.0, START), (6.0, 10.0, END), (8.0, 14.0, START)])
def test_cutter_as_wide_as_a_headed_kidney_leaves_nothing(width: float, head: float, at: float) -> None:
    """The inner wall ends sooner than the outer one; beyond it nothing stands in the cutter's way."""
    bore = step("bottom_and_side_finish_milling", tool("endmill", 6), {"class": "round_hole"})
    slot = step("bottom_and_side_finish_milling", tool("endmill", width), {"class": "slot"})
    part = headed(width, head, at)
    (stage,) = stages_of(part, plan(raw_box((0, 0, 0), (100, 60, 20)), setup([bore, slot])))
    assert to_be(stage) == pytest.approx(volume(part), abs=1e-3)


@pytest.mark.parametrize("head", [16.0, 18.0])
def test_a_kidney_that_a_deeper_head_parts_keeps_to_its_ring(head: float) -> None:
    """Cut before the head: the ring with its round ends, but for where the inner wall goes on straight from both sides
    of the head, until both meet before its middle."""
    width, middle = 10.0, (START + END) / 2
    x, y = 50 + 20 * math.cos(middle), 30 + 20 * math.sin(middle)
    whole = box((0, 0, 0), (100, 60, 20))
    blind = common(cut(whole, headed(width, width, START)), box((0, 0, 10), (100, 60, 21)))
    part = cut(whole, blind, cylinder((x, y, 5), (x, y, 21), head))
    work = step("bottom_and_side_finish_milling", tool("endmill", 6), {"class": "slot"})
    (taken,) = removals(agreed(part, plan(raw_box((-2, -2, -2), (102, 62, 22)), setup([work]))))
    inner = 20 - width / 2
    half = math.acos((20**2 + inner**2 - (head / 2) ** 2) / (2 * 20 * inner))
    plan_area = 20 * (END - START) * width + math.pi * width**2 / 4 - inner**2 * (math.tan(half) - half)
    assert taken == pytest.approx(plan_area * 12, rel=1e-6)


@pytest.mark.parametrize(("head", "at"), [(9.0, START), (9.0, END)])
def test_a_headed_kidney_goes_on_as_far_as_it_is_wide(head: float, at: float) -> None:
    """Cut before the head, out of a block 2 larger all round: its ring from the round end on, past the end of its outer
    wall by its width, where the cutter's round touches; nothing of the block beyond."""
    width, middle = 6.0, 20.0
    slot = step("bottom_and_side_finish_milling", tool("endmill", width), {"class": "slot"})
    blank = raw_box((-2, -2, -2), (102, 62, 22))
    (taken,) = removals(agreed(headed(width, head, at), plan(blank, setup([slot]))))
    outer = middle + width / 2
    ends = math.acos((middle**2 + outer**2 - (head / 2) ** 2) / (2 * middle * outer))
    turn = END - START - ends + width / middle - math.asin(width / 2 / middle)
    assert taken == pytest.approx((middle * turn * width + math.pi * width**2 / 4) * 22, rel=1e-5)


def test_beside_a_wide_head_both_ends_of_a_kidney_go_on_one_way() -> None:
    """Open to a head that much wider: straight on between its walls, over the part and past it."""
    slot = step("bottom_and_side_finish_milling", tool("endmill", 8), {"class": "slot"})
    blank = raw_box((-2, -2, -2), (102, 62, 22))
    (taken,) = removals(agreed(headed(8.0, 14.0, START), plan(blank, setup([slot]))))
    assert taken > 0


@pytest.mark.parametrize("mirrored", [False, True])
def test_inner_wall_goes_on_until_it_is_level_with_the_outer_one(mirrored: bool) -> None:
    """Walls of radius 23 and 17: the inner one ends at 0.3, the outer one at 0.2, seen from their middle."""
    outer, inner = np.linspace(0.2, 1.4, 60), np.linspace(1.4, 0.3, 60)
    chain = [(r * math.cos(a), r * math.sin(a)) for r, way in ((23.0, outer), (17.0, inner)) for a in way]
    if mirrored:  # the ground stays on the left
        chain = [(x, -y) for x, y in reversed(chain)]
    circles = np.array([(0.0, 0.0, 17.0), (0.0, 0.0, 23.0)])
    found = rounded_on(chain, circles)
    (end,) = {found[k] for k in (0, -1)} - {chain[k] for k in (0, -1)}
    side = -1 if mirrored else 1
    assert end == pytest.approx((17 * math.cos(0.2), side * 17 * math.sin(0.2)))
    assert len(found) > len(chain)
