from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

from service.batch.pairs import find_pairs, load
from service.batch.results import Row, as_csv, exit_code
from service.cli.main import main
from tests.support.service_stack import PLAN, REPO, Stack, eventually, part


@pytest.fixture(autouse=True)
def _no_key(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("RECLAMP_KEY", raising=False)


def _pair(folder: Path, name: str, *orders: str, plan: object = PLAN) -> None:
    (folder / name).mkdir(parents=True)
    (folder / name / "part.step").write_bytes(part(f"name {name}", *orders))
    (folder / name / "plan.json").write_text(json.dumps(plan))


def _rows(out: Path) -> dict[str, dict[str, str]]:
    with (out / "results.csv").open(newline="") as file:
        return {row["name"]: row for row in csv.DictReader(file)}


def test_batch_writes_the_table_and_exits_by_the_worst(
    stack: Stack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    jobs, out = tmp_path / "jobs", tmp_path / "out"
    for number in range(12):
        _pair(jobs, f"good{number:02}")
    monkeypatch.setenv("RECLAMP_KEY", stack.new_key("batch"))
    command = ["batch", str(jobs), "--url", stack.url, "--out", str(out), "--quiet"]
    assert main(command) == 0
    _pair(jobs, "failing", "fail")
    assert main(command) == 1
    _pair(jobs, "no-solid", "problem")
    _pair(jobs, "typo", plan={**PLAN, "unit": "mm"})
    assert main(command) == 2
    rows = _rows(out)
    assert {name: row["result"] for name, row in rows.items() if not name.startswith("good")} == {
        "failing": "fail",
        "no-solid": "unusable",
        "typo": "unusable",
    }
    assert (rows["no-solid"]["codes"], rows["typo"]["codes"]) == ("part.no-solid", "plan.invalid")
    assert "/unit" in rows["typo"]["detail"]
    assert "12 pass, 1 fail, 2 unusable, 0 internal" in capsys.readouterr().out
    assert len(list((out / "reports").iterdir())) == 13
    with stack.client(os.environ["RECLAMP_KEY"]) as client:  # the second and third run sent only what was new
        assert len(client.get("/v1/checks", params={"limit": 200}).json()["items"]) == 14


def test_interrupted_batch_goes_on_where_it_was(stack: Stack, tmp_path: Path) -> None:
    jobs, out, token = tmp_path / "jobs", tmp_path / "out", stack.new_key("again")
    for number in range(16):
        _pair(jobs, f"job{number:02}", "sleep 0.3")
    command = [sys.executable, "-m", "service.cli.main", "batch", str(jobs), "--url", stack.url, "--out", str(out)]
    environment = {**os.environ, "RECLAMP_KEY": token, "PYTHONPATH": str(REPO)}
    heeds = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)  # whoever runs the tests in the background ignores it
    process = subprocess.Popen([*command, "--at-once", "4"], env=environment, cwd=tmp_path, preexec_fn=heeds)
    journal = out / "journal.jsonl"
    eventually(lambda: journal.exists() and len(journal.read_text().splitlines()) >= 4)
    process.send_signal(signal.SIGINT)
    assert process.wait(40) == 3
    ended = len(journal.read_text().splitlines())
    assert 4 <= ended < 16
    assert subprocess.run([*command, "--quiet"], env=environment, cwd=tmp_path, timeout=60).returncode == 0
    assert len(journal.read_text().splitlines()) == 16
    with stack.client(token) as client:
        items = client.get("/v1/checks", params={"limit": 200}).json()["items"]
    assert len(items) == 16  # nothing was checked twice
    assert {item["attempt"] for item in items} == {1}


def test_batch_without_a_service_exits_3(tmp_path: Path) -> None:
    _pair(tmp_path / "jobs", "one")
    command = ["batch", str(tmp_path / "jobs"), "--url", "http://127.0.0.1:9", "--out", str(tmp_path / "out")]
    assert main([*command, "--patience", "0.2", "--quiet"]) == 3


def test_pairs_are_found_in_folders_side_by_side_and_in_lists(tmp_path: Path) -> None:
    _pair(tmp_path, "b")
    (tmp_path / "a.step").write_bytes(part())
    (tmp_path / "a.json").write_text(json.dumps({**PLAN, "workpiece": {"rawpiece": {"step": "casting"}}}))
    (tmp_path / "casting.stp").write_bytes(part("size 3"))
    assert [pair.name for pair in find_pairs(tmp_path)] == ["a", "b"]
    assert load(find_pairs(tmp_path)[0]).files == {"casting": part("size 3")}
    listing = tmp_path / "list.csv"
    listing.write_text("# part, plan\na.step, a.json, casting=b/part.step\n\nb/part.step,b/plan.json\n")
    pairs = find_pairs(listing)
    assert [pair.name for pair in pairs] == ["2:a.step", "4:b/part.step"]
    assert load(pairs[0]).files == {"casting": part("name b")}


@pytest.mark.parametrize("text", ["only-one\n", "a,b,nothing\n", ""])
def test_bad_list_is_unusable_input(tmp_path: Path, text: str) -> None:
    listing = tmp_path / "list.csv"
    listing.write_text(text)
    assert main(["batch", str(listing), "--url", "http://127.0.0.1:9", "--out", str(tmp_path / "out")]) == 2


def test_exit_code_is_the_worst() -> None:
    rows = [Row("a", "pass"), Row("b", "pass", warnings=1)]
    assert exit_code(rows, "error") == 0
    assert exit_code(rows, "warning") == 1
    assert exit_code([*rows, Row("c", "fail")], "error") == 1
    assert exit_code([*rows, Row("c", "fail"), Row("d", "unusable")], "error") == 2
    assert exit_code([*rows, Row("c", "internal"), Row("d", "unusable")], "error") == 3


def test_cells_are_no_formulas() -> None:
    assert '"\'=HYPERLINK(1,2)"' in as_csv([Row("=HYPERLINK(1,2)", "pass")])
