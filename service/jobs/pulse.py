"""The heartbeat of a running attempt: a thread that counts up in the database, and learns there when to stop."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Mapping
from types import TracebackType
from typing import Any

from service.jobs import repository
from service.settings import Settings
from service.store.database import Database

log = logging.getLogger("reclamp.pulse")
_PROGRESS_EVERY = 0.3
"""Seconds between two progress writes at least; what comes faster is told together."""

_LONGEST, _SLACK = 3, 600.0
"""An attempt is given up after so many time limits and so many seconds for storing: nothing may beat for ever."""


class Abandoned(Exception):  # noqa: N818 - says what happened
    """The attempt is no longer this worker's: cancelled, taken over, or the worker is being stopped."""


class Pulse:
    """Beats while the ``with`` block runs. ``over`` turns True when the work is no longer wanted."""

    def __init__(
        self, settings: Settings, database: Database, job_id: str, attempt: int, stopping: threading.Event
    ) -> None:
        self._interval, self._database = settings.heartbeat, database
        self._deadline = time.monotonic() + _LONGEST * settings.time_limit + _SLACK
        self._job, self._attempt, self._stopping = job_id, attempt, stopping
        self._progress: dict[str, Any] | None = None
        self._wake, self._ended, self._lost = threading.Event(), threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._beat, name="pulse", daemon=True)

    def __enter__(self) -> Pulse:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        self._wake.set()
        self._thread.join(timeout=20)

    @property
    def over(self) -> bool:
        """True when the job was cancelled or taken over, or the worker must stop."""
        return self._lost.is_set() or self._stopping.is_set()

    def progress(self, progress: Mapping[str, Any]) -> None:
        """Note where the work is; written within a moment. Raises Abandoned when it is no longer wanted."""
        if self.over:
            raise Abandoned(self._job)
        self._progress = dict(progress)
        self._wake.set()

    def _beat(self) -> None:
        while not self._ended.is_set():
            if self._wake.wait(self._interval):
                self._ended.wait(_PROGRESS_EVERY)
                self._wake.clear()
            if time.monotonic() > self._deadline:  # this worker is stuck: let the relay find the job lost
                self._lost.set()
                return
            if not self._ended.is_set():
                self._write()

    def _write(self) -> None:
        progress, self._progress = self._progress, None
        try:
            with self._database.write() as session:
                mine = repository.beat(session, self._job, self._attempt, progress)
        except Exception as error:  # the database is away: keep working, it may come back
            log.warning("heartbeat failed", extra={"job": self._job, "error": type(error).__name__})
            return
        if not mine:
            self._lost.set()
