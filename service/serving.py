"""The processes of ``reclamp serve``: started in order, restarted when they fall, ended cleanly."""

from __future__ import annotations

import fcntl
import logging
import os
import secrets
import signal
import socket
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from schemas.problem import Problem
from service.broker.embedded import start_broker
from service.broker.processes import MODULE, end, spawn
from service.broker.queue import ALONE, SHARED
from service.settings import Settings

log = logging.getLogger("reclamp.serve")
_LONGEST_SOCKET = 100
"""A unix socket's path may have 107 bytes; a deeper data folder gets its socket in a temporary folder."""
_PATIENCE = 12.0
Process = subprocess.Popen[bytes]


@dataclass(slots=True)
class Child:
    """A process that must run: how to start it, and how often it fell of late."""

    name: str
    start: Callable[[], Process]
    process: Process | None = None
    falls: int = 0
    since: float = 0.0
    not_before: float = 0.0


@dataclass(slots=True)
class Family:
    """All children, in the order of their start; they end in the reverse order."""

    children: list[Child]
    stopping: threading.Event = field(default_factory=threading.Event)

    def run(self) -> None:
        """Keep the children alive until a signal comes."""
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: self.stopping.set())
        try:
            while not self.stopping.is_set():
                for child in self.children:
                    if not self.stopping.is_set():
                        _tend(child)
                self.stopping.wait(0.2)
        finally:
            self.end()

    def end(self) -> None:
        """End all: all are asked at once but the first, the broker, which the others still need."""
        alive = [c for c in self.children if c.process is not None]
        for child in alive[1:]:
            if child.process is not None and child.process.poll() is None:
                child.process.terminate()
        for child in reversed(alive):
            if child.process is not None:
                end(child.process, _PATIENCE)


def _tend(child: Child) -> None:
    """Start the child when it does not run; the more often it falls, the longer the pause (up to 10 s)."""
    now = time.monotonic()
    if child.process is not None and child.process.poll() is None:
        if now - child.since > 30:
            child.falls = 0
        return
    if child.process is not None:
        log.warning("process fell", extra={"child": child.name, "exit": child.process.returncode})
        child.process, child.falls = None, child.falls + 1
        child.not_before = now + min(10.0, 0.1 * 2**child.falls) if child.falls > 1 else now
    if now >= child.not_before:
        try:
            child.process, child.since = child.start(), now
        except (OSError, TimeoutError) as error:
            child.falls += 1
            child.not_before = now + min(10.0, 0.2 * 2**child.falls)
            log.error("process cannot be started", extra={"child": child.name, "error": str(error)})


def environment(settings: Settings) -> dict[str, str]:
    """The variables that make the children see the same settings."""
    own = {
        "RECLAMP_DATA": str(settings.data.resolve()),
        "RECLAMP_DATABASE_URL": settings.database(),
        "RECLAMP_BROKER_URL": settings.broker(),
        "RECLAMP_STORE_URL": settings.store(),
        "RECLAMP_SECRET": settings.secret.get_secret_value(),
        "RECLAMP_AUTH": str(settings.auth),
        "RECLAMP_METRICS_PUBLIC": str(settings.metrics_public),
    }
    return {**os.environ, **own, "OMP_NUM_THREADS": "1"}


def prepare(settings: Settings) -> Settings:
    """The data folder, the master secret and the place of the broker's socket, made on first use."""
    settings.data.mkdir(parents=True, exist_ok=True, mode=0o700)
    changes: dict[str, object] = {}
    if not settings.secret.get_secret_value():
        changes["secret"] = _own_secret(settings.data / "secret")
    if not settings.broker_url.get_secret_value() and len(str(settings.data.resolve())) > _LONGEST_SOCKET - 12:
        folder = tempfile.mkdtemp(prefix="reclamp-")
        changes["broker_url"] = f"redis+socket://{folder}/broker.sock"
    return Settings(**{**settings.model_dump(), **changes}) if changes else settings


def claim_folder(folder: Path) -> IO[str]:
    """Hold the data folder until the file is closed. Raises Problem ``serve.in-use`` when another service has it."""
    lock = (folder / "lock").open("w")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        lock.close()
        raise Problem(
            "serve.in-use",
            "The folder is in use",
            f"Another service uses '{folder}'.",
            pointer="--data",
            remedy="End it, or give another folder.",
        ) from None
    return lock


def claim_port(host: str, port: int) -> None:
    """Raise Problem ``serve.port`` when the address cannot be listened on, before anything is started."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as found:
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind((host, port))
        except OSError as error:
            raise Problem(
                "serve.port",
                "The address cannot be used",
                f"{host}:{port} cannot be listened on: {error.strerror}.",
                pointer="--port",
                remedy="End what listens there, or give another --port.",
            ) from None


def _own_secret(path: Path) -> str:
    if not path.exists():
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as file:
            file.write(secrets.token_urlsafe(32))
    return path.read_text().strip()


def family(
    settings: Settings, host: str, port: int, workers: int, worker_command: Sequence[str], *, own_broker: bool
) -> Family:
    """Broker (when it is our own), API, workers, and the one that takes jobs which have cost a process before."""
    env = environment(settings)
    children: list[Child] = []
    if own_broker:
        own = Path(settings.broker().removeprefix("redis+socket://"))
        children.append(Child("broker", lambda: start_broker(own, settings.data.resolve() / "broker")))
    api = [*MODULE, "service.api", "--host", host, "--port", str(port)]
    children.append(Child("api", lambda: spawn(api, env)))
    for number in range(workers):
        children.append(Child(f"worker-{number + 1}", lambda: spawn([*worker_command, SHARED], env)))
    children.append(Child("worker-alone", lambda: spawn([*worker_command, ALONE], env)))
    return Family(children)
