"""How a worker carries a job out: take it, keep saying that it lives, store what came of it, end it once."""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import os
import socket
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeVar

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from sqlalchemy.orm import Session

from schemas.problem import Problem
from service.checks.formats import FORMATS, MEDIA_TYPES, STAGE_TYPES, written
from service.context import request_id
from service.jobs import repository
from service.jobs.pulse import Abandoned, Pulse
from service.jobs.repository import Outcome
from service.settings import Settings
from service.store.artefacts import Artefacts, Gone, StoreError
from service.store.database import Database
from service.store.models import Job

log = logging.getLogger("reclamp.worker")
AWAY = (DBAPIError, PoolTimeoutError)
CRASHES = frozenset({"part.kernel-crash"})
"""Problems that may be the machine's fault and not the part's: worth one more try, alone."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Inputs:
    """The bytes of a job, and whose they are."""

    part: bytes
    plan: bytes
    files: dict[str, bytes]
    tenant: str = ""


@dataclass(frozen=True, slots=True)
class Results:
    """What a check brings: the report document as JSON, stage files by setup id, further files by name."""

    report: bytes
    stages: Mapping[str, bytes]
    extras: Mapping[str, bytes] = field(default_factory=dict)


class Compute(Protocol):
    """What turns inputs into results, in a child that can be killed."""

    def check(self, inputs: Inputs, pulse: Pulse) -> Results:
        """Check a plan. Raises Problem, Abandoned."""

    def features(self, inputs: Inputs, pulse: Pulse) -> bytes:
        """The features as JSON. Raises Problem, Abandoned."""


class Runner:
    """Runs one job at a time for a worker process."""

    def __init__(self, settings: Settings, database: Database, artefacts: Artefacts, compute: Compute) -> None:
        self._settings, self._database, self._artefacts, self._compute = settings, database, artefacts, compute
        self._name = f"{socket.gethostname()[:60]}:{os.getpid()}"
        self.stopping = threading.Event()

    def run(self, job_id: str) -> None:
        """Carry the job out, if it is there to be taken; a duplicate message does nothing."""
        with self._database.write() as session:
            job = None if self.stopping.is_set() else repository.claim(session, job_id, self._name)
        if job is None:
            return
        token = request_id.set(job.request)
        log.info("job started", extra={"job": job.id, "attempt": job.attempt})
        with Pulse(self._settings, self._database, job.id, job.attempt, self.stopping) as pulse:
            self._carry_out(job, pulse)
        request_id.reset(token)

    def _carry_out(self, job: Job, pulse: Pulse) -> None:
        try:
            self._end(job, pulse, self._outcome(job, pulse))
        except Abandoned:
            self._give_up(job)
        except StoreError as error:
            log.warning("store away", extra={"job": job.id, "full": error.full})
            self._patiently(lambda session: repository.release(session, job.id, job.attempt))
            self.stopping.wait(self._settings.heartbeat)

    def _outcome(self, job: Job, pulse: Pulse) -> Outcome:
        try:
            inputs = self._load(job)
            if job.kind == "features":
                return self._store(job, {"features.json": ("application/json", self._compute.features(inputs, pulse))})
            results = self._compute.check(inputs, pulse)
            document = json.loads(results.report)
            return self._store(job, check_files(results, document), document)
        except Problem as problem:
            return Outcome(problem=problem.document())
        except (Abandoned, StoreError):
            raise
        except Exception as error:
            log.exception("job broke", extra={"job": job.id, "error": type(error).__name__})
            return Outcome(problem=_internal().document())

    def _load(self, job: Job) -> Inputs:
        keys: dict[str, Any] = job.inputs
        try:
            plan = self._artefacts.get(keys["plan"]) if keys["plan"] else b""
            files = {name: self._artefacts.get(key) for name, key in keys["files"].items()}
            return Inputs(self._artefacts.get(keys["part"]), plan, files, job.tenant)
        except Gone:
            raise Problem(
                "input.gone", "A file is gone", "A file of this check was deleted before the check ran.", status=410
            ) from None

    def _store(
        self, job: Job, files: Mapping[str, tuple[str, bytes]], report: Mapping[str, Any] | None = None
    ) -> Outcome:
        """Put the results under names of this attempt alone, so that no other attempt can overwrite them."""
        kept: dict[str, Any] = {}
        for name, (media_type, data) in files.items():
            sha256 = hashlib.sha256(data).hexdigest()
            key = f"{job.tenant}/jobs/{job.id}/{job.attempt}/{hashlib.sha256(name.encode()).hexdigest()[:32]}"
            self._artefacts.put(key, data)
            kept[name] = {"object": key, "media_type": media_type, "size": len(data), "sha256": sha256}
        counts = report.get("counts") if report else None
        return Outcome(artefacts=kept, verdict=report.get("verdict") if report else None, counts=counts)

    def _end(self, job: Job, pulse: Pulse, outcome: Outcome) -> None:
        kind = str((outcome.problem or {}).get("type", "")).rpartition(":")[2]
        if kind in CRASHES and outcome.problem is not None:
            problem, most = outcome.problem, self._settings.max_crashes
            mine = self._patiently(lambda s: repository.crash(s, job.id, job.attempt, most, problem))
        else:
            mine = self._patiently(lambda s: repository.finish(s, job.id, job.attempt, outcome))
        log.info("job ended", extra={"job": job.id, "attempt": job.attempt, "mine": mine, "problem": kind or None})
        if not mine and outcome.artefacts:
            with contextlib.suppress(StoreError):
                self._artefacts.delete(*(a["object"] for a in outcome.artefacts.values()))

    def _give_up(self, job: Job) -> None:
        """The job was cancelled or taken over; or this worker is being stopped and hands it back."""
        released = False
        if self.stopping.is_set():
            released = self._patiently(lambda s: repository.release(s, job.id, job.attempt))
        log.info("job abandoned", extra={"job": job.id, "attempt": job.attempt, "released": released})

    def _patiently(self, change: Callable[[Session], bool]) -> bool:
        """Write, however long the database is away; a finished check is not thrown away for that."""
        pause = 0.1
        while True:
            try:
                with self._database.write() as session:
                    return change(session)
            except AWAY as error:
                log.warning("database away", extra={"error": type(error).__name__})
                if self.stopping.is_set() and pause >= 2.0:
                    return False  # the relay of another process will find the job without a heartbeat
                time.sleep(pause)
                pause = min(5.0, pause * 2)


def check_files(results: Results, document: Mapping[str, Any]) -> dict[str, tuple[str, bytes]]:
    """All result files of a check by name, with their media types: reports, stages, further files."""
    files = {"report.json": (MEDIA_TYPES["report.json"], results.report)}
    for form in FORMATS:
        if form.writer is not None:
            try:
                files[f"report.{form.suffix}"] = (form.media_type, written(form, document))
            except Exception:  # a writer that breaks costs its form, never the check
                log.exception("writer broke", extra={"form": form.suffix})
    for setup, data in results.stages.items():
        files[f"stages/{setup}.step"] = (STAGE_TYPES["step"], data)
    for name, data in results.extras.items():
        suffix = name.rpartition(".")[2]
        files[name] = (MEDIA_TYPES.get(name) or STAGE_TYPES.get(suffix, "application/octet-stream"), data)
    return files


def _internal() -> Problem:
    return Problem(
        "internal",
        "Internal error",
        "The check broke off for a reason that lies in the program.",
        remedy="Report it with the check's id.",
        status=500,
    )
