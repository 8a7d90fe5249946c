"""One structured line for each request, and its id on the way in and out."""

from __future__ import annotations

import logging
import re
import time
from collections.abc import Callable

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.context import request_id
from service.ids import new_id

log = logging.getLogger("reclamp.request")
_GOOD = re.compile(r"^[A-Za-z0-9_-]{8,64}$")
Count = Callable[[str, str, int, float], None]
_QUIET = frozenset({"/healthz", "/readyz", "/metrics"})


class RequestLog:
    """ASGI middleware. A client's own X-Request-Id is kept when it is well-formed."""

    def __init__(self, app: ASGIApp, count: Count) -> None:
        self._app, self._count = app, count

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        asked = Headers(scope=scope).get("x-request-id", "")
        identity = asked if _GOOD.match(asked) else new_id()
        state = scope.setdefault("state", {})
        state["request_id"] = identity
        token, begun, status = request_id.set(identity), time.perf_counter(), 500

        async def marked(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                MutableHeaders(scope=message)["X-Request-Id"] = identity
            await send(message)

        try:
            await self._app(scope, receive, marked)
        finally:
            seconds, route = time.perf_counter() - begun, _route(scope)
            self._count(scope["method"], route, status, seconds)
            _write(scope, route, status, seconds)
            request_id.reset(token)


def _route(scope: Scope) -> str:
    """The pattern that matched; what matched none is all one, so that nobody can fill the metrics with names."""
    return getattr(scope.get("route"), "path", None) or "-"


def _write(scope: Scope, route: str, status: int, seconds: float) -> None:
    state = scope["state"]
    level = logging.DEBUG if route in _QUIET else logging.INFO
    fields = {"method": scope["method"], "route": route, "status": status, "ms": round(seconds * 1000, 1)}
    log.log(level, "request", extra={**fields, "tenant": state.get("tenant"), "key": state.get("key")})
