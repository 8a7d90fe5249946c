"""Run one job in a child process that can be killed: geometry never crashes, hangs or bloats its caller.

The job is named by its import path and gets and gives bytes; nothing that a child sends is ever unpickled. A child
serves one job. Two ways to start it: ``fork`` for a command line whose process has not touched the kernel (a few
milliseconds, the child imports the kernel), ``forkserver`` for a long-lived worker (the kernel is imported once).
"""

from __future__ import annotations

import contextlib
import faulthandler
import gc
import importlib
import json
import math
import multiprocessing
import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any, Literal

from schemas.problem import Problem

Kind = Literal["ok", "problem", "failed", "crashed", "time-limit", "memory-limit", "cancelled"]
Method = Literal["fork", "forkserver"]
Progress = Callable[[Mapping[str, Any]], None]
Job = Callable[[bytes, Progress], bytes]
"""What a target is: payload and a way to tell its progress in, result out."""

PRELOAD = ("OCP", "numpy", "schemas.problem", "worker.warm")
"""What the fork server imports before it forks. Importing is safe; running one boolean there would hang children."""
POLL = 0.05
"""Seconds between looks at a child's memory: it grows by some 0.1 GB in that time at most."""
_HEADROOM = 2**30
"""Bytes of private data allowed beyond the memory limit before an allocation itself is refused."""
_MALLOC = ((-1, 2**30), (-2, 2**24), (-3, 2**25))
"""glibc's M_TRIM_THRESHOLD, M_TOP_PAD and M_MMAP_THRESHOLD (bytes; malloc.h, mallopt(3)); no other library has them."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a child may use: seconds of wall time and of processor time, bytes of resident memory."""

    wall: float = 120.0
    cpu: float = 120.0
    memory: int = 3 * 2**30


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a job ended: its ``value`` when ``kind`` is "ok", else ``detail`` in words; ``peak_rss`` in bytes.

    "problem" carries the Problem that the job raised, "failed" any other exception of it.
    """

    kind: Kind
    value: bytes = b""
    detail: str = ""
    problem: Problem | None = None
    peak_rss: int = 0

    def unwrap(self, name: str = "part") -> bytes:
        """The value, or the Problem that says what happened to the file ``name``."""
        if self.kind == "ok":
            return self.value
        raise self.problem or as_problem(self.kind, self.detail, name)


def as_problem(kind: Kind, detail: str, name: str) -> Problem:
    """The Problem of a child that did not finish."""
    slugs = {"time-limit": "part.time-limit", "memory-limit": "part.memory-limit", "crashed": "part.kernel-crash"}
    titles = {"time-limit": "The job took too long", "memory-limit": "The job needed too much memory",
              "crashed": "The geometry kernel crashed", "cancelled": "The job was cancelled"}  # fmt: skip
    remedy = "Repair or simplify the part in the modeller and export it again." if kind in slugs else ""
    status = 422 if kind in slugs else 500
    slug = slugs.get(kind, f"job.{kind}")
    title = titles.get(kind, "The job failed")
    return Problem(slug, title, detail, pointer=name, remedy=remedy, status=status)


def run_isolated(
    target: str,
    payload: bytes,
    limits: Limits | None = None,
    on_progress: Progress | None = None,
    *,
    method: Method = "forkserver",
    cancelled: Callable[[], bool] | None = None,
) -> Outcome:
    """Run ``module:function`` on ``payload`` in a child of its own; never raises for what the child does."""
    with Child(limits or Limits(), method) as child:
        return child.call(target, payload, on_progress, cancelled)


class Child:
    """A child waiting for its one job; while it waits it imports ``preload``, so start it early.

    Leaving the ``with`` block kills whatever is still running.
    """

    def __init__(self, limits: Limits, method: Method = "forkserver", preload: Iterable[str] = ()) -> None:
        context = multiprocessing.get_context(method)
        if method == "forkserver":
            context.set_forkserver_preload(list(PRELOAD))
        self._limits = limits
        self._started = time.monotonic()
        self._peak = 0
        ours, theirs = context.Pipe()
        self._pipe: Connection = ours
        arguments = (theirs, limits, tuple(preload))
        self._process = context.Process(target=_serve, args=arguments, daemon=True)  # type: ignore[attr-defined]
        self._process.start()
        theirs.close()

    def __enter__(self) -> Child:
        return self

    def __exit__(self, *_: object) -> None:
        self._kill()
        self._pipe.close()
        self._process.close()

    def call(
        self,
        target: str,
        payload: bytes,
        on_progress: Progress | None = None,
        cancelled: Callable[[], bool] | None = None,
    ) -> Outcome:
        """Send the job, pass its progress on, and wait for its end or its limit."""
        self._started = time.monotonic()
        try:
            self._pipe.send_bytes(target.encode())
            self._pipe.send_bytes(payload)
        except OSError:
            return self._ended()
        for message in self._messages(cancelled or _never):
            if isinstance(message, Outcome):
                return message
            if on_progress is not None:
                on_progress(message)
        return self._ended()

    def _messages(self, cancelled: Callable[[], bool]) -> Iterator[Mapping[str, Any] | Outcome]:
        """Progress as it comes, then one Outcome, unless the child ends without a word."""
        while True:
            wait([self._pipe, self._process.sentinel], POLL)
            breach = self._breach(cancelled)
            if breach is not None:
                self._kill()
                yield breach
                return
            if self._pipe.poll():
                try:
                    yield self._decoded(self._pipe.recv_bytes())
                except (EOFError, OSError):
                    return
            elif not self._process.is_alive():
                return

    def _breach(self, cancelled: Callable[[], bool]) -> Outcome | None:
        now = resident_bytes(self._process.pid or 0)
        self._peak = max(self._peak, now)
        if now > self._limits.memory:
            size = f"{self._limits.memory / 2**20:.0f} MB"
            return Outcome("memory-limit", detail=f"The job needed more than {size} of memory.", peak_rss=self._peak)
        if time.monotonic() - self._started > self._limits.wall:
            return self._too_long(self._limits.wall)
        if cancelled():
            return Outcome("cancelled", detail="The job was cancelled.", peak_rss=self._peak)
        return None

    def _too_long(self, seconds: float) -> Outcome:
        return Outcome("time-limit", detail=f"The job did not end within {seconds:g} s.", peak_rss=self._peak)

    def _decoded(self, message: bytes) -> Mapping[str, Any] | Outcome:
        tag, body = message[:1], message[1:]
        if tag == b"R":
            return Outcome("ok", value=body, peak_rss=self._peak)
        content: dict[str, Any] = json.loads(body)
        if tag == b"P":
            return content
        if content["kind"] != "problem":
            return Outcome(content["kind"], detail=content["detail"], peak_rss=self._peak)
        problem = Problem(**content["problem"])
        return Outcome("problem", detail=problem.detail, problem=problem, peak_rss=self._peak)

    def _ended(self) -> Outcome:
        """The outcome of a child that ended without a result, by its exit code."""
        self._process.join(1.0)
        code = self._process.exitcode
        if code == -signal.SIGXCPU:
            return self._too_long(self._limits.cpu)
        name = signal.Signals(-code).name if code is not None and code < 0 else f"exit code {code}"
        return Outcome("crashed", detail=f"The geometry kernel ended the job ({name}).", peak_rss=self._peak)

    def _kill(self) -> None:
        if self._process.is_alive():
            self._process.kill()
        self._process.join()


def _never() -> bool:
    return False


def resident_bytes(pid: int) -> int:
    """Resident memory of a process, 0 when it is gone or the system does not tell."""
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * resource.getpagesize()
    except (OSError, IndexError, ValueError):
        return 0


def _serve(pipe: Connection, limits: Limits, preload: tuple[str, ...]) -> None:
    """The child's whole life: limits, imports, one job, one answer."""
    _restrain(limits)
    gc.disable()  # one job and gone: collecting among the kernel's hundred thousand objects costs 2 to 9 % of it
    for module in preload:
        importlib.import_module(module)
    try:
        target, payload = pipe.recv_bytes().decode(), pipe.recv_bytes()
    except EOFError:
        return
    pipe.send_bytes(_answer(target, payload, pipe))


def _answer(target: str, payload: bytes, pipe: Connection) -> bytes:
    def progress(message: Mapping[str, Any]) -> None:
        pipe.send_bytes(b"P" + json.dumps(dict(message)).encode())

    try:
        return b"R" + _resolved(target)(payload, progress)
    except Problem as problem:
        names = ("type", "title", "detail", "pointer", "remedy", "status", "errors")
        return _fault("problem", problem=dict(zip(names, problem.__reduce__()[1], strict=True)))
    except MemoryError:
        return _fault("memory-limit", detail="The job needed more memory than it may use.")
    except Exception as error:  # whatever a job raises ends as an outcome in the parent
        return _fault("failed", detail=f"{type(error).__name__}: {error}")


def _fault(kind: Kind, **content: Any) -> bytes:
    return b"X" + json.dumps({"kind": kind, **content}, default=str).encode()


def _resolved(target: str) -> Job:
    module, _, name = target.partition(":")
    job: Job = getattr(importlib.import_module(module), name)
    return job


def _restrain(limits: Limits) -> None:
    """Processor time and data limits, death with the parent, and silence: the kernel prints what it likes."""
    seconds = math.ceil(limits.cpu)
    _lower(resource.RLIMIT_CPU, seconds)
    _lower(resource.RLIMIT_DATA, limits.memory + _HEADROOM)
    _lower(resource.RLIMIT_CORE, 0)
    with contextlib.suppress(OSError, AttributeError, ImportError):
        _die_with_parent()
        _keep_freed_memory()
    faulthandler.disable()
    if not os.environ.get("RECLAMP_CHILD_OUTPUT"):
        sink = os.open(os.devnull, os.O_WRONLY)
        os.dup2(sink, 1)
        os.dup2(sink, 2)


def _lower(which: int, value: int) -> None:
    hard = resource.getrlimit(which)[1]
    allowed = value if hard == resource.RLIM_INFINITY else min(value, hard)
    resource.setrlimit(which, (allowed, hard))


def _die_with_parent() -> None:
    if sys.platform == "linux":
        import ctypes

        ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # 1 = PR_SET_PDEATHSIG, linux/prctl.h


def _keep_freed_memory() -> None:
    """One job and gone: memory that was given back and asked for again cost three page faults out of four."""
    if sys.platform == "linux":
        import ctypes

        for option, value in _MALLOC:
            ctypes.CDLL(None).mallopt(option, value)
