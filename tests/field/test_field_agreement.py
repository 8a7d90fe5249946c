"""Whole plans twice: sound and unsound ones agree within the bound; metal that was left by a lie is found out."""

from dataclasses import replace

import pytest

from tests.support.block import context_of, sound, step_of, tool_of
from worker import field
from worker.checks.evidence.disagreement import disagreement
from worker.checks.run import run_checks
from worker.field import second_opinion
from worker.field.opinion import EXTRA
from worker.field.sweeps import sweep
from worker.kernel import boolean
from worker.kernel.primitives import cylinder


def _without(id):
    return lambda plan: plan["setups"][0]["workingsteps"].remove(step_of(plan, id))


def _step(id, **keys):
    return lambda plan: step_of(plan, id).update(keys)


def _tool(id, **keys):
    return lambda plan: tool_of(plan, id).update(keys)


VARIANTS = {
    "as planned": lambda plan: None,
    "a cutter too large for the pocket's corners": _step("40", tool="EM12"),
    "a cutter slightly too large for the slot": _tool("EM6", DC=6.2),
    "the pocket only roughed": _without("40"),
    "a slot left higher": _step("50", allowance_bottom=0.5),
    "a slot cut into the part": _step("50", allowance_bottom=-0.3),
    "a pocket cut into the part": _step("40", bottom_z=-9),
    "a side allowance on the profile": _step("20", allowance_side=0.4),
    "the profile cut into": _step("20", allowance_side=-0.1),
    "the pocket cut into": _step("40", allowance_side=-0.1),
    "a face left higher": _step("10", allowance_bottom=0.4),
    "nothing faced": _without("10"),
    "no profile": _without("20"),
    "a drill too large": _tool("D8", DC=9.0),
    "another point": _tool("D8", SIG=140),
    "a stated depth": _step("100", cutting_depth=15),
    "a hole milled out": _step("80", tool="EM6", operation="bottom_and_side_finish_milling"),
    "a round corner on the cutter": _tool("EM6", RE=0.5, type="bullnose_endmill"),
    "another flank on the chamfer": _tool("CH", SIG=120),
    "jaws as high as the part": lambda plan: plan["setups"][0]["workholding"].update(jaw_height=60),
    "turned about the axis": lambda plan: plan["setups"][0]["origin"].update(ref_direction=[0, -1, 0]),
}


@pytest.mark.parametrize("name", VARIANTS)
def test_two_computations_agree(name):
    plan = sound()
    VARIANTS[name](plan)
    context = context_of(plan)
    for opinion in second_opinion(context.plan, context.part, context.stages):
        assert opinion.agrees, (opinion.difference, opinion.bound)
        assert opinion.relative_bound < 5e-4


def _with_opinions(context, stages):
    found = second_opinion(context.plan, context.part, stages)
    return replace(context, stages=stages, extras={EXTRA: {o.setup: o for o in found}})


def _told(context):
    findings, _ = run_checks(context, (disagreement,))
    return [(f.code, f.level, f.setup) for f in findings]


def test_a_step_that_only_the_solid_sweeps_is_no_pass(monkeypatch):
    context = context_of(sound())
    monkeypatch.setattr(
        field, "sweep", lambda scene, part, cut: None if cut.step.id == "40" else sweep(scene, part, cut)
    )
    assert _told(_with_opinions(context, context.stages)) == [("evidence.disagreement", "error", "S1")]


def test_a_setup_whose_cut_removed_nothing_is_found_out():
    context = context_of(sound())
    first, second = context.stages
    lie = replace(second, to_be=second.as_is)
    assert _told(_with_opinions(context, (first, second))) == []
    assert _told(_with_opinions(context, (first, lie))) == [("evidence.disagreement", "error", "S2")]


def test_one_small_hole_that_was_not_cut_is_found_out_where_it_happened():
    """A hole of 5 mm, 14 mm deep: 0.4 percent of the block."""
    context = context_of(sound())
    first, second = context.stages
    plug = cylinder((39, 32, 6), (39, 32, 20), 5.0)
    lied = (
        replace(first, to_be=boolean.fuse([first.to_be, plug])),
        replace(second, as_is=boolean.fuse([second.as_is, plug]), to_be=boolean.fuse([second.to_be, plug])),
    )
    assert _told(_with_opinions(context, lied)) == [("evidence.disagreement", "error", "S1")]


def test_a_setup_without_a_second_opinion_is_an_error():
    context = context_of(sound())
    assert _told(replace(context, extras={EXTRA: {}})) == [
        ("evidence.disagreement", "error", "S1"),
        ("evidence.disagreement", "error", "S2"),
    ]
    assert _told(context) == []  # not asked for: skipped, and the report says so


def test_the_field_is_deterministic():
    context = context_of(sound())
    assert second_opinion(context.plan, context.part, context.stages) == second_opinion(
        context.plan, context.part, context.stages
    )
