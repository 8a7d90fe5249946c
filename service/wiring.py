"""What an API process holds: made once when it starts, handed to every endpoint."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import Annotated

from celery import Celery
from fastapi import Depends, Request
from redis import Redis

from service.broker.queue import celery_app
from service.broker.relay import Relay
from service.keys.limiter import Limiter
from service.settings import Settings
from service.store.artefacts import Artefacts
from service.store.database import Database


@dataclass(frozen=True, slots=True)
class Wiring:
    """The connections of one process."""

    settings: Settings
    database: Database
    artefacts: Artefacts
    celery: Celery
    redis: Redis
    relay: Relay
    limiter: Limiter
    streams: asyncio.Semaphore

    def close(self) -> None:
        """Give everything back."""
        self.relay.stop()
        self.celery.close()
        self.redis.close()
        self.database.close()


def redis_client(url: str) -> Redis:
    """A client with short timeouts: a broker that is away must not hold anybody up."""
    plain = url.replace("redis+socket://", "unix://", 1)
    return Redis.from_url(plain, socket_timeout=2, socket_connect_timeout=2)


def wire(settings: Settings) -> Wiring:
    """Connect everything; nothing is reached for before it is used."""
    database, celery = Database(settings.database()), celery_app(settings.broker())
    redis = redis_client(settings.broker())
    relay = Relay(settings, database, celery, redis)
    limiter = Limiter(redis, shared=not settings.broker().startswith("redis+socket:"))
    streams = asyncio.Semaphore(settings.max_streams)
    return Wiring(settings, database, Artefacts(settings.store()), celery, redis, relay, limiter, streams)


def wiring_of(request: Request) -> Wiring:
    """The wiring of the process that serves this request."""
    found = request.app.state.wiring
    assert isinstance(found, Wiring)
    return found


Wired = Annotated[Wiring, Depends(wiring_of)]
