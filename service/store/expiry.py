"""What is older than the retention goes: checks with their results, files that nothing used since, old log lines."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable

from sqlalchemy import delete, func, select

from service.jobs.states import ACTIVE, FINAL
from service.settings import Settings
from service.store.artefacts import Artefacts, StoreError
from service.store.database import Database
from service.store.models import AuditEntry, Delivery, Job, StoredFile

log = logging.getLogger("reclamp.expiry")
DAY = 86400.0
_INTERVAL = 60.0
_BATCH = 200
_JUMP = 900.0
"""Seconds that the time of day may run ahead of the monotonic clock before expiry pauses for a day: a clock that jumps
must not delete what is still wanted."""


class Expiry:
    """One thread that deletes, a batch at a time."""

    def __init__(
        self,
        settings: Settings,
        database: Database,
        artefacts: Artefacts,
        wall: Callable[[], float] = time.time,
        steady: Callable[[], float] = time.monotonic,
    ) -> None:
        self._settings, self._database, self._artefacts = settings, database, artefacts
        self._wall, self._steady = wall, steady
        self._offset, self._not_before = wall() - steady(), 0.0
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="expiry", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End."""
        self._stopped.set()
        self._thread.join(timeout=10)

    def _run(self) -> None:
        while not self._stopped.wait(_INTERVAL):
            try:
                self.sweep()
            except Exception as error:
                log.warning("expiry failed", extra={"error": type(error).__name__})

    def sweep(self) -> int:
        """Delete a batch of what has expired; how many things went."""
        if self._clock_jumped():
            return 0
        cutoff = self._wall() - self._settings.retention_days * DAY
        gone = self._jobs(cutoff) + self._files(cutoff)
        with self._database.write() as session:
            session.execute(delete(AuditEntry).where(AuditEntry.at < cutoff))
        return gone

    def _clock_jumped(self) -> bool:
        offset = self._wall() - self._steady()
        if offset - self._offset > _JUMP:
            log.warning("the clock jumped ahead", extra={"seconds": round(offset - self._offset)})
            self._not_before = self._steady() + DAY
        self._offset = offset
        return self._steady() < self._not_before

    def _jobs(self, cutoff: float) -> int:
        with self._database.write() as session:
            old = select(Job).where(Job.state.in_(FINAL), Job.finished < cutoff).limit(_BATCH)
            jobs = session.scalars(old).all()
            objects = [str(a["object"]) for job in jobs for a in (job.artefacts or {}).values()]
            session.execute(delete(Delivery).where(Delivery.job.in_([job.id for job in jobs])))
            for job in jobs:
                session.delete(job)
        self._remove(objects)
        return len(jobs)

    def _files(self, cutoff: float) -> int:
        """Files last used before the cutoff, and before the oldest job that has not ended was accepted."""
        with self._database.write() as session:
            oldest = session.scalar(select(func.min(Job.created)).where(Job.state.in_(ACTIVE)))
            before = cutoff if oldest is None else min(cutoff, oldest - 1)
            old = select(StoredFile).where(StoredFile.last_used < before).limit(_BATCH)
            files = session.scalars(old.with_for_update()).all()
            objects = [file.object for file in files]
            for file in files:
                session.delete(file)
        self._remove(objects)
        return len(files)

    def _remove(self, objects: list[str]) -> None:
        try:
            self._artefacts.delete(*objects)
        except StoreError as error:  # the records are gone; what is left of the files is only wasted room
            log.warning("objects left behind", extra={"count": len(objects), "error": str(error)})
