"""/metrics, /schemas, /v1/key and /v1/audit."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Query, Request, Response
from fastapi.responses import PlainTextResponse
from pydantic import BaseModel
from sqlalchemy import select

from schemas.published import json_schema
from service.checks.schemas import when
from service.errors import responses
from service.keys.guard import require
from service.keys.schemas import KeyOut, Principal
from service.metrics import CONTENT_TYPE, Metrics
from service.store.models import AuditEntry, Key
from service.wiring import Wired

router = APIRouter(tags=["operation"])
Reader = Annotated[Principal, Depends(require("checks:read"))]
Operator = Annotated[Principal, Depends(require("ops:read"))]


@router.get("/schemas/{which}")
def get_schema(which: Literal["plan", "report"]) -> dict[str, Any]:
    """The JSON Schema of the plan or of the report."""
    return json_schema(which)


def _may_see_metrics(request: Request, wiring: Wired) -> None:
    if not wiring.settings.metrics_public:
        require("ops:read")(request, wiring)


_METRICS: dict[int | str, dict[str, Any]] = {200: {"description": "Metrics", "content": {CONTENT_TYPE: {}}}}


@router.get(
    "/metrics",
    dependencies=[Depends(_may_see_metrics)],
    response_class=PlainTextResponse,
    responses={**responses(), **_METRICS},
)
def get_metrics(request: Request) -> Response:
    """Metrics for Prometheus."""
    metrics: Metrics = request.app.state.metrics
    body, media_type = metrics.text()
    return Response(body, media_type=media_type)


@router.get("/v1/key", response_model_exclude_none=True, responses=responses())
def get_key(wiring: Wired, who: Reader) -> KeyOut:
    """The key that this request carries, and its limits."""
    with wiring.database.read() as session:
        key = session.get(Key, who.key)
    fields = {"id": who.key, "tenant": who.tenant, "scopes": sorted(who.scopes), "max_active": who.max_active}
    if key is None:  # the service runs without keys
        rate = wiring.settings.requests_per_minute
        return KeyOut.model_validate({**fields, "name": "open", "requests_per_minute": rate, "created": 0})
    times = {"created": when(key.created), "expires": when(key.expires)}
    return KeyOut.model_validate({**fields, "name": key.name, "requests_per_minute": key.requests_per_minute, **times})


class AuditOut(BaseModel):
    """Who did what, when."""

    id: int
    at: Any
    key: str
    action: str
    object: str
    request: str | None


@router.get("/v1/audit", responses=responses())
def get_audit(
    wiring: Wired,
    who: Operator,
    before: Annotated[int | None, Query(ge=1, le=2**62)] = None,
    limit: Annotated[int, Query(ge=1, le=500)] = 100,
) -> list[AuditOut]:
    """The tenant's audit log, newest first; `before` is the id to go on from."""
    statement = select(AuditEntry).where(AuditEntry.tenant == who.tenant)
    statement = statement if before is None else statement.where(AuditEntry.id < before)
    with wiring.database.read() as session:
        rows = session.scalars(statement.order_by(AuditEntry.id.desc()).limit(limit)).all()
    names = ("id", "key", "action", "object", "request")
    return [AuditOut(at=when(row.at), **{name: getattr(row, name) for name in names}) for row in rows]
