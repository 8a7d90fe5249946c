"""Workers leave a sign in the broker that fades by itself: for /readyz and the metrics, never for a decision."""

from __future__ import annotations

import logging
import threading

from redis import Redis

log = logging.getLogger("reclamp.presence")
_PREFIX = "reclamp:worker:"
_SECONDS = 10


def workers_alive(redis: Redis) -> int:
    """How many worker processes left a sign of late. Raises redis' errors."""
    return sum(1 for _ in redis.scan_iter(f"{_PREFIX}*", count=200))


def is_alive(redis: Redis, host: str) -> bool:
    """Whether a worker of that host left a sign of late. Raises redis' errors."""
    return any(str(key, "utf-8").endswith(f"@{host}") for key in redis.scan_iter(f"{_PREFIX}*", count=200))


def announce(redis: Redis, name: str, stopping: threading.Event) -> threading.Thread:
    """Leave a sign every few seconds until ``stopping``."""

    def run() -> None:
        while True:
            try:
                redis.set(_PREFIX + name, "1", ex=_SECONDS)
            except Exception as error:
                log.debug("broker away", extra={"error": type(error).__name__})
            if stopping.wait(_SECONDS / 3):
                return

    thread = threading.Thread(target=run, name="presence", daemon=True)
    thread.start()
    return thread
