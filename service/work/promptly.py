"""Lets a worker take its next job soon after the last one ended."""

from __future__ import annotations

from typing import Any

from celery import bootsteps

INTERVAL = 0.05
"""Seconds between two looks at whether the worker is free: what a batch of short jobs loses by each, at most."""


class Promptly(bootsteps.StartStopStep):
    """Wakes the consumer's event loop every ``INTERVAL``.

    The loop asks the broker for a message only when it turns and finds the pool free. A thread of the pool that ends
    a job does not turn it; unless something else happens it sleeps for a second, so each job would cost one more.
    """

    def __init__(self, parent: Any, **_: Any) -> None:
        self.entry: Any = None
        super().__init__(parent)

    def start(self, parent: Any) -> None:
        """Begin, with each connection to the broker."""
        self.entry = parent.timer.call_repeatedly(INTERVAL, _look_again)

    def stop(self, parent: Any) -> None:
        """End, with the connection."""
        if self.entry is not None:
            self.entry.cancel()
            self.entry = None


def _look_again() -> None:
    """Nothing: that the loop turns is the whole of it."""
