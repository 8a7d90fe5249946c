"""The ASGI application."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI

from service import errors
from service.body_limit import BodyLimit
from service.checks.endpoints import router as checks
from service.health import router as health
from service.request_log import RequestLog
from service.settings import Settings
from service.wiring import wire


def create_app(settings: Settings) -> FastAPI:
    """The application; it connects when it starts."""

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        wiring = wire(settings)
        app.state.wiring = wiring
        wiring.relay.start()
        try:
            yield
        finally:
            wiring.close()

    app = FastAPI(title="Reclamp", version="1", lifespan=lifespan, root_path=settings.root_path)
    errors.install(app)
    app.include_router(checks)
    app.include_router(health)
    app.add_middleware(BodyLimit, max_bytes=settings.max_request_bytes, max_seconds=settings.body_seconds)
    app.add_middleware(RequestLog)
    return app
