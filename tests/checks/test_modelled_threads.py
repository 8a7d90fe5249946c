"""Plans for holes whose threads the model carries: helical flanks, or the name of the hole's face."""

from __future__ import annotations

import json
from functools import cache

import pytest

from schemas.finding import Finding
from tests.support.block import Json, one_setup, told
from tests.support.kept import kept
from tests.support.screws import tapped_block
from worker.kernel.stepio import write_step
from worker.pipeline import check_plan

HOLE = [{"class": "round_hole"}]
M8 = {"id": "TAP", "type": "tapping_cutting_tool", "thread": "M8", "LU": 40, "stickout": 60}


@cache
def part() -> bytes:
    """M8x1.25, modelled with its flanks: 16 deep at full diameter, D1 = 6.647 (ISO 68-1)."""
    return write_step(tapped_block(8, 1.25), "mm", "part")


@cache
def double() -> bytes:
    """M12 of lead 3.5 and pitch 1.75: of two starts."""
    return write_step(tapped_block(12, 1.75, starts=2), "mm", "part")


def drill(diameter: float) -> Json:
    return {"id": "D", "type": "twist_drill", "DC": diameter, "SIG": 118, "LU": 60, "stickout": 80}


def made(diameter: float, *taps: Json, depth: float = 12) -> Json:
    """Drill and tap, each in turn; 2 pitches of tap chamfer below the thread fit into 16 mm up to 13.5 deep."""
    steps = [{"id": "10", "operation": "drilling", "tool": "D", "features": HOLE}]
    steps += [
        {"id": "20", "operation": "tapping", "tool": t["id"], "features": HOLE, "cutting_depth": depth} for t in taps
    ]
    plan = one_setup(steps, drill(diameter), *taps)
    plan["workpiece"]["rawpiece"] = {"box": {"min": [0, 0, 0], "max": [60, 40, 20]}}
    return plan


def codes(found: list[Finding]) -> set[str]:
    return {f.code for f in found}


def test_drill_and_tap_make_a_modelled_thread_through_the_whole_check() -> None:
    """Drilled 6.8 (ISO 2306), tapped 12 deep: nothing is left, nothing gouged, and both computations agree."""
    report = check_plan(part(), json.dumps(made(6.8, M8)).encode(), {}).report
    assert [f.code for f in report.findings if f.level != "note"] == [] and report.verdict == "pass"
    assert any("M8x1.25" in note for note in report.evidence.notes)
    (hole,) = [f for f in report.features if f.class_ == "round_hole"]
    assert hole.thread == "M8x1.25" and hole.finished_in == "S1"


@pytest.mark.parametrize("diameter", [6.0, 7.2])
def test_a_wrong_tap_drill_is_told(diameter: float) -> None:
    # M8, 6H: 6.647 to 6.912 mm (ISO 965-1).
    assert "fit.tap-drill" in codes(told(made(diameter, M8), part()))


def test_a_thread_too_deep_for_the_drilled_hole_is_told() -> None:
    assert codes(told(made(6.8, M8, depth=14), part())) == {"depth.thread"}


@pytest.mark.parametrize("thread", ["M8x1", "M8-LH"])
def test_the_tap_of_another_thread_is_told_with_the_right_one(thread: str) -> None:
    (finding,) = told(made(6.8, {**M8, "thread": thread}), part())
    assert (finding.code, finding.workingstep) == ("fit.tap-drill", "20")
    assert finding.remedy is not None and finding.remedy.value == "M8x1.25"
    assert told(made(6.8, {**M8, "thread": str(finding.remedy.value)}), part()) == []


def test_a_thread_that_nobody_taps_is_left() -> None:
    (finding,) = told(made(6.647), part())
    assert finding.code == "left.feature" and "M8x1.25" in finding.message


def test_no_tap_of_one_start_makes_a_thread_of_two() -> None:
    """An M12 tap's own lead is 1.75; no tap's designation would mend that."""
    found = told(made(10.2, {**M8, "thread": "M12"}, depth=10), double())
    (finding,) = [f for f in found if f.level == "error"]
    assert finding.code == "fit.tap-drill" and "M12xPh3.5P1.75" in finding.message
    assert finding.remedy is None


def test_a_thread_that_no_tap_makes_is_no_error_but_is_told() -> None:
    """Of two starts again: a plan has no tool for it, so nothing it could say would take an error away."""
    report = check_plan(double(), json.dumps(made(10.106)).encode(), {}, None, kept()).report
    assert [f for f in report.findings if f.level == "error"] == []
    (left,) = [f for f in report.findings if f.code == "left.feature"]
    assert left.level == "warning" and "M12xPh3.5P1.75" in left.message
    assert any("M12xPh3.5P1.75" in note and "no step of a plan" in note for note in report.evidence.notes)
