"""The door: which key, is it live, may it do this, does it ask too often."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import Request

from schemas.problem import Problem
from service.context import set_principal
from service.errors import TooMany
from service.keys import service
from service.keys.schemas import SCOPES, Principal
from service.settings import Settings
from service.wiring import Wired, Wiring

OPEN_TENANT = "local"


def require(scope: str) -> Callable[[Request, Wiring], Principal]:
    """A dependency that lets only keys with ``scope`` in. Runs before any byte of the body is read."""

    def principal(request: Request, wiring: Wired) -> Principal:
        found = _open(wiring.settings) if not wiring.settings.auth else _known(request, wiring)
        set_principal(request, found.tenant, found.key)
        if scope not in found.scopes:
            raise Problem(
                "auth.scope",
                "The key may not do this",
                f"The key lacks the scope '{scope}'.",
                remedy="Ask for a key with this scope.",
                status=403,
            )
        return found

    return principal


def _open(settings: Settings) -> Principal:
    return Principal(OPEN_TENANT, "none", frozenset(SCOPES), settings.max_active)


def _known(request: Request, wiring: Wiring) -> Principal:
    key = service.verify(wiring.database, _token(request))
    if key is None:
        _count_failure(request, wiring)
        raise _unknown("The key is unknown, has expired or was revoked.")
    wait = wiring.limiter.hit(f"key:{key.id}", key.requests_per_minute)
    if wait:
        raise TooMany("limit.rate", "Too many requests", "The key asks too often.", wait)
    return Principal(key.tenant, key.id, frozenset(key.scopes), key.max_active)


def _token(request: Request) -> str:
    kind, _, token = request.headers.get("authorization", "").partition(" ")
    if kind.lower() != "bearer" or not token:
        raise _unknown("The request carries no key.")
    return token.strip()


def _count_failure(request: Request, wiring: Wiring) -> None:
    client = request.client.host if request.client else "unknown"
    wait = wiring.limiter.hit(f"failed:{client}", wiring.settings.failed_logins_per_minute)
    if wait:
        raise TooMany("limit.rate", "Too many requests", "Too many requests with a wrong key.", wait)


def _unknown(detail: str) -> Problem:
    return Problem("auth.required", "A key is needed", detail, remedy="Send 'Authorization: Bearer <key>'.", status=401)
