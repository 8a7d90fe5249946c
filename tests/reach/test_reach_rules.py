"""The reach rules on the block's plan: each fault is told once, and the remedy's own value mends it."""

from dataclasses import replace

import pytest

from tests.support.block import context_of, sound, step_of, tool_of
from worker.checks.access.covered import covered
from worker.checks.reach.length import length
from worker.checks.reach.shank import shank
from worker.checks.reach.stickout import stickout
from worker.checks.run import run_checks
from worker.reach import reach_of

HOLDER = [{"diameter": 24, "length": 30}, {"diameter": 40, "length": 40}]
RULES = (stickout, shank, length, covered)


def _findings(plan):
    context = context_of(plan)
    reach = {
        (stage.setup.id, id): found for stage in context.stages for id, found in reach_of(stage, context.part).items()
    }
    return run_checks(replace(context, reach=reach), RULES)[0]


def _plan(**tool):
    plan = sound()
    tool_of(plan, "EM6").update(tool)
    step_of(plan, "50")["technology"] = {"axial_cutting_depth": 2.5}  # the slot is cut in two passes, with any edge
    return plan


def _told(findings):
    return [(f.code, f.workingstep) for f in findings]


def _apply(plan, remedy):
    """Set the value that the remedy's pointer names."""
    *path, key = remedy.pointer.strip("/").split("/")
    here = plan
    for part in path:
        here = here[int(part)] if isinstance(here, list) else here[part]
    here[key] = remedy.value
    return plan


def test_the_sound_plan_has_no_reach_findings():
    assert _findings(_plan(holder=HOLDER)) == ()


@pytest.mark.parametrize(
    ("tool", "told", "needed"),
    [
        ({"holder": HOLDER, "APMX": 4, "stickout": 6.5}, [("reach.stickout", "40")], 8.0),
        ({"holder": HOLDER, "APMX": 4, "stickout": 4.0}, [("reach.stickout", "40"), ("reach.stickout", "50")], 8.0),
        ({"holder": HOLDER, "APMX": 12, "stickout": 6.5}, [("reach.stickout", "40")], 12.0),  # 8 would hold its edge
        ({"APMX": 6, "LU": 7}, [("reach.length", "40")], 8.0),
        ({"DMM": 8, "APMX": 8, "LU": 8.5}, [], None),
        ({"DMM": 8, "APMX": 7, "LU": 7}, [("reach.shank", "40"), ("reach.length", "40")], 8.0),
    ],
)
def test_what_is_too_short_is_told_and_mended(tool, told, needed):
    """Pocket 8 deep (step 40), slot 5 deep (step 50): depths read off the block's own dimensions."""
    plan = _plan(**tool)
    findings = _findings(plan)
    assert _told(findings) == told
    if needed is not None:
        deepest = next(f for f in findings if f.workingstep == "40")
        assert deepest.remedy.value == pytest.approx(needed, abs=0.02)
        assert _findings(_apply(plan, deepest.remedy)) == ()


@pytest.mark.parametrize(
    ("overall", "stickout", "pointer", "value"),
    [
        (30.0, 4.0, "/tools/{}/stickout", 8.0),  # 12 of the shank of 6 stay in the holder
        (19.9, 4.0, "/tools/{}/OAL", 20.0),  # 11.9 would: one of 8 + 12 does
        (14.0, 7.0, "/tools/{}/OAL", 20.0),  # the plan itself is content with 7 within the holder, but no less
        (None, 4.0, "/tools/{}/stickout", 8.0),
    ],
)
def test_a_tool_too_short_for_any_stickout_is_to_be_replaced(overall, stickout, pointer, value):
    """Pocket 8 deep, holder wider than it; two diameters of shank stay in the holder (common practice)."""
    plan = _plan(stickout=stickout, APMX=4, holder=HOLDER, **({} if overall is None else {"OAL": overall}))
    number = next(i for i, one in enumerate(plan["tools"]) if one["id"] == "EM6")
    finding = next(f for f in _findings(plan) if (f.code, f.workingstep) == ("reach.stickout", "40"))
    assert finding.remedy.pointer == pointer.format(number)
    assert finding.remedy.value == pytest.approx(value, abs=0.02)
    longer = _apply(plan, finding.remedy)
    if pointer.endswith("OAL"):
        assert "No stick-out of EM6 does" in finding.remedy.text and "another setup" in finding.remedy.text
        again = next(f for f in _findings(longer) if f.workingstep == "40")
        assert again.remedy.pointer == f"/tools/{number}/stickout"
        longer = _apply(longer, again.remedy)
    assert _findings(longer) == ()


def test_a_tool_without_a_holder_is_not_checked_and_that_is_said():
    context = context_of(_plan(stickout=3.0, APMX=3))
    reach = {("S1", id): found for id, found in reach_of(context.stages[0], context.part).items()}
    findings, runs = run_checks(replace(context, reach=reach), (stickout,))
    assert findings == ()
    assert "without a holder" in runs[0].skipped["S1/40"]
    assert reach["S1", "40"].clearing is None and not reach["S1", "40"].holder_checked


@pytest.mark.parametrize(("stickout", "told"), [(8.01, False), (7.9, True)])
def test_a_tool_without_a_holder_goes_no_deeper_than_it_stands_out(stickout, told):
    """The pocket is 8 deep: whatever holds the cutter is no thinner than it, and has no room in there."""
    plan = _plan(stickout=stickout, APMX=7)
    findings = _findings(plan)
    assert _told(findings) == ([("reach.length", "40")] if told else [])
    if told:
        assert f"stands only {stickout:g} mm out of what holds it" in findings[0].message
        assert findings[0].remedy.pointer == "/tools/2/stickout"
        assert _findings(_apply(plan, findings[0].remedy)) == ()


def test_a_drill_of_which_nothing_is_known_but_how_far_it_stands_out():
    """20 through and 1 past it, its point 6.6 x 0.30043 long (118 degrees): the tip goes 22.98 below the top."""
    plan = sound()
    drill = tool_of(plan, "D66")
    drill.pop("LU")
    drill["stickout"] = 22.9
    (found,) = _findings(plan)
    assert (found.code, found.workingstep, found.limit) == ("reach.length", "70", pytest.approx(22.983, abs=1e-3))
    assert found.remedy.pointer == "/tools/4/stickout" and "is usable" not in found.message
    assert _findings(_apply(plan, found.remedy)) == ()


@pytest.mark.parametrize(
    ("tool", "sizes", "edge"),
    [
        ("EM6", {"stickout": 11.9}, 12.0),  # APMX 12
        ("EM6", {"stickout": 11.9, "holder": HOLDER}, 12.0),
        ("EM6", {"stickout": 13.0}, None),  # of its LU of 14 a millimetre of neck is held
        ("D8", {"stickout": 59.0}, 60.0),  # a drill's edge is its LU
        ("SP", {"stickout": 9.0}, None),  # of a pointed tool the cone: 8 / 2 / tan 45 = 4
        ("SP", {"stickout": 3.9}, 4.0),
    ],
)
def test_a_tool_is_not_clamped_on_its_cutting_edges(tool, sizes, edge):
    """Told once a tool, as a warning: it can be clamped like that, but does not run true (common practice)."""
    plan = sound()
    tool_of(plan, tool).update(sizes)
    findings = _findings(plan)
    assert [(f.code, f.level) for f in findings] == ([] if edge is None else [("reach.stickout", "warning")])
    if edge:
        assert findings[0].limit == pytest.approx(edge)
        assert "clamped on its cutting edges" in findings[0].message
        assert _findings(_apply(plan, findings[0].remedy)) == ()


def test_a_clamp_over_the_pocket_covers_it():
    plan = sound()
    plan["setups"][0]["workholding"] = {
        "type": "fixture_plate",
        "elements": [
            {"type": "plate", "name": "base", "box": {"min": [-20, -20, -50], "max": [80, 60, -30]}},
            {"type": "clamp", "name": "bridge", "box": {"min": [14, -20, 2], "max": [22, 60, 12]}, "force": 5000},
        ],
    }
    told = [f for f in _findings(plan) if f.code == "access.covered"]
    assert {f.workingstep for f in told} >= {"10", "20", "40"}
    assert all("bridge" in f.message for f in told)
    pocket = next(f for f in told if f.workingstep == "40")
    assert pocket.at is not None and 14 <= pocket.at.part[0] <= 22
    assert not {f.workingstep for f in told} & {"50", "70", "80", "130"}  # slot, holes and chamfer lie clear of it


def test_every_step_with_a_path_states_its_clearing():
    context = context_of(_plan(holder=HOLDER))
    found = reach_of(context.stages[0], context.part)
    assert list(found) == [c.step.id for c in context.stages[0].cuts]
    assert found["40"].clearing == pytest.approx(8.0, abs=1e-6)
    assert found["50"].clearing == pytest.approx(5.0, abs=1e-6)
    assert step_of(sound(), "40")["tool"] == "EM6"


def test_a_short_length_names_what_stands_beside_the_cut():
    plan = _plan(APMX=6, LU=7)
    assert "8 mm below the top of the part beside the cut" in _findings(plan)[0].message
    context = context_of(plan)
    reach = {("S1", id): found for id, found in reach_of(context.stages[0], context.part).items()}
    reach["S1", "40"] = replace(reach["S1", "40"], beside="fixed jaw")
    findings = run_checks(replace(context, reach=reach), (length,))[0]
    assert "below the top of 'fixed jaw' of the workholding beside the cut" in findings[0].message


@pytest.mark.parametrize(
    ("deep", "edge", "told"), [(8.0, 8.0, False), (8.0, 7.5, True), (7.5, 7.5, False), (30.0, 9.0, False)]
)
def test_a_pass_is_no_deeper_than_the_edge_is_long(deep, edge, told):
    """The metal beside step 40 is 8 mm high (its least LU above); what a pass states beyond that is air."""
    plan = _plan(APMX=edge, LU=12)
    step_of(plan, "40")["technology"] = {"axial_cutting_depth": deep}
    findings = _findings(plan)
    assert _told(findings) == ([("reach.shank", "40")] if told else [])
    if told:
        assert findings[0].remedy.value == pytest.approx(edge)
        assert _findings(_apply(plan, findings[0].remedy)) == ()


@pytest.mark.parametrize(
    ("roughed", "edge", "passes", "told"),
    [(False, 7.9, None, True), (False, 8.0, None, False), (False, 6.0, 6.0, False), (True, 6.0, None, False)],
)
def test_a_finishing_step_does_not_go_full_width_through_more_than_its_edge(roughed, edge, passes, told):
    """The pocket is 8 deep and 16 wide: the cutter of 6 ploughs through it where step 30 has not left 0.2 for it."""
    plan = _plan(APMX=edge, LU=12)
    step_of(plan, "30")["enabled"] = roughed
    if passes:
        step_of(plan, "40")["technology"] = {"axial_cutting_depth": passes}
    findings = _findings(plan)
    assert _told(findings) == ([("reach.shank", "40")] if told else [])
    if told:
        assert (findings[0].level, findings[0].measured, findings[0].limit) == ("warning", pytest.approx(8.0), edge)
        step_of(plan, "40")["technology"] = {"axial_cutting_depth": findings[0].remedy.value}
        assert _findings(plan) == ()


def test_metal_that_begins_above_the_tip_is_judged_like_any_other():
    """The block upside down: the contour's step ends far below the block, and what it takes begins above its tip."""
    plan = _plan()
    plan["setups"][0]["origin"]["axis"] = [0, 0, -1]
    findings = _findings(plan)
    assert findings and "rule.failed" not in {f.code for f in findings}
