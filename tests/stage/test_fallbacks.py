"""What happens when the kernel's booleans fail at one place: each way is tried in turn, and the report says which."""

from __future__ import annotations

import json

import pytest

from schemas.report import Report, report_document
from tests.support.block import block, sound
from tests.support.faulty_kernel import FaultyKernel
from worker.pipeline import Checked, check_plan
from worker.present.text import report_text

AT_8 = (34.0, 3.0, 44.0, 13.0)
"""Round the blind hole of 8 mm at (39, 8): only step 100 of S1 works within."""


PART = block()


def check() -> Checked:
    return check_plan(PART, json.dumps(sound()).encode(), {})


def told(report: Report) -> set[tuple[str, str, str | None, str | None]]:
    return {(f.level, f.code, f.setup, f.workingstep) for f in report.findings}


def methods(report: Report) -> dict[str, str]:
    return {m.setup: m.method for m in report.evidence.methods}


def test_a_step_that_no_solid_model_can_cut_ends_in_a_report_that_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    FaultyKernel(AT_8).install(monkeypatch)
    checked = check()
    report = checked.report
    assert report.verdict == "fail"
    assert ("error", "evidence.disagreement", "S1", "100") in told(report)
    (found,) = (f for f in report.findings if f.code == "evidence.disagreement" and f.level == "error")
    assert "dexel field" in found.message and found.features and found.at is not None
    assert found.remedy is not None and "faces" in found.remedy.text
    assert methods(report) == {"S1": "dexel field alone", "S2": "dexel field alone"}
    assert not checked.stages  # no solid, no file
    for document in [report_document(report)]:
        assert "not known" in report_text(document)
