"""/v1/checks/{id}/events: what happens to a check, as server-sent events."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterable, AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Depends, Header
from fastapi.sse import EventSourceResponse, ServerSentEvent
from starlette.concurrency import run_in_threadpool

from service.checks import service
from service.checks.schemas import check_out
from service.errors import TooMany, responses
from service.jobs.states import FINAL
from service.keys.guard import require
from service.keys.schemas import Principal
from service.store.models import Job
from service.wiring import Wired, Wiring

router = APIRouter(prefix="/v1/checks", tags=["checks"])
_LOOK = 0.25
"""Seconds between two looks at the record."""


async def _watched(
    check_id: str, wiring: Wired, who: Annotated[Principal, Depends(require("checks:read"))]
) -> AsyncIterator[Job]:
    """The check, counted as watched until the stream ends."""
    job = await run_in_threadpool(service.get, wiring, who, check_id)
    if wiring.streams.locked():
        raise TooMany("limit.streams", "Too many streams", "Too many event streams are open.", 5)
    async with wiring.streams:
        yield job


@router.get("/{check_id}/events", response_class=EventSourceResponse, responses=responses(404))
async def check_events(
    wiring: Wired,
    job: Annotated[Job, Depends(_watched)],
    last_event_id: Annotated[str | None, Header(max_length=40)] = None,
) -> AsyncIterable[ServerSentEvent]:
    """`state` whenever the check changes, with the check as data; the last one is named `end`.

    An event's id is the version of the record: a client that comes back with `Last-Event-ID` hears only what is new.
    """
    known = last_event_id
    while True:
        if str(job.version) != known:
            known = str(job.version)
            yield _event(job)
        if job.state in FINAL:
            return
        await asyncio.sleep(_LOOK)
        fresh = await run_in_threadpool(_again, wiring, job)
        if fresh is None:
            return
        job = fresh


def _again(wiring: Wiring, job: Job) -> Job | None:
    with wiring.database.read() as session:
        return session.get(Job, job.id)


def _event(job: Job) -> ServerSentEvent:
    data = check_out(job).model_dump(mode="json", exclude_none=True)
    return ServerSentEvent(data=data, event="end" if job.state in FINAL else "state", id=str(job.version))
