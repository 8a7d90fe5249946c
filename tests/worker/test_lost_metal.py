"""Metal of the part that is gone at the end though no step was found to cut into it; closed form: floor times depth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import pytest

from examples.shapes import box, cut
from schemas.tolerances import LAYER
from tests.support.trial import inputs, plan, raw_box, setup, step, tool
from worker.checks.api import Context, Draft
from worker.checks.evidence.disagreement import disagreement
from worker.facts import Finish, finish_of
from worker.inputs import Inputs
from worker.kernel import measure
from worker.kernel.shape import is_empty
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve
from worker.stage.model import Stage

WIDE, LONG, DEEP = 20.0, 40.0, 1.0
"""A step along one side of a block, and how far below its floor the cutter goes (mm)."""


class Trial(NamedTuple):
    """A checked plan of one setup, as it is and as it would be if no cut into the part were ever found."""

    inputs: Inputs
    stages: tuple[Stage, ...]
    blind: tuple[Stage, ...]


def _trial(deeper: float, margin: float = 0.0) -> Trial:
    part = cut(box((0, 0, 0), (LONG, 30, 20)), box((-1, -1, 12), (LONG + 1, WIDE, 21)))
    mill = step("bottom_and_side_finish_milling", tool("endmill", 10), {"class": "step"}, allowance_bottom=-deeper)
    found = inputs(part, plan(raw_box((0, 0, 0), (LONG, 30, 20 + margin)), setup([mill])))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    stages = cut_all(found, resolved, lambda _: None)
    blind = tuple(replace(s, cuts=tuple(replace(c, gouge=None) for c in s.cuts)) for s in stages)
    return Trial(found, stages, blind)


def _told(trial: Trial, stages: Sequence[Stage], finish: Finish) -> list[Draft]:
    context = Context(plan=trial.inputs.plan, part=trial.inputs.part, stages=tuple(stages), finish=finish)
    return [found for found in disagreement.check(context, stages[-1]) if isinstance(found, Draft)]


@pytest.mark.parametrize("margin", [0.0, 3.0])
def test_what_no_step_was_found_to_take_is_told_at_the_end(margin: float) -> None:
    """With metal left on the part as well, which is not weighed against it."""
    trial = _trial(DEEP, margin)
    finish = finish_of(trial.inputs.part, trial.blind)
    film = 2 * LAYER * (WIDE * LONG + (WIDE + LONG) * DEEP)
    assert measure.volume(finish.lost) == pytest.approx(WIDE * LONG * DEEP, abs=film)
    (draft,) = _told(trial, trial.blind, finish)
    assert draft.at == pytest.approx((LONG / 2, WIDE / 2, 12 - DEEP / 2), abs=0.01)


@pytest.mark.parametrize(("deeper", "blind"), [(DEEP, False), (0.0, True), (-DEEP, True)])
def test_nothing_is_told_where_a_step_is_at_fault_or_nothing_is_gone(deeper: float, blind: bool) -> None:
    trial = _trial(deeper)
    stages = trial.blind if blind else trial.stages
    finish = finish_of(trial.inputs.part, stages)
    assert is_empty(finish.lost)
    assert not _told(trial, stages, finish)
