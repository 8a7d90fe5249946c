"""The ASGI application."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

from fastapi import FastAPI

from service import errors
from service.body_limit import BodyLimit
from service.checks.endpoints import router as checks
from service.checks.events import router as events
from service.health import router as health
from service.metrics import Metrics
from service.operation import router as operation
from service.parts.endpoints import router as parts
from service.request_log import RequestLog
from service.settings import Settings
from service.store.expiry import Expiry
from service.telemetry import instrument
from service.webhooks.endpoints import router as webhooks
from service.webhooks.sender import Sender
from service.wiring import wire

_DESCRIPTION = """Checks a multi-setup machining plan against the finished part before metal is cut.

Send a part (STEP) and a setup plan (JSON) to `POST /v1/checks`; 202 means stored. Follow the check by its record, by
server-sent events or by a signed webhook; fetch the report and the stock after each setup."""


def create_app(settings: Settings) -> FastAPI:
    """The application; it connects when it starts."""
    metrics = Metrics()
    app = FastAPI(
        title="Reclamp",
        version="1",
        description=_DESCRIPTION,
        lifespan=_lifespan(settings, metrics),
        root_path=settings.root_path,
        docs_url="/docs" if settings.docs else None,
        redoc_url=None,
    )
    app.state.metrics = metrics
    errors.install(app)
    for router in (checks, events, parts, webhooks, operation, health):
        app.include_router(router)
    app.add_middleware(BodyLimit, max_bytes=settings.max_request_bytes, max_seconds=settings.body_seconds)
    app.add_middleware(RequestLog, count=metrics.count)
    _describe(app)
    instrument(app)
    return app


def _lifespan(settings: Settings, metrics: Metrics) -> Any:
    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        wiring = wire(settings)
        app.state.wiring = wiring
        metrics.watch(wiring)
        sender, expiry = Sender(settings, wiring.database), Expiry(settings, wiring.database, wiring.artefacts)
        for thread in (wiring.relay, sender, expiry):
            thread.start()
        try:
            yield
        finally:
            for thread in (sender, expiry):
                thread.stop()
            wiring.close()

    return lifespan


def _describe(app: FastAPI) -> None:
    """Add to OpenAPI what FastAPI does not know of: the problem document and the bearer key."""
    plain = app.openapi

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            schema = plain()
            parts = schema.setdefault("components", {})
            parts.setdefault("schemas", {})["Problem"] = errors.PROBLEM_SCHEMA
            parts["securitySchemes"] = {"key": {"type": "http", "scheme": "bearer", "description": "an API key"}}
            schema["security"] = [{"key": []}]
            for path in ("/healthz", "/readyz", "/schemas/{which}"):
                schema["paths"][path]["get"]["security"] = []
        found: dict[str, Any] = app.openapi_schema or schema
        return found

    app.openapi = openapi  # type: ignore[method-assign]
