"""/v1/checks: only translation between HTTP and ``service.checks.service``."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Header, Query, Request, Response
from fastapi.responses import JSONResponse
from starlette.concurrency import run_in_threadpool

from schemas.problem import Problem
from service.checks import service
from service.checks.files import file_response
from service.checks.formats import acceptable
from service.checks.openapi import CREATE, REPORT, SHEET, STAGE
from service.checks.repository import Filters
from service.checks.schemas import CheckOut, CheckPage, check_out
from service.checks.submission import submission_of
from service.errors import problem_response, responses
from service.jobs.states import FINAL, State
from service.jobs.submit import submit
from service.keys.guard import require
from service.keys.schemas import Principal
from service.preferences import wait_seconds
from service.store.models import Job
from service.wiring import Wired, Wiring

router = APIRouter(prefix="/v1/checks", tags=["checks"])
Reader = Annotated[Principal, Depends(require("checks:read"))]
Writer = Annotated[Principal, Depends(require("checks:write"))]
IdempotencyKey = Annotated[str | None, Header(min_length=1, max_length=255, pattern=r"^[\x21-\x7e]+$")]
Cursor = Annotated[str | None, Query(pattern="^[0-9a-f]{32}$")]


@router.post(
    "", status_code=202, response_model=CheckOut, responses=responses(400, 404, 406, 408, 410, 413, 415, 500), **CREATE
)
async def create_check(
    request: Request,
    wiring: Wired,
    who: Writer,
    idempotency_key: IdempotencyKey = None,
    prefer: Annotated[str | None, Header()] = None,
) -> Response:
    """Accept a check: a multipart form with `part`, `plan` and the further STEP files that the plan names, or JSON.

    202 means stored. The same `Idempotency-Key` gives the same check. `Prefer: wait=N` answers with the report
    when it is ready in time.
    """
    async with submission_of(request, wiring.settings, idempotency_key) as submission:
        accepted = await run_in_threadpool(submit, wiring, who, submission)
    seconds = wait_seconds(prefer, wiring.settings.wait_max)
    if seconds is None:
        return _record(accepted.job, 202)
    job = await service.wait(wiring, accepted.job, seconds)
    response = await _answer(request, wiring, job)
    response.headers["Preference-Applied"] = f"wait={seconds:g}"
    return response


async def _answer(request: Request, wiring: Wiring, job: Job) -> Response:
    """The report when the job is done, its problem when it failed, its record otherwise."""
    if job.state == "failed" and job.problem is not None:
        response: Response = problem_response(service.stored_problem(job.problem), f"/v1/checks/{job.id}")
    elif job.state == "done":
        response = await _report(request, wiring, job, request.headers.get("accept", ""))
    else:
        return _record(job, 200 if job.state in FINAL else 202)
    response.headers["Location"] = f"/v1/checks/{job.id}"
    return response


def _record(job: Job, status: int) -> JSONResponse:
    document = check_out(job).model_dump(mode="json", exclude_none=True)
    headers = {"Location": f"/v1/checks/{job.id}"} if status == 202 else {}
    if job.state not in FINAL:
        headers["Retry-After"] = "1"
    return JSONResponse(document, status, headers)


@router.get("", response_model_exclude_none=True, responses=responses())
def list_checks(
    wiring: Wired,
    who: Reader,
    state: Annotated[State | None, Query()] = None,
    verdict: Annotated[Literal["pass", "fail"] | None, Query()] = None,
    part: Annotated[str | None, Query(pattern="^[0-9a-f]{64}$")] = None,
    name: Annotated[str | None, Query(max_length=200)] = None,
    after: Annotated[datetime | None, Query()] = None,
    before: Annotated[datetime | None, Query()] = None,
    cursor: Cursor = None,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
) -> CheckPage:
    """Past and present checks, newest first."""
    filters = Filters(state, verdict, part, name, _seconds(after), _seconds(before), cursor)
    jobs, following = service.page(wiring, who, filters, limit)
    return CheckPage(items=[check_out(job) for job in jobs], next=following)


def _seconds(at: datetime | None) -> float | None:
    try:
        return None if at is None else at.timestamp()
    except (OverflowError, ValueError, OSError):
        raise Problem("request.invalid", "The request is not valid", "The time is out of range.") from None


@router.get("/{check_id}", response_model_exclude_none=True, responses=responses(404))
def get_check(check_id: str, wiring: Wired, who: Reader) -> CheckOut:
    """State and progress of a check."""
    return check_out(service.get(wiring, who, check_id))


@router.delete("/{check_id}", response_model=CheckOut, responses={**responses(404), 204: {"description": "Deleted"}})
def delete_check(check_id: str, request: Request, wiring: Wired, who: Writer) -> Response:
    """Cancel a check that has not ended (200); delete one that has, with its results (204)."""
    job = service.cancel_or_delete(wiring, who, check_id, request.state.request_id)
    return Response(status_code=204) if job is None else _record(job, 200)


@router.get("/{check_id}/report", responses=responses(404, 406, 409, 410, 500), **REPORT)
async def get_report(check_id: str, request: Request, wiring: Wired, who: Reader) -> Response:
    """The report of a check that is done, in the form that `Accept` asks for."""
    job = await run_in_threadpool(service.get, wiring, who, check_id)
    return await _report(request, wiring, job, request.headers.get("accept", ""))


@router.get("/{check_id}/report.{suffix}", responses=responses(404, 409, 410, 500), **REPORT)
async def get_report_as(check_id: str, suffix: str, request: Request, wiring: Wired, who: Reader) -> Response:
    """The report of a check that is done, in the form that the suffix names."""
    job = await run_in_threadpool(service.get, wiring, who, check_id)
    return await _file(request, wiring, job, f"report.{suffix}")


@router.get("/{check_id}/setup-sheet.pdf", responses=responses(404, 409, 410, 500), **SHEET)
async def get_sheet(check_id: str, request: Request, wiring: Wired, who: Reader) -> Response:
    """The setup sheet for the shop floor, where one was made."""
    job = await run_in_threadpool(service.get, wiring, who, check_id)
    return await _file(request, wiring, job, "setup-sheet.pdf")


@router.get("/{check_id}/stages/{file}", responses=responses(404, 409, 410, 500), **STAGE)
async def get_stage(check_id: str, file: str, request: Request, wiring: Wired, who: Reader) -> Response:
    """The stock that a setup leaves: `<setup id>.step`."""
    job = await run_in_threadpool(service.get, wiring, who, check_id)
    return await _file(request, wiring, job, f"stages/{file}")


async def _report(request: Request, wiring: Wiring, job: Job, accept: str) -> Response:
    wanted = acceptable(accept)
    if wanted is None:
        raise Problem("request.accept", "No such form", "The report has no form that Accept allows.", status=406)
    response = await _file(request, wiring, job, f"report.{wanted.suffix}")
    response.headers["Vary"] = "Accept"
    return response


async def _file(request: Request, wiring: Wiring, job: Job, name: str) -> Response:
    found: Any = service.artefact(job, name)
    return await run_in_threadpool(file_response, wiring, request, found, name)
