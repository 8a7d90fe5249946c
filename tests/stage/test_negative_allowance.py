"""A negative side allowance goes past the walls: what is swept there is the part's own metal, and is told."""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, cut, rounded_block
from tests.support.trial import plan, raw_box, setup, stages_of, step, taken, tool
from worker.kernel import measure
from worker.stage.model import Stage

FINISH = "bottom_and_side_finish_milling"
BLOCK = ((0.0, 0.0, 0.0), (60.0, 50.0, 20.0))
RAW = raw_box(*BLOCK)
PAST, DEPTH = 0.2, 6.0


def worked(part: Shape, at: tuple[float, float, float], **keys: object) -> Stage:
    work = step(FINISH, tool("endmill", 6), {"at": list(at)}, **keys)
    (stage,) = stages_of(part, plan(RAW, setup([work])))
    return stage


def rounded(long: float, wide: float, corner: float) -> float:
    """Area of a rectangle with round corners."""
    return long * wide - (4 - math.pi) * corner**2


def gouge(stage: Stage) -> float:
    found = stage.cuts[0].gouge
    return measure.volume(found) if found is not None else 0.0


def test_a_pocket_grows_by_it_all_round() -> None:
    part = cut(box(*BLOCK), rounded_block((10, 10, 14), (35, 40, 30), 4))
    stage = worked(part, (15, 15, 14), allowance_side=-PAST)
    plain, wide = rounded(25, 30, 4) * DEPTH, rounded(25 + 2 * PAST, 30 + 2 * PAST, 4 + PAST) * DEPTH
    assert taken(stage) == pytest.approx(wide, rel=1e-6)
    assert gouge(stage) == pytest.approx(wide - plain, rel=1e-4)


def test_a_slot_grows_at_its_walls_alone() -> None:
    part = cut(box(*BLOCK), box((-5, 20, 14), (65, 28, 30)))
    stage = worked(part, (30, 24, 14), allowance_side=-PAST)
    assert taken(stage) == pytest.approx(60 * (8 + 2 * PAST) * DEPTH, rel=1e-6)
    assert gouge(stage) == pytest.approx(60 * 2 * PAST * DEPTH, rel=1e-4)


def test_without_it_the_walls_stay() -> None:
    part = cut(box(*BLOCK), rounded_block((10, 10, 14), (35, 40, 30), 4))
    stage = worked(part, (15, 15, 14))
    assert taken(stage) == pytest.approx(rounded(25, 30, 4) * DEPTH, rel=1e-6)
    assert gouge(stage) == 0.0
