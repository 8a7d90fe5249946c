"""Prometheus metrics: what the API served, and what the database says about jobs when it is asked."""

from __future__ import annotations

import time
from collections.abc import Iterator

from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector
from sqlalchemy import func, select

from service.broker.presence import workers_alive
from service.broker.queue import ALONE, SHARED
from service.store.models import Delivery, Job
from service.wiring import Wiring

CONTENT_TYPE: str = CONTENT_TYPE_LATEST
"""Media type of the exposition."""
_BUCKETS = (0.005, 0.01, 0.02, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0, 60.0)


class Metrics:
    """The counters of one API process."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        labels = ("method", "route", "status")
        self._requests = Counter("reclamp_http_requests_total", "Requests served", labels, registry=self.registry)
        self._seconds = Histogram(
            "reclamp_http_request_seconds",
            "Time to serve a request",
            ("method", "route"),
            buckets=_BUCKETS,
            registry=self.registry,
        )

    def count(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count a request. ``route`` is the pattern, never the path that a client sent."""
        self._requests.labels(method, route, str(status)).inc()
        self._seconds.labels(method, route).observe(seconds)

    def watch(self, wiring: Wiring) -> None:
        """Report what the database and the broker say, too."""
        self.registry.register(_Jobs(wiring))

    def text(self) -> tuple[bytes, str]:
        """The exposition and its media type."""
        return generate_latest(self.registry), CONTENT_TYPE


class _Jobs(Collector):
    def __init__(self, wiring: Wiring) -> None:
        self._wiring = wiring

    def describe(self) -> list[GaugeMetricFamily]:
        return []

    def collect(self) -> Iterator[GaugeMetricFamily]:
        try:
            yield from self._database()
        except Exception:
            yield GaugeMetricFamily("reclamp_database_up", "Whether the database answers", 0)
        try:
            yield from self._broker()
        except Exception:
            yield GaugeMetricFamily("reclamp_broker_up", "Whether the broker answers", 0)

    def _database(self) -> Iterator[GaugeMetricFamily]:
        jobs = GaugeMetricFamily("reclamp_jobs", "Jobs by kind and state", labels=("kind", "state"))
        messages = GaugeMetricFamily("reclamp_deliveries", "Webhook messages by state", labels=("state",))
        with self._wiring.database.read() as session:
            for kind, state, count in session.execute(
                select(Job.kind, Job.state, func.count()).group_by(Job.kind, Job.state)
            ):
                jobs.add_metric((kind, state), count)
            for state, count in session.execute(select(Delivery.state, func.count()).group_by(Delivery.state)):
                messages.add_metric((state,), count)
            oldest = session.scalar(select(func.min(Job.created)).where(Job.state == "queued"))
        age = 0.0 if oldest is None else max(0.0, time.time() - oldest)
        yield jobs
        yield messages
        yield GaugeMetricFamily("reclamp_oldest_queued_seconds", "Age of the oldest waiting job", age)
        yield GaugeMetricFamily("reclamp_database_up", "Whether the database answers", 1)

    def _broker(self) -> Iterator[GaugeMetricFamily]:
        redis = self._wiring.redis
        messages = GaugeMetricFamily("reclamp_queue_messages", "Messages in the broker", labels=("queue",))
        for name in (SHARED, ALONE):
            messages.add_metric((name,), int(redis.llen(name)))
        yield messages
        yield GaugeMetricFamily("reclamp_workers", "Worker processes that live", workers_alive(redis))
        yield GaugeMetricFamily("reclamp_broker_up", "Whether the broker answers", 1)
