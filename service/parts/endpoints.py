"""/v1/parts: only translation between HTTP and ``service.parts.service``."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Header, Path, Request, Response
from fastapi.responses import JSONResponse
from starlette.concurrency import run_in_threadpool

from service.checks import service as checks
from service.checks.endpoints import IdempotencyKey, Reader, Writer
from service.checks.files import file_response
from service.errors import problem_response, responses
from service.jobs.states import FINAL
from service.parts import service
from service.parts.schemas import PartOut, part_out
from service.preferences import wait_seconds
from service.store.models import Job
from service.uploads import form, other_files, step_file
from service.wiring import Wired, Wiring

router = APIRouter(prefix="/v1/parts", tags=["parts"])
Hash = Annotated[str, Path(pattern="^[0-9a-f]{64}$", description="sha256 of the part")]
_PART: dict[str, Any] = {"type": "string", "format": "binary", "description": "ISO 10303-21"}
_FORM: dict[str, Any] = {"type": "object", "required": ["part"], "properties": {"part": _PART}}
_BODY: dict[str, Any] = {"requestBody": {"required": True, "content": {"multipart/form-data": {"schema": _FORM}}}}


@router.post(
    "",
    status_code=202,
    response_model=PartOut,
    responses=responses(400, 404, 408, 410, 413, 415, 500),
    openapi_extra=_BODY,
)
async def create_part(
    request: Request,
    wiring: Wired,
    who: Writer,
    idempotency_key: IdempotencyKey = None,
    prefer: Annotated[str | None, Header()] = None,
) -> Response:
    """Store a part (form field `part`) and recognise its features; `Prefer: wait=N` answers with them."""
    async with form(request, 0) as parsed:
        other_files(parsed, frozenset({"part"}), 0)
        upload = await step_file(parsed.get("part"), "part", wiring.settings.max_part_bytes)
        request_id = request.state.request_id
        accepted = await run_in_threadpool(service.add, wiring, who, upload, idempotency_key, request_id)
    seconds = wait_seconds(prefer, wiring.settings.wait_max)
    if seconds is None:
        return _record(accepted.job)
    job = await checks.wait(wiring, accepted.job, seconds)
    response = await _answer(request, wiring, job)
    response.headers["Preference-Applied"] = f"wait={seconds:g}"
    return response


async def _answer(request: Request, wiring: Wiring, job: Job) -> Response:
    location = f"/v1/parts/{job.part}"
    if job.state == "failed" and job.problem is not None:
        response: Response = problem_response(checks.stored_problem(job.problem), location)
    elif job.state == "done":
        found = checks.artefact(job, "features.json")
        response = await run_in_threadpool(file_response, wiring, request, found, "features.json")
    else:
        return _record(job)
    response.headers["Location"] = location
    return response


def _record(job: Job) -> JSONResponse:
    document = part_out(job).model_dump(mode="json", exclude_none=True)
    headers = {"Location": f"/v1/parts/{job.part}"}
    return JSONResponse(document, 202, headers if job.state in FINAL else {**headers, "Retry-After": "1"})


@router.get("/{part}", response_model_exclude_none=True, responses=responses(404))
def get_part(part: Hash, wiring: Wired, who: Reader) -> PartOut:
    """State of a part's recognition."""
    return part_out(service.get(wiring, who, part))


@router.get("/{part}/features", responses={**responses(404, 409, 410, 500), 200: {"content": {"application/json": {}}}})
def get_features(part: Hash, request: Request, wiring: Wired, who: Reader) -> Response:
    """The part's features, box and volume."""
    return file_response(wiring, request, service.features(wiring, who, part), "features.json")


@router.delete("/{part}", status_code=204, responses=responses(404, 409))
def delete_part(part: Hash, request: Request, wiring: Wired, who: Writer) -> None:
    """Delete a part's file and features."""
    service.remove(wiring, who, part, request.state.request_id)
