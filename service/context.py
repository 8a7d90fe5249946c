"""What a request carries through to its log lines: its id, and who asks."""

from __future__ import annotations

from contextvars import ContextVar

from starlette.requests import Request

request_id: ContextVar[str | None] = ContextVar("request_id", default=None)


def set_principal(request: Request, tenant: str, key: str) -> None:
    """Note who asks, for the log line of this request."""
    request.state.tenant, request.state.key = tenant, key
