"""What can be done with checks: make, look up, list, cancel or delete, read results."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import delete
from starlette.concurrency import run_in_threadpool

from schemas.plan import SetupPlan, read_plan, step_names
from schemas.problem import Problem
from service.checks import repository
from service.jobs import repository as jobs
from service.jobs.states import FINAL
from service.jobs.submit import audit_entry, own_job
from service.keys.schemas import Principal
from service.store.artefacts import StoreError
from service.store.models import Delivery, Job
from service.wiring import Wiring

_FIRST_PAUSE, _LAST_PAUSE = 0.02, 0.25


def checked_plan(data: bytes, files: Iterable[str]) -> SetupPlan:
    """The plan, with all the files it names sent along and no others.

    Raises Problem ``plan.…``, ``plan.file-missing`` or ``request.file-unused``.
    """
    plan = read_plan(data)
    needed, sent = step_names(plan), set(files)
    for name, pointer in needed.items():
        if name not in sent:
            raise Problem(
                "plan.file-missing",
                "A file is missing",
                f"The plan names the STEP file '{name}', which was not sent.",
                pointer=pointer,
                remedy=f"Send it as the form field '{name}'.",
            )
    for name in sorted(sent - set(needed)):
        raise Problem(
            "request.file-unused",
            "A file is not used",
            f"The plan does not name the file '{name}'.",
            remedy="Leave it out, or name it in the plan.",
        )
    return plan


def get(wiring: Wiring, who: Principal, check_id: str) -> Job:
    """A check of the tenant. Raises Problem ``not-found``."""
    with wiring.database.read() as session:
        return own_job(session, who, check_id, "check")


async def wait(wiring: Wiring, job: Job, seconds: float) -> Job:
    """The job as it is when it ends, or after ``seconds``."""
    deadline, pause = time.monotonic() + seconds, _FIRST_PAUSE
    while job.state not in FINAL and time.monotonic() < deadline:
        await asyncio.sleep(min(pause, max(0.0, deadline - time.monotonic())))
        pause = min(_LAST_PAUSE, pause * 1.5)
        job = await run_in_threadpool(_look, wiring, job)
    return job


def _look(wiring: Wiring, job: Job) -> Job:
    with wiring.database.read() as session:
        return jobs.find(session, job.id) or job


def page(wiring: Wiring, who: Principal, filters: repository.Filters, limit: int) -> tuple[list[Job], str | None]:
    """Up to ``limit`` checks, newest first, and the cursor of the rest."""
    with wiring.database.read() as session:
        rows = repository.newest(session, who.tenant, filters, limit + 1)
    return rows[:limit], rows[limit - 1].id if len(rows) > limit else None


def cancel_or_delete(wiring: Wiring, who: Principal, check_id: str, request: str | None) -> Job | None:
    """Cancel a check that has not ended (the job is returned), delete one that has (None is)."""
    with wiring.database.write() as session:
        job = own_job(session, who, check_id, "check")
        if jobs.cancel(session, job.id):
            session.add(audit_entry(who, "check.cancel", check_id, request))
            return jobs.find(session, check_id)
        objects = artefact_objects(job)
        session.execute(delete(Delivery).where(Delivery.job == job.id))
        session.delete(job)
        session.add(audit_entry(who, "check.delete", check_id, request))
    with contextlib.suppress(StoreError):  # the record is gone; what is left of the files is only wasted room
        wiring.artefacts.delete(*objects)
    return None


def artefact_objects(job: Job) -> list[str]:
    """The object keys of a job's results."""
    return [str(a["object"]) for a in (job.artefacts or {}).values()]


@dataclass(frozen=True, slots=True)
class Artefact:
    """A result file: where it is kept, and what it is."""

    object: str
    media_type: str
    size: int
    sha256: str


def artefact(job: Job, name: str) -> Artefact:
    """A result of a check that is done.

    Raises Problem ``check.not-ready``, the check's own problem, or ``not-found``.
    """
    if job.state != "done":
        raise _no_result(job)
    found: dict[str, Any] | None = (job.artefacts or {}).get(name)
    if found is None:
        raise Problem("not-found", "Not found", "The check has no such result.", status=404)
    return Artefact(**found)


def _no_result(job: Job) -> Problem:
    if job.problem is not None:
        return stored_problem(job.problem)
    if job.state == "cancelled":
        return Problem("check.cancelled", "The check was cancelled", "A cancelled check has no results.", status=409)
    return Problem(
        "check.not-ready",
        "The check has not ended",
        f"The check is {job.state}.",
        remedy="Ask again later, or follow its events.",
        status=409,
    )


def stored_problem(document: dict[str, Any]) -> Problem:
    """The Problem that a document of the database was made from."""
    return Problem(
        str(document["type"]).rpartition(":")[2],
        document["title"],
        document["detail"],
        pointer=document.get("pointer", ""),
        remedy=document.get("remedy", ""),
        status=document["status"],
        errors=document.get("errors", ()),
    )
