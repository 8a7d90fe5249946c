"""A check that goes on watching: what a person at an editor sees, change after change."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.support.examples import FOLDER
from tests.support.shared_folder import with_cache

ROOT = Path(__file__).parents[2]
PART, PLAN = FOLDER / "sensor_plate" / "part.step", FOLDER / "sensor_plate" / "plan.json"
WAITING = "reclamp: waiting for a change (Ctrl-C ends)"
LONG = 120.0
"""Seconds after which a command that sees no change is ended: its test then fails."""


def _interruptible() -> None:
    """A shell starts what runs in its background deaf to Ctrl-C; this command is one at a person's terminal."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@contextmanager
def watched(plan: Path, out: Path) -> Iterator[subprocess.Popen[str]]:
    """The command in a process of its own, at the end of its first check at the earliest."""
    words = [sys.executable, "-m", "service.cli.main", "check", str(PART), str(plan), "--out", str(out), "--watch"]
    pipe = subprocess.PIPE
    with subprocess.Popen(
        words, cwd=ROOT, stdout=pipe, stderr=pipe, text=True, env=with_cache(), preexec_fn=_interruptible
    ) as running:
        patience = threading.Timer(LONG, running.kill)
        patience.start()
        try:
            yield running
        finally:
            patience.cancel()
            running.kill()


def told(running: subprocess.Popen[str]) -> list[str]:
    """What one more check says on stderr; fails where the command ends instead of waiting."""
    assert running.stderr is not None
    found: list[str] = []
    for line in running.stderr:
        if line.strip() == WAITING:
            return found
        found.append(line.strip())
    raise AssertionError(f"it ended: {found}")


def ended(running: subprocess.Popen[str]) -> tuple[int, str]:
    """The exit code after Ctrl-C, and all of stdout."""
    running.send_signal(signal.SIGINT)
    printed, _ = running.communicate(timeout=60)
    return running.returncode, printed


def test_every_saved_change_is_checked_and_what_cannot_be_used_is_told(tmp_path: Path) -> None:
    plan, report = tmp_path / "plan.json", tmp_path / "out" / "report.json"
    plan.write_text("{")
    with watched(plan, tmp_path / "out") as running:
        assert "cannot be read as JSON" in " ".join(told(running))
        assert not report.exists()
        plan.write_bytes(PLAN.read_bytes())
        assert told(running) == []
        assert json.loads(report.read_bytes())["verdict"] == "pass"
        plan.unlink()
        assert "No such file" in " ".join(told(running))
        plan.write_bytes(PLAN.read_bytes())
        assert told(running) == []
        code, printed = ended(running)
    assert code == 0
    assert printed.count("PASS") == 2


def test_the_exit_code_is_that_of_the_last_check(tmp_path: Path) -> None:
    with watched(tmp_path / "nothing.json", tmp_path / "out") as running:
        assert "No such file" in " ".join(told(running))
        assert ended(running) == (2, "")
