"""From an HTTP request to a submission: a multipart form, or JSON with known hashes."""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from fastapi import Request
from pydantic import ValidationError
from starlette.concurrency import run_in_threadpool

from schemas.plan import MAX_PLAN_BYTES
from schemas.problem import Problem, from_validation
from service.checks.schemas import CheckRequest
from service.checks.service import checked_plan
from service.jobs.submit import Submission
from service.settings import Settings
from service.store.files import Content
from service.uploads import SHA256, Upload, form, other_files, step_file, text_field

_KNOWN = frozenset({"part", "plan"})


@asynccontextmanager
async def submission_of(request: Request, settings: Settings, key: str | None) -> AsyncIterator[Submission]:
    """What the request asks for; uploaded files live until the block ends. Raises Problem."""
    request_id = getattr(request.state, "request_id", None)
    common = {"kind": "check", "idempotency_key": key, "request": request_id}
    if request.headers.get("content-type", "").lower().split(";")[0].strip() == "application/json":
        yield await _from_json(request, common)
        return
    async with form(request, settings.max_files) as parsed:
        plan = await text_field(parsed.get("plan"), "plan")
        sent = other_files(parsed, _KNOWN, settings.max_files)
        name = (await run_in_threadpool(checked_plan, plan, sent)).name
        part = await step_file(parsed.get("part"), "part", settings.max_part_bytes)
        files = {n: await step_file(f, n, settings.max_part_bytes) for n, f in sorted(sent.items())}
        contents = tuple(_content(upload) for upload in (part, *files.values()))
        hashes = {n: upload.sha256 for n, upload in files.items()}
        yield _submission(common, part.sha256, plan, name, hashes, contents)


async def _from_json(request: Request, common: dict[str, Any]) -> Submission:
    body = await _limited(request)
    try:
        document: Any = json.loads(body)
        wanted = CheckRequest.model_validate(document)
        plan = json.dumps(wanted.plan, allow_nan=False).encode()
    except ValidationError as error:
        raise from_validation(error, document, what="request", type="request.invalid") from None
    except (ValueError, RecursionError):
        raise Problem(
            "request.not-json", "The body is not JSON", "The body cannot be read as JSON.", status=400
        ) from None
    read = await run_in_threadpool(checked_plan, plan, wanted.files)
    for name, sha256 in wanted.files.items():
        if not SHA256.match(sha256):
            raise Problem("request.invalid", "The request is not valid", "This is no hash.", pointer=f"/files/{name}")
    named = (wanted.part, *wanted.files.values())
    return _submission(common, wanted.part, plan, read.name, wanted.files, (), named)


async def _limited(request: Request) -> bytes:
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > 2 * MAX_PLAN_BYTES:
            raise Problem("plan.too-large", "The plan is too large", "The body is too large.", status=413)
    return bytes(body)


def _content(upload: Upload) -> Content:
    return Content(upload.sha256, upload.size, upload.file)


def _submission(
    common: dict[str, Any],
    part: str,
    plan: bytes,
    name: str | None,
    files: dict[str, str],
    contents: tuple[Content, ...],
    named: tuple[str, ...] = (),
) -> Submission:
    sha256 = hashlib.sha256(plan).hexdigest()
    kept = (*contents, Content(sha256, len(plan), io.BytesIO(plan)))
    return Submission(
        part=part, plan=sha256, contents=kept, named=named, files=files, name=name[:200] if name else None, **common
    )
