"""Metal before a step without a cut of its own: what stays, what comes loose and what later steps take add up to it.

Closed forms by hand: two slots right across a block, a box each.
"""

from __future__ import annotations

import pytest

from examples.shapes import box, cut
from tests.support.trial import plan, raw_box, setup, stages_of, step, tool
from worker.kernel import measure
from worker.stage.model import Stage

REL = 1e-9


@pytest.fixture(scope="module")
def stage() -> Stage:
    """The shallow slot, then the deep one."""
    block = box((0, 0, -30), (100, 60, 0))
    part = cut(cut(block, box((10, -1, -10), (30, 61, 1))), box((60, -1, -15), (80, 61, 1)))
    mill = tool("endmill", 10)
    works = [
        step("bottom_and_side_finish_milling", mill, {"class": "slot", **size})
        for size in ({"depth_max": 12}, {"depth_min": 12})
    ]
    (found,) = stages_of(part, plan(raw_box((0, 0, -30), (100, 60, 0)), setup(works)))
    return found


@pytest.mark.parametrize(("number", "slots"), [(0, 0), (1, 1), (2, 2)])
def test_the_bodies_add_up_to_the_block_less_the_slots_cut_so_far(stage: Stage, number: int, slots: int) -> None:
    left = 100 * 60 * 30 - sum((20 * 60 * 10, 20 * 60 * 15)[:slots])
    bodies = stage.metal_before(number)
    assert sum(measure.volume(body) for body in bodies) == pytest.approx(left, rel=REL)
    assert len(bodies) == (1 if number in (0, 2) else 2)


def test_a_stock_that_was_cut_before_is_taken_as_it_is(stage: Stage) -> None:
    known = stage.stock_before(1)
    assert stage.metal_before(1) == (known,)
    assert measure.volume(known) == pytest.approx(100 * 60 * 30 - 20 * 60 * 10, rel=REL)
