"""Starts the service for tests: real broker, real API process, real worker processes, on loopback."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx

from service.broker.embedded import start_broker
from service.broker.processes import end, spawn
from service.broker.queue import ALONE, SHARED
from service.keys import service as keys
from service.settings import Settings
from service.store.database import Database, migrate

REPO = Path(__file__).parents[2]
PLAN: dict[str, Any] = {
    "plan_version": 1,
    "name": "one setup",
    "units": "mm",
    "workpiece": {"rawpiece": {"box": {"min": [0, 0, 0], "max": [10, 10, 10]}}},
    "tools": [{"id": "T1", "type": "endmill", "DC": 10, "APMX": 20, "LU": 25, "stickout": 30}],
    "setups": [
        {
            "id": "S1",
            "origin": {"location": [0, 0, 10], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]},
            "workholding": {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 40, "parallel_height": 36},
            "workingsteps": [],
        }
    ],
}
QUICK = {
    "RECLAMP_LEASE": "1.5",
    "RECLAMP_HEARTBEAT": "0.3",
    "RECLAMP_RELAY_INTERVAL": "0.2",
    "RECLAMP_REPUBLISH_AFTER": "0.5",
    "RECLAMP_WEBHOOK_FIRST_DELAY": "0.2",
    "RECLAMP_WEBHOOK_PRIVATE_NETWORKS": "true",
    "RECLAMP_FAILED_LOGINS_PER_MINUTE": "100000",
    "RECLAMP_LOG_LEVEL": "INFO",
}


def part(*orders: str) -> bytes:
    """A part that tells the double what to do."""
    return b"ISO-10303-21;\n" + b"".join(f"/* do {order} */\n".encode() for order in orders)


def free_port() -> int:
    with closing(socket.socket()) as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def eventually(condition: Callable[[], Any], seconds: float = 60.0, pause: float = 0.05) -> Any:
    """The first true value of ``condition``; AssertionError when there is none in time."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if found := condition():
            return found
        time.sleep(pause)
    raise AssertionError(f"not within {seconds} s: {condition}")


class Stack:
    """One service in a folder. Every process can be killed and started again."""

    def __init__(self, folder: Path, **env: str) -> None:
        folder.mkdir(exist_ok=True)
        self.folder, self.port = folder, free_port()
        own = {"RECLAMP_DATA": str(folder), "RECLAMP_SECRET": "test-secret", "PYTHONPATH": str(REPO)}
        self.env = {**os.environ, **QUICK, **own, **env}
        self.settings = settings_of(self.env)
        self.processes: dict[str, subprocess.Popen[bytes]] = {}
        migrate(self.settings.database())
        self.database = Database(self.settings.database())
        self.token = self.new_key("acme")

    def new_key(self, tenant: str, **options: Any) -> str:
        return keys.create(self.database, self.settings, tenant=tenant, name="test", **options).token

    def start(self, workers: int = 1, alone: bool = True) -> Stack:
        self.start_broker()
        self.start_api()
        for number in range(workers):
            self.start_worker(f"worker-{number}")
        if alone:
            self.start_worker("alone", ALONE)
        return self

    def have(self, workers: int = 1, alone: bool = True) -> Stack:
        """Exactly these processes: what runs goes on, what died is started again, what is too much is killed."""
        self.processes = {name: process for name, process in self.processes.items() if process.poll() is None}
        wanted = {f"worker-{number}": SHARED for number in range(workers)} | ({"alone": ALONE} if alone else {})
        for name in set(self.processes) - {*wanted, "broker", "api"}:
            self.kill(name)
        if "broker" not in self.processes:
            self.start_broker()
        if "api" not in self.processes:
            self.start_api()
        for name in [name for name in wanted if name not in self.processes]:
            self.start_worker(name, wanted[name])
        return self

    def start_broker(self) -> None:
        self.processes["broker"] = start_broker(self.folder / "broker.sock", self.folder / "broker")

    def start_api(self) -> None:
        command = [sys.executable, "-m", "service.api", "--port", str(self.port)]
        self.processes["api"] = spawn(command, self.env)
        eventually(self.answers, 30)

    def start_worker(self, name: str, queue: str = SHARED, module: str = "tests.support.service_double") -> None:
        self.processes[name] = spawn([sys.executable, "-m", module, queue], self.env)

    def start_real_worker(self, name: str, queue: str = SHARED) -> None:
        """A worker with the kernel, not the double."""
        self.start_worker(name, queue, "service.work.main")

    def answers(self) -> bool:
        try:
            return httpx.get(f"{self.url}/healthz", timeout=2, verify=False).status_code == 200
        except httpx.HTTPError:
            return False

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def client(self, token: str | None = None, **options: Any) -> httpx.Client:
        headers = {"Authorization": f"Bearer {token or self.token}"}
        options = {"timeout": 30, "verify": False, **options}  # no certificates are read for plain HTTP: 20 ms a client
        return httpx.Client(base_url=self.url, headers=headers, **options)

    def submit(self, *orders: str, client: httpx.Client | None = None, **headers: str) -> httpx.Response:
        files: Mapping[str, Any] = {"part": ("part.step", part(*orders)), "plan": ("plan.json", json.dumps(PLAN))}
        if client is not None:
            return client.post("/v1/checks", files=files, headers=headers)
        with self.client() as own:
            return own.post("/v1/checks", files=files, headers=headers)

    def state(self, check: str) -> dict[str, Any]:
        with self.client() as client:
            found: dict[str, Any] = client.get(f"/v1/checks/{check}").json()
        return found

    def final(self, check: str, seconds: float = 120.0) -> dict[str, Any]:
        def ended() -> dict[str, Any] | None:
            found = self.state(check)
            return found if found.get("state") in ("done", "failed", "cancelled") else None

        found: dict[str, Any] = eventually(ended, seconds)
        return found

    def kill(self, name: str) -> None:
        """kill -9, and wait until it is gone."""
        process = self.processes.pop(name)
        process.send_signal(signal.SIGKILL)
        process.wait(10)

    def stop(self) -> None:
        broker = self.processes.pop("broker", None)
        for process in self.processes.values():
            if process.poll() is None:
                process.terminate()
        for process in self.processes.values():
            end(process, 5)
        if broker is not None:
            end(broker, 5)
        self.database.close()


def settings_of(env: Mapping[str, str]) -> Settings:
    """The settings that a process with this environment has."""
    names = {name.removeprefix("RECLAMP_").lower(): value for name, value in env.items() if name.startswith("RECLAMP_")}
    return Settings.model_validate(names)
