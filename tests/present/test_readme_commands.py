"""Every command that the README shows is run as it stands: blocks marked ``sh``, in order, in one folder."""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.shared_folder import with_cache

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = [line for block in re.findall(r"^```sh\n(.*?)^```", README, re.M | re.S) for line in block.splitlines()]
SERVE = "reclamp serve "
pytestmark = pytest.mark.skipif(not COMMANDS, reason="the README shows no commands yet")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("readme")
    (made / "examples").symlink_to(ROOT / "examples")
    (made / ".venv").symlink_to(Path(sys.executable).parents[1])
    (made / "out").mkdir()
    return made


@pytest.fixture(scope="module")
def port(folder: Path) -> Iterator[int]:
    """The service that the README starts, on a free port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        free = int(probe.getsockname()[1])
    command = next(c for c in COMMANDS if c.startswith(SERVE)).replace("8000", str(free))
    with subprocess.Popen(
        [str(Path(sys.executable).with_name("reclamp")), *command.split()[1:]], cwd=folder, stderr=subprocess.DEVNULL
    ) as server:
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", free)) == 0:
                    break
            time.sleep(0.3)
        yield free
        server.terminate()


def run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return subprocess.run(
        command, shell=True, cwd=folder, env={**with_cache(), "PATH": path}, capture_output=True, text=True,
        timeout=300, check=False,
    )  # fmt: skip


@pytest.mark.parametrize("command", [c for c in COMMANDS if c.startswith((". ", "reclamp ")) and SERVE not in c])
def test_a_command_of_the_readme(command: str, folder: Path) -> None:
    done = run(command, folder)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr
    assert done.stdout or command.startswith(". ")


def test_the_files_it_speaks_of_are_there(folder: Path) -> None:
    for name in set(re.findall(r"`(out/[\w./-]+)`", README)) - {"out/"}:
        assert (folder / name).stat().st_size > 0, name
    for name in re.findall(r"\]\((docs/[\w./-]+)\)", README):
        assert (ROOT / name).stat().st_size > 0, name


def test_the_service_answers_as_it_says(folder: Path, port: int) -> None:
    curls = [c for c in COMMANDS if c.startswith("curl ")]
    assert curls
    for command in curls:
        done = run(command.replace("8000", str(port)), folder)
        assert done.returncode == 0, done.stderr
    assert json.loads((folder / "out/report.json").read_text())["verdict"] == "pass"
    assert (folder / "out/report.html").read_text().startswith("<!doctype html>")
    assert (folder / "out/S1.step").read_bytes().startswith(b"ISO-10303-21;")


def test_its_python_runs(folder: Path) -> None:
    [code] = re.findall(r"^```python\n(.*?)^```", README, re.M | re.S)
    done = subprocess.run([sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=False)
    assert done.stdout.startswith("pass ['S1', 'S2', 'S3', 'S4']"), done.stderr
