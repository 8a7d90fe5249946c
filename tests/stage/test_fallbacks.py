"""What happens when the kernel's booleans fail at one place: each way is tried in turn, and the report says which.

The part is a plate with one bore, and only the drill of step 80 and the reamer of step 90 work within ``BORE``: there
the booleans are made to fail, to give nothing, to give the stock back, or to give an open solid.
"""

from __future__ import annotations

import json
import math
from functools import cache
from typing import Any

import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut

import worker.stage.carry as carry
import worker.stage.rungs as rungs
from schemas.report import Report, report_bytes, report_document
from schemas.tolerances import BALANCE
from schemas.workholding import Vise
from tests.support.block import as_step, solid_block, sound, through
from tests.support.faulty_kernel import FaultyKernel, Mode
from tests.support.kept import kept
from worker.facts import finish_of
from worker.kernel import attempts, boolean, measure
from worker.kernel.attempts import aside
from worker.kernel.errors import KernelError
from worker.kernel.partition import split
from worker.kernel.primitives import cylinder
from worker.kernel.shape import EMPTY, WORLD, Body, solids
from worker.pipeline import Checked, check_plan
from worker.present.text import report_text
from worker.stage.holding import place_holding

BORE = (33.0, 14.0, 45.0, 26.0)
PART = as_step(boolean.cut(solid_block(), [through(39, 20, 10)]))
VOLUME = 60 * 40 * 20 - math.pi * 25 * 20
ALONE = "carry: a tool parted from the stock alone, because one split of both failed"
REAMED = math.pi * (5**2 - 4.9**2) * 30
"""Metal between drill and reamer in the blank's 30 mm below the finished top: what step 90 takes at least."""


def plan() -> dict[str, Any]:
    found = sound()
    steps = found["setups"][0]["workingsteps"]
    found["setups"][0]["workingsteps"] = [s for s in steps if s["id"] in ("10", "20", "80", "90")]
    for step in found["setups"][0]["workingsteps"][2:]:
        step["overcut_length"] = 11  # out of the blank below
    return found


def check() -> Checked:
    return check_plan(PART, json.dumps(plan()).encode(), {})


def told(report: Report) -> set[tuple[str, str, str | None, str | None]]:
    return {(f.level, f.code, f.setup, f.workingstep) for f in report.findings if f.level != "note"}


def methods(report: Report) -> list[str]:
    return [m.method for m in report.evidence.methods]


def removal(report: Report, step: str) -> float | None:
    return next(w.removal for s in report.setups for w in s.workingsteps if w.id == step)


def no_meshes(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise KernelError("mesh", "made to fail")

    monkeypatch.setattr(rungs, "by_meshes", fails)


@cache
def as_it_works() -> Report:
    """The same plan with a kernel that works."""
    return check_plan(PART, json.dumps(plan()).encode(), {}, None, kept()).report


@pytest.fixture(autouse=True)
def _sound_first() -> None:
    """Checked, and kept, before a test puts faults into anything."""
    as_it_works()


def test_the_plan_is_sound_where_the_kernel_works() -> None:
    sound = as_it_works()
    assert sound.verdict == "pass" and not told(sound) and methods(sound) == ["exact solids"] * 2


@pytest.mark.parametrize(
    ("first", "way"),
    [
        (1, "copies"),
        (2, "fuzzy 1e-05"),
        (3, "fuzzy 0.0001"),
        (4, "tools in reverse order"),
        (5, "tool moved by 3e-05 mm"),
    ],
)
def test_every_exact_way_is_reached_and_gives_the_same_metal(
    monkeypatch: pytest.MonkeyPatch, first: int, way: str
) -> None:
    FaultyKernel(BORE, first=first).install(monkeypatch)
    report = check().report
    assert report.verdict == "pass" and not told(report)
    assert {f"common: {way}", ALONE} <= set(report.evidence.notes)
    assert methods(report)[0] == "exact solids"
    for step in ("80", "90"):
        assert removal(report, step) == pytest.approx(removal(as_it_works(), step), rel=2e-5)
    assert report.setups[1].to_be.volume == pytest.approx(VOLUME, rel=1e-6)


def test_a_tool_that_a_split_fails_at_is_parted_from_joined_faces(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before the many ways of single booleans, each of which takes as long: where its wall lies on pieces of walls."""
    moved: list[Body] = []

    def only_aside(stock: Body, tools: list[Body], groups: Any) -> Any:
        within = [t for t in tools if (box := measure.bounding_box(t)).min[:2] > BORE[:2] and box.max[:2] < BORE[2:]]
        if any(tool not in moved for tool in within):
            raise KernelError("split", "made to fail")
        return split(stock, tools, groups)

    def listening(tool: Body) -> Body:
        moved.append(aside(tool))
        return moved[-1]

    monkeypatch.setattr(carry, "split", only_aside)
    monkeypatch.setattr(carry, "aside", listening)
    report = check().report
    assert moved and report.verdict == "pass" and not told(report) and methods(report) == ["exact solids"] * 2
    assert "carry: a tool parted from joined faces, moved a hair" in report.evidence.notes
    assert ALONE not in report.evidence.notes
    assert removal(report, "90") == pytest.approx(removal(as_it_works(), "90"), rel=1e-4)


@pytest.mark.parametrize("mode", ["raise", "empty", "unchanged", "invalid"])
def test_meshes_take_over_and_two_methods_still_speak(monkeypatch: pytest.MonkeyPatch, mode: Mode) -> None:
    FaultyKernel(BORE, mode, spared=VOLUME).install(monkeypatch)
    checked = check()
    report = checked.report
    assert told(report) == {("warning", "evidence.disagreement", "S1", "80")}
    assert report.verdict == "pass"
    assert methods(report) == ["meshes, round faces within 0.001 mm"] * 2
    assert set(checked.stages) == {"S1", "S2"}
    assert report.setups[1].to_be.volume == pytest.approx(VOLUME, abs=1e-3 * math.pi * 10 * 20)
    assert report.setups[1].to_be.volume > VOLUME  # chords of a bore cut off less than the bore
    assert removal(report, "90") == pytest.approx(removal(as_it_works(), "90"), rel=0.02)
    assert not report.residual.lumps


def test_a_split_that_leaves_the_stock_whole_is_seen_and_mended(monkeypatch: pytest.MonkeyPatch) -> None:
    """The general fuse answers as if no tool met the stock: no error, a valid solid, a closed balance."""
    monkeypatch.setattr("worker.kernel.partition._pieces", lambda _, body: iter(solids(body)))
    report = check().report
    assert methods(report) == ["exact solids"] * 2
    assert report.verdict == "pass" and not told(report)
    assert [s.to_be.volume for s in report.setups] == pytest.approx([s.to_be.volume for s in as_it_works().setups])
    assert ALONE in report.evidence.notes
    with pytest.raises(KernelError, match="took no piece"):
        split(solid_block(), [through(39, 20, 10)])


def test_a_cut_that_takes_nothing_past_all_probes_is_seen_by_the_field(monkeypatch: pytest.MonkeyPatch) -> None:
    FaultyKernel(BORE, first=0).install(monkeypatch)
    monkeypatch.setattr(carry, "parted_in_turn", lambda stock, _: (EMPTY, stock))
    report = check().report
    assert report.verdict == "fail"
    assert ("error", "evidence.disagreement", "S1", None) in told(report)


def test_a_report_from_meshes_has_the_same_bytes_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    FaultyKernel(BORE, spared=VOLUME).install(monkeypatch)
    first, second = check(), check()
    assert report_bytes(report_document(first.report)) == report_bytes(report_document(second.report))
    assert first.stages == second.stages


def test_a_faceted_blank_left_too_large_is_still_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the reamer a ring of 0.1 mm stays in the bore: chords must not hide it."""
    FaultyKernel(BORE, spared=VOLUME).install(monkeypatch)
    changed = plan()
    changed["setups"][0]["workingsteps"] = changed["setups"][0]["workingsteps"][:3]
    report = check_plan(PART, json.dumps(changed).encode(), {}).report
    assert report.verdict == "fail"
    assert {"fit.hole-diameter"} <= {f.code for f in report.findings if f.level == "error"}
    (lump,) = report.residual.lumps
    assert lump.volume == pytest.approx(math.pi * (5**2 - 4.9**2) * 20, rel=0.02)


def test_where_only_the_field_survives_the_plan_fails_and_the_report_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    no_meshes(monkeypatch)
    FaultyKernel(BORE).install(monkeypatch)
    checked = check()
    report = checked.report
    assert report.verdict == "fail"
    assert ("error", "evidence.disagreement", "S1", "80") in told(report)
    (found,) = (f for f in report.findings if f.code == "evidence.disagreement" and f.level == "error")
    assert "only the tri-dexel field" in found.message and found.features and found.at is not None
    assert found.remedy is not None and "faces" in found.remedy.text
    assert methods(report) == ["dexel field alone"] * 2
    assert report.setups[1].to_be.volume == pytest.approx(VOLUME, rel=1e-3)  # the field's own
    assert removal(report, "10") == pytest.approx(removal(as_it_works(), "10")) and removal(report, "80") is None
    assert report.residual.volume is None and not checked.stages
    assert "not known" in report_text(report_document(report))
    hidden = next(r for r in report.evidence.rules if r.code == "left.stock")
    assert "not judged" in hidden.skipped["plan"]


def test_a_mesh_that_makes_no_solid_is_left_to_the_field(monkeypatch: pytest.MonkeyPatch) -> None:
    FaultyKernel(BORE, spared=VOLUME).install(monkeypatch)

    def fails(*_: object) -> None:
        raise KernelError("mesh", "the faceted solid is not sound")

    monkeypatch.setattr(rungs.Metal, "body", property(_made_or(fails)))
    report = check().report
    assert ("error", "evidence.disagreement", "S1", "80") in told(report) and report.verdict == "fail"
    assert methods(report) == ["dexel field alone"] * 2
    assert removal(report, "20") == pytest.approx(removal(as_it_works(), "20")) and removal(report, "80") is None


def _made_or(fails: Any) -> Any:
    return lambda self: self._body if self._body is not None else fails()


FAILURES = [
    KernelError("offset", "made to fail"),
    ZeroDivisionError("float division by zero"),
    IndexError("no such edge"),
]
"""The kernel's own failure, and what sums of ours raise on a shape that none of them foresaw."""


@pytest.mark.parametrize("failure", FAILURES)
def test_a_step_whose_sweep_fails_is_left_to_the_field(monkeypatch: pytest.MonkeyPatch, failure: Exception) -> None:
    import worker.stage.make as make

    sweep_step = make.sweep_step

    def fails(scene: Any, job: Any) -> Any:
        if job.step.id == "90":
            raise failure
        return sweep_step(scene, job)

    monkeypatch.setattr(make, "sweep_step", fails)
    report = check().report
    assert ("error", "evidence.disagreement", "S1", "90") in told(report) and report.verdict == "fail"
    assert report.setups[1].to_be.volume == pytest.approx(VOLUME, rel=1e-3)
    assert removal(report, "80") == pytest.approx(removal(as_it_works(), "80"))


@pytest.mark.parametrize("failure", FAILURES)
def test_reach_that_fails_is_an_error_and_the_report_is_written(
    monkeypatch: pytest.MonkeyPatch, failure: Exception
) -> None:
    def fails(*_: object) -> None:
        raise failure

    monkeypatch.setattr("worker.cache.rooms.reach_of", fails)
    report = check().report
    assert {("error", "rule.failed", "S1", None), ("error", "rule.failed", "S2", None)} <= told(report)
    assert all("reach.stickout" in f.message for f in report.findings if f.level == "error")


def test_a_gouge_that_is_not_known_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("worker.stage.make._overlap", lambda *_: (None, "made to fail"))
    report = check().report
    failed = [f for f in report.findings if f.code == "rule.failed" and f.level == "error"]
    assert {"10", "20", "80", "90"} == {f.workingstep for f in failed if "cut.gouge" in f.message and f.setup == "S1"}


def test_jaws_stand_where_the_stock_is_within_their_height(monkeypatch: pytest.MonkeyPatch) -> None:
    """A block of 60 x 40 whose upper half is a round disc of 80: jaws 10 mm high meet the block."""
    body = boolean.fuse([solid_block(), cylinder((30, 20, 10), (30, 20, 20), 80)])
    vise = Vise(type="vise", jaw_axis="Y", jaw_width=100, jaw_height=18, parallel_height=10, max_opening=120)
    usual = place_holding(vise, WORLD, body, {}).jaws

    def fails(*_: object, **__: object) -> None:
        raise KernelError("common", "made to fail")

    monkeypatch.setattr("worker.kernel.boolean.common", fails)
    found = place_holding(vise, WORLD, body, {}).jaws
    assert usual is not None and found is not None
    assert (usual.low, usual.high) == pytest.approx((0, 40))
    assert (found.low, found.high) == pytest.approx((0, 40))


def test_what_is_left_is_computed_by_meshes_where_solids_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object, **__: object) -> None:
        raise KernelError("cut", "made to fail")

    monkeypatch.setattr("worker.residual.boolean.attempts", fails)  # the part a hair aside stays
    changed = plan()
    changed["setups"][0]["workingsteps"] = changed["setups"][0]["workingsteps"][:3]
    report = check_plan(PART, json.dumps(changed).encode(), {}).report
    (lump,) = report.residual.lumps
    assert lump.volume == pytest.approx(math.pi * (5**2 - 4.9**2) * 20, rel=0.02)
    assert any("computed by meshes" in note for note in report.evidence.notes)
    monkeypatch.setattr("worker.facts.standing_by_meshes", fails)
    (lump,) = check_plan(PART, json.dumps(changed).encode(), {}).report.residual.lumps
    assert lump.volume == pytest.approx(math.pi * (5**2 - 4.9**2) * 20, rel=0.02)
    for way in (fails, lambda *_: ()):  # that nothing is left of what the stock has more than the part
        monkeypatch.setattr("worker.facts.standing_aside", way)
        report = check_plan(PART, json.dumps(changed).encode(), {}).report
        assert ("error", "rule.failed", None, None) in told(report) and report.residual.volume is None


def test_what_is_left_of_a_stock_whose_volume_is_not_sure_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """As fuzzy cuts leave it: no boolean balances to a ten-millionth, no mesh of it closes."""

    def fails(*_: object) -> None:
        raise KernelError("mesh", "made to fail")

    changed = plan()
    changed["setups"][0]["workingsteps"] = changed["setups"][0]["workingsteps"][:3]
    checked = check_plan(PART, json.dumps(changed).encode(), {})
    sure: list[bool] = []

    def judged(_: Any, balance: float) -> str:
        sure.append(balance <= BALANCE)
        return "made to fail" if sure[-1] else ""

    monkeypatch.setitem(attempts._FAULTS, BRepAlgoAPI_Cut, judged)
    monkeypatch.setattr("worker.facts.standing_by_meshes", fails)
    (lump,) = finish_of(checked.inputs.part, checked.cut).residual
    assert lump.volume == pytest.approx(math.pi * (5**2 - 4.9**2) * 20, rel=0.02)
    assert sure[-1] is False
