"""The relay: sees to it that what waits is in the queue, and that what nobody runs any more is queued again.

It decides by its own monotonic clock and by counters that others move, never by a time of day: a clock that jumps loses
and doubles nothing. Any number of relays may run.
"""

from __future__ import annotations

import logging
import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from celery import Celery
from redis import Redis

from service.broker.queue import ALONE, SHARED, publish
from service.jobs import repository
from service.settings import Settings
from service.store.database import Database

log = logging.getLogger("reclamp.relay")
WINDOW = 5000
"""Jobs looked at in one round; the rest follows when these have gone."""


@dataclass(slots=True)
class Seen:
    """What the relay remembers of others' counters, by its own monotonic clock."""

    sent: dict[tuple[str, int], float] = field(default_factory=dict)
    alive: dict[str, tuple[tuple[int, int], float]] = field(default_factory=dict)
    short: int = 0

    def forget(self) -> None:
        """After a blind spell nothing that was seen before may be held against anybody."""
        self.alive.clear()


class Relay:
    """One thread: sends new ids at once, and looks round once in ``relay_interval``."""

    def __init__(
        self,
        settings: Settings,
        database: Database,
        app: Celery,
        redis: Redis,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._settings, self._database, self._app, self._redis = settings, database, app, redis
        self._clock = clock
        self._new: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._seen = Seen()
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="relay", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End after the round that is under way."""
        self._stopped.set()
        self._new.put(None)
        self._thread.join(timeout=10)

    def announce(self, job_id: str) -> None:
        """A job was just stored: send it now."""
        self._new.put(job_id)

    def _run(self) -> None:
        due = self._clock()
        while not self._stopped.is_set():
            try:
                fresh = self._new.get(timeout=max(0.0, due - self._clock()))
            except queue.Empty:
                fresh = None
            if fresh is not None:
                self._send(fresh, 0, alone=False)
            if self._clock() >= due and not self._stopped.is_set():
                self.round()
                due = self._clock() + self._settings.relay_interval

    def round(self) -> None:
        """One look round. Whatever fails is tried again in the next one."""
        try:
            self._recover()
            self._republish()
        except Exception as error:
            self._seen.forget()
            log.warning("relay round failed", extra={"error": type(error).__name__})

    def _recover(self) -> None:
        """Queue again what runs without a heartbeat for a whole lease."""
        now = self._clock()
        with self._database.read() as session:
            rows = repository.running(session)
        before, self._seen.alive = self._seen.alive, {}
        for job_id, attempt, beat in rows:
            mark, since = before.get(job_id, ((attempt, beat), now))
            since = since if mark == (attempt, beat) else now
            self._seen.alive[job_id] = ((attempt, beat), since)
            if now - since >= self._settings.lease:
                self._lose(job_id, attempt)

    def _lose(self, job_id: str, attempt: int) -> None:
        with self._database.write() as session:
            changed = repository.lose(session, job_id, attempt, self._settings.max_losses)
        if changed:
            log.warning("worker lost", extra={"job": job_id, "attempt": attempt})

    def _republish(self) -> None:
        """Send what was never sent by this relay; send all again when the queue holds less than what waits."""
        with self._database.read() as session:
            waiting = repository.queued(session, WINDOW)
        ids = {(w.id, w.attempt) for w in waiting}
        self._seen.sent = {mark: at for mark, at in self._seen.sent.items() if mark in ids}
        again = self._queue_is_short(waiting)
        now = self._clock()
        for job in waiting:
            sent = self._seen.sent.get((job.id, job.attempt))
            stale = sent is not None and again and now - sent >= self._settings.republish_after
            if (sent is None or stale) and not self._send(job.id, job.attempt, alone=job.alone):
                return

    def _queue_is_short(self, waiting: list[repository.Waiting]) -> bool:
        """True when, for a second look, the broker holds fewer messages than jobs wait: some were lost."""
        counts = {SHARED: sum(not job.alone for job in waiting), ALONE: sum(job.alone for job in waiting)}
        short = any(counts[name] > self._length(name) for name in counts)
        self._seen.short = self._seen.short + 1 if short else 0
        return self._seen.short > 1

    def _length(self, name: str) -> int:
        return int(self._redis.llen(name))

    def _send(self, job_id: str, attempt: int, *, alone: bool) -> bool:
        try:
            publish(self._app, job_id, alone=alone)
        except Exception as error:
            log.warning("broker away", extra={"error": type(error).__name__})
            return False
        self._seen.sent[job_id, attempt] = self._clock()
        return True
