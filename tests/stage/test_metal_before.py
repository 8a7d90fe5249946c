"""Metal before a step without a cut of its own: what stays, what comes loose and what later steps take add up to it.

Closed forms by hand: two slots right across a block, a box each.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from examples.shapes import box, cut
from tests.support.trial import plan, raw_box, setup, stages_of, step, tool
from worker.kernel import boolean, measure
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


def test_after_the_last_step_nothing_is_cut_again(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    """The block less both slots, by hand: it is what the setup leaves."""
    monkeypatch.setattr(boolean, "cut", lambda *_: pytest.fail("cut again"))
    assert measure.volume(replace(stage, before_steps={}).stock_before(2)) == pytest.approx(
        100 * 60 * 30 - 20 * 60 * (10 + 15), rel=REL
    )


def test_a_piece_that_comes_loose_later_is_metal_before() -> None:
    """A block of 100 x 80 x 32, faced by 2 mm, then cut through; jaws hold the larger half alone."""
    part = cut(box((-50, -40, -30), (50, 40, 0)), box((17, -50, -28), (23, 50, 1)))
    vise = {
        "type": "vise",
        "jaw_axis": "Y",
        "jaw_height": 45,
        "parallel_height": 35,
        "jaw_width": 60,
        "jaw_offset": -20,
    }
    works = [
        step("plane_finish_milling", tool("facemill", 50), {"class": "planar_face", "normal": [0, 0, 1]}),
        step("bottom_and_side_finish_milling", tool("endmill", 6), {"class": "slot"}, bottom_z=-30.5),
    ]
    (found,) = stages_of(part, plan(raw_box((-50, -40, -30), (50, 40, 2)), setup(works, workholding=vise)))
    assert [measure.volume(body) for body in found.loose] == pytest.approx([27 * 80 * 30], rel=REL)
    bodies = found.metal_before(1)
    assert len(bodies) == 3 and sum(measure.volume(b) for b in bodies) == pytest.approx(100 * 80 * 30, rel=REL)
