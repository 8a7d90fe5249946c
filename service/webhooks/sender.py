"""Sends what is due, signed after Standard Webhooks, again and again with growing pauses until it is taken.

At least once: a receiver tells a repetition by its webhook-id, and a replay by its timestamp.
"""

from __future__ import annotations

import json
import logging
import random
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import httpcore
import httpx
from standardwebhooks import Webhook as Signer

from service.settings import Settings
from service.store.database import Database
from service.webhooks import repository
from service.webhooks.guard import Forbidden, GuardedTransport
from service.webhooks.repository import Due
from service.webhooks.secrets import signing_secret
from service.webhooks.service import GRACE

log = logging.getLogger("reclamp.webhooks")
_INTERVAL, _AT_ONCE = 0.5, 8
_MOST_DELAY = 6 * 3600.0


class Sender:
    """One thread that looks for due messages and a few that send them. Any number of senders may run."""

    def __init__(self, settings: Settings, database: Database) -> None:
        self._settings, self._database = settings, database
        transport = GuardedTransport(allow_private=settings.webhook_private_networks)
        self._client = httpx.Client(
            transport=transport, timeout=settings.webhook_timeout, follow_redirects=False, trust_env=False
        )
        self._pool = ThreadPoolExecutor(_AT_ONCE, thread_name_prefix="webhook")
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="webhooks", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """End after what is under way."""
        self._stopped.set()
        self._thread.join(timeout=5)
        self._pool.shutdown(wait=False, cancel_futures=True)
        self._client.close()

    def _run(self) -> None:
        while not self._stopped.wait(_INTERVAL):
            try:
                with self._database.read() as session:
                    found = repository.due(session, time.time(), _AT_ONCE)
                list(self._pool.map(self._deliver, found))
            except Exception as error:
                log.warning("webhook round failed", extra={"error": type(error).__name__})

    def _deliver(self, found: Due) -> None:
        with self._database.write() as session:
            if not repository.take(session, found, time.time() + 4 * self._settings.webhook_timeout):
                return
        result = self._post(found)
        taken = result.startswith("2")
        last = found.attempts + 1 >= self._settings.webhook_attempts or result == "forbidden address"
        state = "delivered" if taken else "failed" if last else "pending"
        with self._database.write() as session:
            repository.settle(session, found, state, result, time.time() + self._pause(found.attempts))
        log.info("webhook", extra={"delivery": found.id, "state": state, "result": result})

    def _pause(self, attempts: int) -> float:
        """Seconds until the next attempt: fourfold each time, at most 6 h, spread by a fifth."""
        pause = min(_MOST_DELAY, self._settings.webhook_first_delay * 4.0**attempts)
        return pause * random.uniform(0.9, 1.1)

    def _post(self, found: Due) -> str:
        """The answer's status, or a word for what went wrong; the answer's body is never read."""
        body = json.dumps(found.body, separators=(",", ":"))
        headers = signed_headers(self._settings.secret.get_secret_value(), found, body, datetime.now(UTC))
        try:
            with self._client.stream("POST", found.url, content=body.encode(), headers=headers) as answer:
                return str(answer.status_code)
        except Forbidden:
            return "forbidden address"
        except (httpx.HTTPError, httpcore.NetworkError, httpcore.TimeoutException, httpcore.ProtocolError, OSError):
            return "no answer"
        except Exception as error:
            log.warning("webhook broke", extra={"error": type(error).__name__})
            return "not sent"


def signed_headers(master: str, found: Due, body: str, now: datetime) -> dict[str, str]:
    """The Standard Webhooks headers; for a day after a rotation with both signatures."""
    generations = [found.generation]
    if found.rotated is not None and now.timestamp() - found.rotated < GRACE:
        generations.append(found.generation - 1)
    secrets = [signing_secret(master, found.webhook, generation) for generation in generations]
    return {
        "content-type": "application/json",
        "user-agent": "reclamp-webhooks/1",
        "webhook-id": found.id,
        "webhook-timestamp": str(int(now.timestamp())),
        "webhook-signature": " ".join(Signer(secret).sign(found.id, now, body) for secret in secrets),
    }
