"""A boolean that lies: a stage whose solid still has what one step swept, in whole, in half or as one lump, is told.

The solid is put together by hand: the true one with metal of one step put back, as if the kernel had not cut it.
"""

import sys
from dataclasses import replace
from functools import cache

import pytest

from tests.support.block import block, context_of, sound, step_of
from tests.support.trial import inputs
from worker.checks.evidence.disagreement import disagreement
from worker.checks.run import run_checks
from worker.field import second_opinion
from worker.field.opinion import EXTRA
from worker.kernel import boolean, measure
from worker.kernel.measure import bounding_box
from worker.kernel.primitives import box
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

FAMILIES = {
    "plane": "10",
    "profile": "20",
    "pocket, finished": "40",
    "slot": "50",
    "drilling": "70",
    "reaming": "90",
    "blind drilling": "100",
    "chamfering": "130",
}


@cache
def _context():
    return context_of(sound())


def _left_by(id):
    """The metal that one step alone takes: nothing if another one sweeps over all of it."""
    (stage, *_) = _context().stages
    (cut,) = [c for c in stage.cuts if c.step.id == id]
    others = [c.swept for c in stage.cuts if c is not cut]
    return boolean.cut(boolean.common(stage.as_is, [cut.swept], merge=False), others, merge=False)


def _told(lump):
    context = _context()
    (stage, *_) = context.stages
    lied = replace(stage, to_be=boolean.fuse([stage.to_be, lump]))
    (found,) = second_opinion(context.plan, context.part, (lied,))
    changed = replace(context, stages=(lied, *context.stages[1:]), extras={EXTRA: {stage.setup.id: found}})
    findings, _ = run_checks(changed, (disagreement,))
    mine = [f.measured for f in findings if f.setup == stage.setup.id]
    return mine, measure.volume(lied.to_be) - measure.volume(stage.to_be)


def _half(body):
    found = bounding_box(body)
    (x0, y0, z0), (x1, y1, z1) = found.min, found.max
    return boolean.common(body, [box((x0 - 1, y0 - 1, z0 - 1), ((x0 + x1) / 2 + 0.013, y1 + 1, z1 + 1))], merge=False)


@pytest.mark.parametrize("part", ["all of it", "half of it"])
@pytest.mark.parametrize("family", FAMILIES)
def test_a_cut_that_the_solid_did_not_make_is_told(family, part):
    lump = _left_by(FAMILIES[family])
    lump = _half(lump) if part == "half of it" else lump
    told, volume = _told(lump)
    assert told == pytest.approx([volume], rel=0.1, abs=5.0)


@pytest.mark.parametrize("size", [2.0, 3.0])
def test_one_lump_is_told_with_its_place(size):
    """0.01 and 0.04 percent of the metal: below what the volumes' bound alone would show."""
    at = (48.1, 20.3, 15.0)  # on the slot's floor
    told, volume = _told(box(at, (at[0] + size, at[1] + size, at[2] + size)))
    assert volume == pytest.approx(size**3)
    assert told == pytest.approx([volume], rel=0.1, abs=2.0)


def test_a_hole_that_the_solid_drills_too_deep_is_told_where_the_volumes_bound_is_wide(monkeypatch):
    """0.05 deeper: 10 mm3 in all, as much as large corners that stay leave in doubt; line by line they are not."""
    holes = sys.modules["worker.stage.removal.holes"]
    right = holes._tool_profile
    monkeypatch.setattr(holes, "_tool_profile", lambda tool, tip, full, top: right(tool, tip - 0.05, full - 0.05, top))
    plan = sound()
    step_of(plan, "40").update(tool="EM12")
    found = inputs(block(), plan)
    stages = cut_all(found, resolve(found.plan, found.part.features, on_feature_of(found.part)), lambda _: None)
    first, _ = second_opinion(found.plan, found.part, stages)
    assert not first.agrees
