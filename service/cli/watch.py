"""``--watch``: a check again, by a process that stays warm, whenever a file that it reads has been saved."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from schemas.problem import Problem
from service.cli.problems import tell
from worker.cache.store import Place

PERIOD = 0.2
"""Seconds between two looks at the files; what two looks find alike is saved to its end."""
EXIT_UNUSABLE = 2

State = tuple[tuple[int, int, int] | None, ...]
"""Of each file its time, size and number; None of one that is not there."""


def watch(paths: Sequence[str], check: Callable[[Place], int], cache: Place | None) -> int:
    """Check now and after every change, until interrupted; returns the exit code of the last check that ended.

    Input that cannot be used is told, and the next change waited for. Without a ``cache`` one is kept meanwhile.
    """
    with tempfile.TemporaryDirectory(prefix="reclamp-") as folder:
        seen: State = ()
        code: int | None = None
        try:
            while True:
                seen = _changed(paths, seen)
                code = _told(check, cache or Place(folder))
                print("reclamp: waiting for a change (Ctrl-C ends)", file=sys.stderr, flush=True)
        except KeyboardInterrupt:
            if code is None:
                raise
            return code


def _told(check: Callable[[Place], int], cache: Place) -> int:
    try:
        return check(cache)
    except Problem as problem:
        tell(problem)
        return EXIT_UNUSABLE
    finally:
        sys.stdout.flush()


def _changed(paths: Sequence[str], seen: State) -> State:
    """The files' state once it is another one, and no longer changes."""
    before, now = seen, _state(paths)
    while now == seen or (seen and now != before):
        time.sleep(PERIOD)
        before, now = now, _state(paths)
    return now


def _state(paths: Sequence[str]) -> State:
    return tuple(_mark(Path(path)) for path in paths)


def _mark(path: Path) -> tuple[int, int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino
