"""``reclamp serve``: one command starts all, one signal ends all, nothing is left behind."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from service.cli.main import main
from tests.support.service_stack import REPO, eventually, free_port


class Served:
    """A running ``reclamp serve``."""

    def __init__(self, folder: Path, *options: str) -> None:
        self.port, self.log = free_port(), folder.parent / f"{folder.name}.out"
        for name in ("schemas", "grp"):  # the user's own files, called like a module of ours and one of Python's
            (folder.parent / f"{name}.py").write_text("raise RuntimeError('not this one')\n")
        words = ["serve", "--port", str(self.port), "--data", str(folder)]
        command = [sys.executable, "-P", "-m", "service.cli.main", *words]  # as the installed command, which has no -m
        environment = {k: v for k, v in os.environ.items() if not k.startswith("RECLAMP_")} | {"PYTHONPATH": str(REPO)}
        self.process = subprocess.Popen(
            [*command, "--workers", "1", *options], stdout=self.log.open("w"), env=environment, cwd=folder.parent
        )
        eventually(self.ready, 40)

    def ready(self) -> bool:
        try:
            parts = httpx.get(f"http://127.0.0.1:{self.port}/readyz", timeout=2, verify=False).json()["parts"]
        except httpx.HTTPError:
            return False
        return set(parts.values()) == {"ok"}

    def family(self) -> list[int]:
        """The processes that this one started, by their environment's data folder."""
        mine = f"RECLAMP_DATA={self.log.with_suffix('')}".encode()
        sockets = f"{self.log.with_suffix('')}/broker.sock".encode()
        found = []
        for entry in Path("/proc").iterdir():
            if entry.name.isdigit() and int(entry.name) != self.process.pid:
                try:
                    about = (entry / "environ").read_bytes() + (entry / "cmdline").read_bytes()
                except OSError:
                    continue
                if mine in about or sockets in about:
                    found.append(int(entry.name))
        return found


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    yield tmp_path / "data"


def test_ctrl_c_ends_all_and_a_restart_knows_the_key(folder: Path) -> None:
    served = Served(folder)
    key = re.search(r"rck_\S+", served.log.read_text())
    assert key is not None
    headers = {"Authorization": f"Bearer {key[0]}"}
    assert httpx.get(f"http://127.0.0.1:{served.port}/v1/checks", headers=headers).status_code == 200
    assert len(served.family()) >= 4  # broker, API, two workers
    served.process.send_signal(signal.SIGINT)
    assert served.process.wait(25) == 0
    assert served.family() == []
    again = Served(folder)
    try:
        assert "rck_" not in again.log.read_text()  # shown once
        assert httpx.get(f"http://127.0.0.1:{again.port}/v1/checks", headers=headers).status_code == 200
    finally:
        again.process.kill()
        again.process.wait(10)
    eventually(lambda: again.family() == [], 20)  # kill -9 of the launcher leaves no orphans either


def test_process_that_falls_is_started_again(folder: Path) -> None:
    served = Served(folder, "--no-auth")
    try:
        for pid in served.family():
            os.kill(pid, signal.SIGKILL)
        eventually(served.ready, 30)
        assert httpx.get(f"http://127.0.0.1:{served.port}/v1/checks").status_code == 200
    finally:
        served.process.send_signal(signal.SIGTERM)
        served.process.wait(25)


def test_folder_or_port_in_use_is_told_and_disturbs_nobody(folder: Path, tmp_path: Path) -> None:
    served = Served(folder, "--no-auth")
    try:
        assert main(["serve", "--data", str(folder), "--port", str(free_port())]) == 2
        assert main(["serve", "--data", str(tmp_path / "other"), "--port", str(served.port)]) == 2
        assert served.ready()
    finally:
        served.process.send_signal(signal.SIGTERM)
        served.process.wait(25)


def test_keys_can_be_left_out_only_on_loopback(tmp_path: Path) -> None:
    assert main(["serve", "--no-auth", "--host", "0.0.0.0", "--data", str(tmp_path / "data")]) == 2
    assert not (tmp_path / "data").exists()


def test_secrets_of_the_data_folder_are_the_owners_alone(folder: Path) -> None:
    from service.serving import prepare
    from service.settings import Settings

    first = prepare(Settings(data=folder))
    assert (folder.stat().st_mode & 0o77, (folder / "secret").stat().st_mode & 0o77) == (0, 0)
    assert prepare(Settings(data=folder)).secret == first.secret
    assert len(first.secret.get_secret_value()) >= 40
