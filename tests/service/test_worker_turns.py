"""A worker looks for its next job soon after the last one, and not only when something else wakes it."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from kombu.asynchronous import Hub

from service.settings import Settings
from service.work.promptly import INTERVAL, Promptly
from service.work.tasks import make_app


@pytest.fixture
def hub() -> Hub:
    return Hub()


def _sleeps(hub: Hub) -> float | None:
    """Seconds that the event loop of the library sleeps at most; None where it looks at nothing (then: 1 s)."""
    hub.fire_timers()
    soonest: float | None = next(iter(hub.scheduler), (None, None))[0]
    return soonest


def test_the_loop_wakes_as_long_as_the_connection_stands(hub: Hub) -> None:
    parent: Any = SimpleNamespace(timer=hub.timer)
    step = Promptly(parent)
    assert _sleeps(hub) is None
    step.start(parent)
    asleep = _sleeps(hub)
    assert asleep is not None and 0 < asleep <= INTERVAL
    step.stop(parent)
    step.stop(parent)  # a connection that breaks stops its steps twice
    assert all(waiting.entry.canceled for waiting in hub.timer.queue)


def test_every_worker_does_so(tmp_path: Path) -> None:
    app, _ = make_app(Settings(data=tmp_path), compute=None)  # type: ignore[arg-type]  # nothing is computed
    assert Promptly in app.steps["consumer"]
