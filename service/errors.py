"""Every error leaves as RFC 9457 problem+json; no traceback and no driver's words leave at all."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from starlette.exceptions import HTTPException

from schemas.problem import Problem, json_pointer
from service.store.artefacts import StoreError

log = logging.getLogger("reclamp.errors")
MEDIA_TYPE = "application/problem+json"


class TooMany(Problem):
    """A limit of the key is reached; ``retry_after`` in seconds."""

    def __init__(self, type: str, title: str, detail: str, retry_after: int) -> None:
        super().__init__(type, title, detail, remedy=f"Try again in {retry_after} s.", status=429)
        self.retry_after = retry_after


def not_found(what: str) -> Problem:
    """The answer for what is absent, and for what belongs to somebody else."""
    return Problem("not-found", "Not found", f"There is no such {what}.", status=404)


def problem_response(problem: Problem, instance: str = "") -> JSONResponse:
    """The response of a problem."""
    headers: dict[str, str] = {}
    if isinstance(problem, TooMany):
        headers["Retry-After"] = str(problem.retry_after)
    if problem.status == 401:
        headers["WWW-Authenticate"] = "Bearer"
    if problem.status in (503, 507):
        headers["Retry-After"] = "5"
    return JSONResponse(problem.document(instance), problem.status, headers, media_type=MEDIA_TYPE)


def install(app: FastAPI) -> None:
    """Register the handlers."""
    app.add_exception_handler(Problem, _on_problem)
    app.add_exception_handler(HTTPException, _on_http)
    app.add_exception_handler(RequestValidationError, _on_validation)
    app.add_exception_handler(DBAPIError, _on_database)
    app.add_exception_handler(PoolTimeoutError, _on_database)
    app.add_exception_handler(StoreError, _on_store)
    app.add_exception_handler(Exception, _on_anything)


def _on_problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, Problem)
    return problem_response(error, request.url.path)


def _on_http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    title = HTTPStatus(error.status_code).phrase
    problem = Problem(f"http.{error.status_code}", title, f"{error.detail}.", status=error.status_code)
    response = problem_response(problem, request.url.path)
    response.headers.update(error.headers or {})
    return response


def _on_validation(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    faults = [{"pointer": json_pointer(e["loc"]), "detail": f"{e['msg']}."} for e in error.errors()]
    first = faults[0]
    problem = Problem(
        "request.invalid", "The request is not valid", first["detail"], pointer=first["pointer"], errors=faults
    )
    return problem_response(problem, request.url.path)


def database_problem(error: Exception) -> Problem:
    """A database that is away (503) or full (507)."""
    log.warning("database error", extra={"error": type(error).__name__, "detail": str(error.__cause__ or "")[:200]})
    words = str(error).lower()
    if "is full" in words or "no space left" in words or "disk i/o error" in words:
        return _full()
    return Problem("service.unavailable", "The service cannot work now", "The database cannot be reached.", status=503)


def _full() -> Problem:
    return Problem(
        "storage.full",
        "No room left",
        "The service has no room left to store this; nothing was accepted.",
        remedy="Try again later.",
        status=507,
    )


def _on_database(request: Request, error: Exception) -> Response:
    return problem_response(database_problem(error), request.url.path)


def _on_store(request: Request, error: Exception) -> Response:
    assert isinstance(error, StoreError)
    away = Problem("service.unavailable", "The service cannot work now", "The store cannot be used.", status=503)
    return problem_response(_full() if error.full else away, request.url.path)


def _on_anything(request: Request, error: Exception) -> Response:
    if isinstance(error, OSError) and error.errno == 28:
        return problem_response(_full(), request.url.path)
    log.error("unexpected error", exc_info=error)
    problem = Problem("internal", "Internal error", "Something went wrong in the service.", status=500)
    return problem_response(problem, request.url.path)


def responses(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The OpenAPI entries of the problems that an endpoint can answer with."""
    return {status: _entry(status) for status in sorted({401, 403, 422, 429, 503, 507, *statuses})}


def _entry(status: int) -> dict[str, Any]:
    content: Mapping[str, Any] = {"schema": {"$ref": "#/components/schemas/Problem"}}
    return {"description": HTTPStatus(status).phrase, "content": {MEDIA_TYPE: dict(content)}}


PROBLEM_SCHEMA: dict[str, Any] = {
    "type": "object",
    "title": "Problem",
    "description": "RFC 9457: what is wrong, where, and what to do.",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": {"type": "string", "format": "uri"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "instance": {"type": "string"},
        "pointer": {"type": "string", "description": "RFC 6901 pointer into the plan, or the name of the file"},
        "remedy": {"type": "string"},
        "errors": {"type": "array", "items": {"type": "object"}},
    },
    "examples": [
        {
            "type": "urn:reclamp:problem:plan.invalid",
            "title": "The plan is not valid",
            "status": 422,
            "detail": "There is no tool 'T9'.",
            "pointer": "/setups/0/workingsteps/3/tool",
            "remedy": "Use one of: T1, T2.",
        }
    ],
}
