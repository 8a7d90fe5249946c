"""Ends a request whose body is too large, too slow or compressed, before anybody has stored it."""

from __future__ import annotations

import asyncio
import time

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from schemas.problem import Problem
from service.errors import problem_response


class BodyLimit:
    """ASGI middleware. Counts what arrives; believes Content-Length only when it is too large already."""

    def __init__(self, app: ASGIApp, max_bytes: int, max_seconds: float) -> None:
        self._app, self._max_bytes, self._max_seconds = app, max_bytes, max_seconds

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refusal = self._refuse(Headers(scope=scope))
        if refusal is not None:
            response = problem_response(refusal, scope["path"])
            response.headers["Connection"] = "close"
            await response(scope, receive, send)
            return
        await self._app(scope, self._counted(receive), send)

    def _refuse(self, headers: Headers) -> Problem | None:
        length = headers.get("content-length", "0")
        if length.isdecimal() and int(length[:19]) > self._max_bytes:
            return _too_large(self._max_bytes)
        if headers.get("content-encoding", "identity").lower() != "identity":
            return Problem(
                "request.encoding",
                "The body is compressed",
                "Compressed bodies are not taken.",
                remedy="Send the body as it is, without Content-Encoding.",
                status=415,
            )
        return None

    def _counted(self, receive: Receive) -> Receive:
        received, complete, deadline = 0, False, time.monotonic() + self._max_seconds

        async def counted() -> Message:
            nonlocal received, complete
            if complete:
                return await receive()  # waiting for the client to leave: no deadline
            try:
                message = await asyncio.wait_for(receive(), max(0.0, deadline - time.monotonic()))
            except TimeoutError:
                raise _too_slow(self._max_seconds) from None
            received += len(message.get("body", b""))
            complete = not message.get("more_body", False)
            if received > self._max_bytes:
                raise _too_large(self._max_bytes)
            return message

        return counted


def _too_large(limit: int) -> Problem:
    return Problem(
        "request.too-large",
        "The request is too large",
        f"The body has more than {limit} bytes.",
        remedy="Send smaller files, or ask the operator for more room.",
        status=413,
    )


def _too_slow(limit: float) -> Problem:
    return Problem(
        "request.too-slow",
        "The request takes too long",
        f"The body did not arrive within {limit:g} s.",
        remedy="Send it again over a faster line.",
        status=408,
    )
