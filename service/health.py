"""/healthz: the process answers. /readyz: broker, database, store and worker, each by itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse

from service.broker.presence import workers_alive
from service.wiring import Wired, Wiring

router = APIRouter(tags=["operation"])


@router.get("/healthz")
async def healthz() -> dict[str, str]:
    """The process lives."""
    return {"status": "ok"}


@router.get("/readyz", responses={503: {"description": "Something that is needed is away"}})
def readyz(wiring: Wired) -> JSONResponse:
    """What is there and what is away. Without a worker checks are accepted still, so that alone is no 503."""
    parts = {name: _state(test) for name, test in _tests(wiring).items()}
    ready = all(parts[name] == "ok" for name in ("database", "store"))
    return JSONResponse({"ready": ready, "parts": parts}, 200 if ready else 503)


def _tests(wiring: Wiring) -> dict[str, Callable[[], Any]]:
    return {
        "database": wiring.database.ping,
        "store": wiring.artefacts.ping,
        "broker": wiring.redis.ping,
        "worker": lambda: _some(workers_alive(wiring.redis)),
    }


def _some(count: int) -> None:
    if count == 0:
        raise LookupError


def _state(test: Callable[[], Any]) -> str:
    try:
        test()
    except Exception:
        return "away"
    return "ok"
