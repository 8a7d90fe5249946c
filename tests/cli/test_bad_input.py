"""Bad input on the command line: exit 2, one sentence with place and remedy on stderr, nothing in the output folder."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.cli.main import main
from tests.support import bad_files
from tests.support.examples import FOLDER, document
from tests.support.trial import Json, plan, raw_box, setup, step, tool
from worker.job import run_check

ROOT = Path(__file__).parents[2]
SLOW = 60
FACE = {"class": "planar_face", "normal": [0, 0, 1]}


def face_plan(*features: Json | str, **keys: Any) -> Json:
    """A sound plan for the plain block of ``bad_files.good``."""
    work = step("plane_finish_milling", tool("facemill", 50), *(features or (FACE,)))
    return plan(raw_box((0, 0, 0), (100, 60, 42)), setup([work], location=[0, 0, 40])) | keys


Ended = tuple[int, str, str, Path]
"""Exit code, stdout, stderr and output folder of one check."""


def written(folder: Path, part: bytes, document: Any) -> list[str]:
    """The words of the command that checks these."""
    (folder / "part.step").write_bytes(part)
    data = document if isinstance(document, bytes) else json.dumps(document).encode()
    (folder / "plan.json").write_bytes(data)
    return ["check", str(folder / "part.step"), str(folder / "plan.json"), "--out", str(folder / "out")]


def reclamp(folder: Path, part: bytes, document: Any) -> Ended:
    """A check in a process of its own."""
    command = [sys.executable, "-m", "service.cli.main", *written(folder, part, document)]
    begin = time.monotonic()
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)
    assert time.monotonic() - begin < SLOW
    return done.returncode, done.stdout, done.stderr, folder / "out"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Ended]:
    """A check whose command runs in this process and whose child comes from a server that has the kernel at hand."""
    monkeypatch.setattr("worker.job.run_check", lambda *a, **k: run_check(*a, **{**k, "method": "forkserver"}))

    def check(part: bytes, document: Any, *extra: str) -> Ended:
        code = main([*written(tmp_path, part, document), *extra])
        return code, *capsys.readouterr(), tmp_path / "out"

    return check


def refused(result: Ended, *words: str) -> str:
    """The one sentence of a refusal, after everything else about it was checked."""
    code, told, wrong, out = result
    assert code == 2, (code, told, wrong)
    assert told == ""
    lines = wrong.strip().splitlines()
    assert len(lines) == 1, wrong
    assert lines[0].startswith("reclamp: ")
    assert "Traceback" not in wrong
    assert "Standard_" not in wrong and "OCP" not in wrong
    assert not out.exists() or not any(out.rglob("*"))
    for word in words:
        assert word.lower() in lines[0].lower()
    return lines[0]


ALONE = {"text", "cut off", "open solid", "kernel killer"}
"""Faults shown to a command in a process of its own: no STEP, a broken one, a body of no use, death in the kernel."""


@pytest.mark.parametrize("fault", list(bad_files.BAD))
def test_a_part_that_cannot_be_used(tmp_path: Path, here: Callable[..., Ended], fault: str) -> None:
    make, word = bad_files.BAD[fault]
    ended = reclamp(tmp_path, make(), face_plan()) if fault in ALONE else here(make(), face_plan())
    sentence = refused(ended, word)
    place, _, rest = sentence.removeprefix("reclamp: ").partition(": ")
    assert place  # the file, or the pointer of the plan value that does not fit it
    assert rest.count(".") >= 2  # what is wrong, and what to do


def test_a_file_larger_than_the_limit_is_not_even_read(tmp_path: Path) -> None:
    big = tmp_path / "big.step"
    with big.open("wb") as file:
        file.truncate(300 * 1024 * 1024)
    (tmp_path / "plan.json").write_text(json.dumps(face_plan()))
    command = [sys.executable, "-m", "service.cli.main", "check", str(big), str(tmp_path / "plan.json")]
    begin = time.monotonic()
    done = subprocess.run(
        [*command, "--out", str(tmp_path / "out")], cwd=ROOT, capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 2
    assert "bytes" in done.stderr and "Keep it below" in done.stderr
    assert time.monotonic() - begin < 10
    assert not (tmp_path / "out").exists()


PLANS: dict[str, tuple[Any, tuple[str, ...]]] = {
    "not json": (b"{'units': mm}", ("as JSON",)),
    "a list": (b"[]", ("JSON object",)),
    "unknown key": (face_plan(colour="red"), ("/colour", "Remove this key")),
    "unknown tool": (
        face_plan(tools=[{"id": "T9", "type": "facemill", "DC": 50, "APMX": 9, "stickout": 40}]),
        ("/setups/0/workingsteps/0/tool", "T9"),
    ),
    "NaN": (json.dumps(face_plan()).replace('"DC": 50', '"DC": NaN').encode(), ("finite",)),
    "no such feature": (face_plan("closed_pocket-1"), ("/setups/0/workingsteps/0/features/0", "Nearest")),
    "no match": (
        face_plan({"class": "round_hole", "diameter": 7}),
        ("/setups/0/workingsteps/0/features/0", "round_hole", "Nearest"),
    ),
    "other count": (face_plan(FACE | {"count": 2}), ("/setups/0/workingsteps/0/features/0", "count")),
    "file not sent": (
        face_plan(workpiece={"rawpiece": {"step": "casting"}}),
        ("/workpiece/rawpiece/step", "casting"),
    ),
    "blank too small": (
        face_plan(workpiece={"rawpiece": raw_box((0, 0, 0), (100, 60, 39))}),
        ("/workpiece/rawpiece", "larger"),
    ),
    "plan in the wrong unit": (face_plan(units="inch"), ()),
    "unknown rule": (face_plan(policy={"levels": {"cut.gauge": "warning"}}), ("/policy/levels/cut.gauge",)),
    "unknown limit": (face_plan(policy={"limits": {"grip": 4}}), ("/policy/limits/grip",)),
}


@pytest.mark.parametrize("fault", list(PLANS))
def test_a_plan_that_cannot_be_used(here: Callable[..., Ended], fault: str) -> None:
    document, words = PLANS[fault]
    refused(here(bad_files.good(), document), *words)


def test_a_file_that_the_plan_does_not_name(tmp_path: Path, here: Callable[..., Ended]) -> None:
    other = tmp_path / "other.step"
    other.write_bytes(bad_files.good())
    refused(here(bad_files.good(), face_plan(), "--file", f"other={other}"), "other")


@pytest.mark.parametrize("pair", ["other", "=x", "x=", "vee=/nowhere/vee.step"])
def test_a_file_argument_that_names_nothing(here: Callable[..., Ended], pair: str) -> None:
    refused(here(bad_files.good(), face_plan(), "--file", pair))


def test_a_workholding_file_that_is_no_step(tmp_path: Path, here: Callable[..., Ended]) -> None:
    bad = tmp_path / "vee.step"
    bad.write_bytes(b"no")
    part = (FOLDER / "spindle_nose" / "part.step").read_bytes()
    strap = FOLDER / "spindle_nose" / "strap.step"
    files = ("--file", f"vee={bad}", "--file", f"strap={strap}")
    refused(here(part, document("spindle_nose"), *files), "vee")


def test_a_part_that_is_not_there(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_text("{}")
    command = [sys.executable, "-m", "service.cli.main", "check", str(tmp_path / "none.step")]
    done = subprocess.run(
        [*command, str(tmp_path / "plan.json"), "--out", str(tmp_path / "out")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "none.step" in done.stderr and len(done.stderr.strip().splitlines()) == 1


def test_an_earlier_result_is_left_alone_by_a_refusal(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "report.json").write_text("earlier")
    code, _, _, _ = reclamp(tmp_path, b"no", face_plan())
    assert code == 2
    assert [p.name for p in out.rglob("*")] == ["report.json"]
    assert (out / "report.json").read_text() == "earlier"
