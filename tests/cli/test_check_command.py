"""The check command as a shop runs it: exit codes, files it leaves, the same bytes every time."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from tests.support.examples import FOLDER, document
from tests.support.shared_folder import with_cache

ROOT = Path(__file__).parents[2]
FILES = ["report.json", "stages/S1.step", "stages/S2.step"]


def check(plan: Path, out: Path, *extra: str, anew: bool = False, seed: str = "0") -> subprocess.CompletedProcess[str]:
    """One run in a process of its own, with its own hash seed; ``anew``: with nothing kept from other checks."""
    part = FOLDER / "sensor_plate" / "part.step"
    command = [sys.executable, "-m", "service.cli.main", "check", str(part), str(plan), "--out", str(out), *extra]
    environment = {**(os.environ if anew else with_cache()), "PYTHONHASHSEED": seed}
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False, env=environment)


def written(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_a_pass_exits_0_and_leaves_the_same_report_and_stages_every_time(tmp_path: Path) -> None:
    plan = FOLDER / "sensor_plate" / "plan.json"
    first = check(plan, tmp_path / "one", anew=True, seed="1")
    second = check(plan, tmp_path / "two", "--format", "json", anew=True, seed="2")
    assert (first.returncode, first.stderr) == (0, "")
    assert (second.returncode, second.stderr) == (0, "")
    assert "pass" in first.stdout.lower()
    assert sorted(written(tmp_path / "one")) == FILES
    assert written(tmp_path / "one") == written(tmp_path / "two")
    report = json.loads(second.stdout)
    assert report["verdict"] == "pass"
    assert str(tmp_path) not in second.stdout


def faulty(change: Any, folder: Path) -> Path:
    plan = document("sensor_plate")
    change(plan)
    path = folder / "plan.json"
    path.write_text(json.dumps(plan))
    return path


def test_a_failed_plan_exits_1_and_still_leaves_everything(tmp_path: Path) -> None:
    def nobody_mills_the_channel(plan: dict[str, Any]) -> None:
        del plan["setups"][1]["workingsteps"][2:4]

    done = check(faulty(nobody_mills_the_channel, tmp_path), tmp_path / "out", "--format", "json")
    assert done.returncode == 1
    report = json.loads(done.stdout)
    assert report == json.loads((tmp_path / "out" / "report.json").read_text())
    assert report["verdict"] == "fail"
    assert {f["code"] for f in report["findings"] if f["level"] == "error"} == {"left.feature", "left.stock"}
    assert sorted(written(tmp_path / "out")) == FILES


def test_a_warning_fails_only_where_the_caller_says_so(tmp_path: Path) -> None:
    plan = faulty(lambda p: p["machine"].update(max_spindle_speed=10500), tmp_path)
    lenient = check(plan, tmp_path / "out")
    strict = check(plan, tmp_path / "out", "--fail-on", "warning")
    assert (lenient.returncode, strict.returncode) == (0, 1)
    assert "machine.speed" in strict.stdout
