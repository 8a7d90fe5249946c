"""``reclamp compare`` on parts made here: a drilled block whose hole grows, moves, or stays."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from service.cli.main import main
from tests.support.plans import drilled_block
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.stepio import write_step

PLAN = drilled_block(20, at=[30, 20, 20])


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("revisions")
    for name, x, diameter in (("old", 30.0, 6.0), ("grown", 30.0, 8.0), ("moved", 50.0, 6.0)):
        hole = cylinder((x, 20.0, -5.0), (x, 20.0, 25.0), diameter)
        body = cut(box((0.0, 0.0, 0.0), (60.0, 40.0, 20.0)), [hole])
        (folder / f"{name}.step").write_bytes(write_step(body, "mm", name))
    (folder / "plan.json").write_text(json.dumps(PLAN))
    return folder


def compared(files: Path, new: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, dict[str, Any]]:
    code = main(["compare", *(str(files / n) for n in ("old.step", f"{new}.step", "plan.json")), "--format", "json"])
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return code, found


def test_nothing_differs(files: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = compared(files, "old", capsys)
    assert code == 0
    assert found["features"]["changed"] == found["features"]["new"] == found["features"]["gone"] == []
    assert found["findings"] == {"new": [], "gone": []}


def test_a_grown_hole_touches_its_step_and_fails_there(files: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = compared(files, "grown", capsys)
    assert code == 1
    assert [c["sizes"]["diameter"] for c in found["features"]["changed"] if c["class"] == "round_hole"] == [[6, 8]]
    assert [(t["setup"], t["workingstep"]) for t in found["setups"]] == [("S1", "10")]
    assert "fit.hole-diameter" in {f["code"] for f in found["findings"]["new"]}


def test_a_plan_that_no_longer_finds_its_hole(files: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = compared(files, "moved", capsys)
    assert code == 1
    assert found["problems"]["new"].startswith("/setups/0/workingsteps/0/features/0")
    assert found["verdict"] == {"old": found["verdict"]["old"]}


def test_an_unreadable_part_is_unusable_input(files: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (files / "bad.step").write_text("no part")
    assert main(["compare", *(str(files / n) for n in ("old.step", "bad.step", "plan.json"))]) == 2
    assert "Traceback" not in capsys.readouterr().err
