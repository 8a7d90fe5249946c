"""Requests per minute of a key, counted in the broker when several API processes share one, else in memory."""

from __future__ import annotations

import logging
import math
import time

from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage, Storage
from limits.strategies import SlidingWindowCounterRateLimiter
from redis import Redis

log = logging.getLogger("reclamp.limits")


class Limiter:
    """Sliding windows. A shared counter that is away is replaced by this process' own until it is back."""

    def __init__(self, redis: Redis, *, shared: bool) -> None:
        self._own = SlidingWindowCounterRateLimiter(MemoryStorage())
        self._shared = SlidingWindowCounterRateLimiter(_redis_storage(redis)) if shared else None

    def hit(self, name: str, per_minute: int) -> int:
        """Count one; 0 when it is allowed, else the seconds to wait."""
        item = RateLimitItemPerMinute(per_minute)
        for limiter in filter(None, (self._shared, self._own)):
            try:
                if limiter.hit(item, name):
                    return 0
                reset = limiter.get_window_stats(item, name).reset_time
                return max(1, min(60, math.ceil(reset - time.time())))
            except Exception as error:
                log.warning("shared counters away", extra={"error": type(error).__name__})
        return 0


def _redis_storage(redis: Redis) -> Storage:
    from limits.storage import RedisStorage

    return RedisStorage("redis://", connection_pool=redis.connection_pool)
