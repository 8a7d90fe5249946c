"""The one way from a state of a job to the next: compare-and-swap on (id, attempt, state).

Every function returns whether *this* caller made the change. A worker whose attempt is no longer the running one
changes nothing, so a job ends once however often its message was delivered.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import CursorResult, func, select, update
from sqlalchemy.orm import Session

from schemas.problem import Problem
from service.ids import new_id
from service.jobs.states import ACTIVE
from service.store.models import Delivery, Job, Webhook


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a job ended: with artefacts (done) or with a problem (failed)."""

    artefacts: Mapping[str, Any] | None = None
    verdict: str | None = None
    counts: Mapping[str, int] | None = None
    problem: Mapping[str, Any] | None = None


def find(session: Session, job_id: str) -> Job | None:
    """The job of that id, whoever owns it."""
    return session.get(Job, job_id)


def claim(session: Session, job_id: str, worker: str) -> Job | None:
    """Take a queued job; None when there is none to take (a duplicate message, a cancelled job)."""
    statement = (
        update(Job)
        .where(Job.id == job_id, Job.state == "queued")
        .values(
            state="running",
            attempt=Job.attempt + 1,
            beat=0,
            worker=worker,
            version=Job.version + 1,
            started=func.coalesce(Job.started, time.time()),
        )
    )
    return session.get(Job, job_id) if _changed(session, statement) else None


def beat(session: Session, job_id: str, attempt: int, progress: Mapping[str, Any] | None) -> bool:
    """Say that the attempt is alive; False tells the worker that the job is no longer its own."""
    values: dict[str, Any] = {"beat": Job.beat + 1}
    if progress is not None:
        values |= {"progress": dict(progress), "version": Job.version + 1}
    return _changed(session, _running(job_id, attempt).values(**values))


def finish(session: Session, job_id: str, attempt: int, outcome: Outcome) -> bool:
    """End a running attempt for good, and write the webhook messages in the same transaction."""
    return _changed(session, _running(job_id, attempt).values(**_final(outcome))) and _tell(session, job_id)


def release(session: Session, job_id: str, attempt: int) -> bool:
    """Give a job back that the worker cannot finish because it is being stopped; nothing is counted."""
    values = {"state": "queued", "worker": None, "progress": None, "version": Job.version + 1}
    return _changed(session, _running(job_id, attempt).values(**values))


def lose(session: Session, job_id: str, attempt: int, limit: int) -> bool:
    """A worker vanished: queue the job once more, alone; or fail it when it has cost ``limit`` workers."""
    return _strike(session, job_id, attempt, "losses", limit, worker_lost(limit))


def crash(session: Session, job_id: str, attempt: int, limit: int, problem: Mapping[str, Any]) -> bool:
    """The kernel's child died: queue the job once more, alone; or fail it with ``problem``."""
    return _strike(session, job_id, attempt, "crashes", limit, problem)


def cancel(session: Session, job_id: str) -> bool:
    """End a job that has not ended; a worker that runs it notices at its next heartbeat."""
    values = {"state": "cancelled", "finished": time.time(), "version": Job.version + 1}
    statement = update(Job).where(Job.id == job_id, Job.state.in_(ACTIVE)).values(**values)
    return _changed(session, statement) and _tell(session, job_id)


def worker_lost(times: int) -> dict[str, Any]:
    """The problem of a job that costs its workers."""
    return Problem(
        "worker.lost",
        "The job costs its workers",
        f"The process that ran this job vanished {times} times, the last time with nothing else beside it.",
        remedy="Check the part for damaged or extremely large geometry, or raise the worker's memory.",
        status=500,
    ).document()


@dataclass(frozen=True, slots=True)
class Waiting:
    """A job that waits for a worker; ``alone`` when it has cost a process before."""

    id: str
    attempt: int
    alone: bool


def queued(session: Session, limit: int) -> list[Waiting]:
    """What waits, oldest first."""
    columns = (Job.id, Job.attempt, Job.losses + Job.crashes)
    rows = session.execute(select(*columns).where(Job.state == "queued").order_by(Job.id).limit(limit))
    return [Waiting(row[0], row[1], row[2] > 0) for row in rows]


def running(session: Session) -> list[tuple[str, int, int]]:
    """(id, attempt, beat) of what runs."""
    rows = session.execute(select(Job.id, Job.attempt, Job.beat).where(Job.state == "running"))
    return [(row[0], row[1], row[2]) for row in rows]


def _running(job_id: str, attempt: int) -> Any:
    return update(Job).where(Job.id == job_id, Job.attempt == attempt, Job.state == "running")


def _changed(session: Session, statement: Any) -> bool:
    result = session.execute(statement, execution_options={"synchronize_session": False})
    return isinstance(result, CursorResult) and result.rowcount == 1


def _final(outcome: Outcome) -> dict[str, Any]:
    return {
        "state": "failed" if outcome.problem is not None else "done",
        "finished": time.time(),
        "version": Job.version + 1,
        "verdict": outcome.verdict,
        "counts": dict(outcome.counts) if outcome.counts is not None else None,
        "problem": dict(outcome.problem) if outcome.problem is not None else None,
        "artefacts": dict(outcome.artefacts) if outcome.artefacts is not None else None,
    }


def _strike(session: Session, job_id: str, attempt: int, column: str, limit: int, problem: Mapping[str, Any]) -> bool:
    counter = getattr(Job, column)
    again = _running(job_id, attempt).where(counter + 1 < limit)
    back = {"state": "queued", "worker": None, "progress": None, "version": Job.version + 1, column: counter + 1}
    if _changed(session, again.values(**back)):
        return True
    last = _final(Outcome(problem=problem)) | {column: counter + 1}
    return _changed(session, _running(job_id, attempt).values(**last)) and _tell(session, job_id)


def _tell(session: Session, job_id: str) -> bool:
    """Write one message for each webhook of the job's tenant: told exactly when the state is."""
    job = session.get_one(Job, job_id, populate_existing=True)
    if job.kind != "check":
        return True
    for webhook in session.scalars(select(Webhook.id).where(Webhook.tenant == job.tenant)):
        session.add(_delivery(webhook, job))
    return True


def _delivery(webhook: str, job: Job) -> Delivery:
    now = time.time()
    body = {
        "type": f"check.{job.state}",
        "timestamp": now,
        "data": {"id": job.id, "state": job.state, "verdict": job.verdict, "counts": job.counts, "name": job.name},
    }
    return Delivery(
        id=f"msg_{new_id()[:28]}", webhook=webhook, job=job.id, body=body, state="pending", next_at=now, created=now
    )
