"""Child processes that die with their parent and do not take its Ctrl-C."""

from __future__ import annotations

import ctypes
import signal
import subprocess
import sys
from collections.abc import Mapping, Sequence

MODULE = (sys.executable, "-P", "-m")
"""How a module of ours is run: never looked for in the folder that somebody stands in, where files and folders may be
called as ours are, or as Python's own."""
_PR_SET_PDEATHSIG = 1


def spawn(
    command: Sequence[str], env: Mapping[str, str] | None = None, *, quiet: bool = False
) -> subprocess.Popen[bytes]:
    """Start a child in its own session; on Linux the kernel ends it when this process is gone, even by kill -9."""
    silent = subprocess.DEVNULL if quiet else None
    return subprocess.Popen(
        list(command),
        env=dict(env) if env is not None else None,
        stdin=subprocess.DEVNULL,
        stdout=silent,
        start_new_session=True,
        preexec_fn=_die_with_parent if sys.platform == "linux" else None,  # no thread of this process holds a lock then
    )


def _die_with_parent() -> None:
    ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)


def end(process: subprocess.Popen[bytes], patience: float) -> None:
    """Ask the process to end; insist after ``patience`` seconds."""
    if process.poll() is not None:
        return
    process.terminate()
    try:
        process.wait(patience)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(5)
