"""The exact need of a cone beside walls of any slope: bounds over heights, halved where they are widest (mm)."""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from schemas.tolerances import LENGTH, STICKOUT
from worker.reach.assembly import Section, underside
from worker.reach.find import Need, Ring

Away = Callable[[float], float]
"""Distance from the tool's axis to the metal above a height of the setup's frame."""
CLOSED = 0.75 * STICKOUT
"""Bounds this near are one."""
MOST = 80
"""Heights at which the distance is measured; what is still open then is told on the safe side."""
OVER = 5.0
"""A slope may end this far (mm) above the highest column on it."""
SEEDS = 3
"""Flat tops whose edges are looked at first."""


@dataclass(frozen=True, order=True)
class _Span:
    """Heights from ``low`` to ``high``; ``bound`` is the negative of the most that metal there could ask for."""

    bound: float
    low: float
    high: float
    away: float


def cone_need(found: Need, ring: Ring, section: Section, away: Away) -> Need:
    """The need of a tapered section to three quarters of STICKOUT.

    Metal above z is never nearer than ``away(z)``, and that grows with z. So between two heights no metal asks for
    more than the upper height less the flank's height at the lower one's distance, and the lower height itself
    asks for its own share at least.
    """
    start = found.tip + max(section.low + found.low, 0.0)  # lower metal asks for less than is certain
    search = _Search(section, found.tip, away, start)
    top = found.tip + float(ring.rise.max()) + OVER
    for z in (*_tops(ring, start, top), top):
        search.split(z)
    search.best = max(search.best, found.low)
    search.close()
    return replace(found, low=search.best, high=max(search.best, search.bound))


def _tops(ring: Ring, start: float, top: float) -> list[float]:
    """Just below and above the flat tops that most columns have, in order."""
    rises, counts = np.unique(np.round(ring.rise, 4), return_counts=True)
    flat = rises[np.argsort(-counts, kind="stable")[:SEEDS]] + ring.tip
    found = sorted({float(z) + d for z in flat for d in (-STICKOUT / 8, STICKOUT / 8)})
    return [z for z in found if start < z < top]


class _Search:
    def __init__(self, section: Section, tip: float, away: Away, start: float) -> None:
        self._section, self._tip, self._away = section, tip, away
        self._spans: list[_Span] = []
        self._tries = 0
        self._low, self._near = start, self._measured(start)
        self.best = self._asks(start, self._near)

    @property
    def bound(self) -> float:
        """The most that could be asked for."""
        return -self._spans[0].bound if self._spans else -np.inf

    def split(self, z: float) -> None:
        """Ends the span that was begun at ``z`` and begins the next one there."""
        self._add(self._low, z, self._near)
        self._low, self._near = z, self._measured(z)
        self.best = max(self.best, self._asks(z, self._near))

    def close(self) -> None:
        """Halves the spans that could ask for most until none matters."""
        while self._spans and self.bound > self.best + CLOSED and self._tries < MOST:
            span = heapq.heappop(self._spans)
            middle = (span.low + span.high) / 2
            near = self._measured(middle)
            self.best = max(self.best, self._asks(middle, near))
            self._add(span.low, middle, span.away)
            self._add(middle, span.high, near)

    def _add(self, low: float, high: float, away: float) -> None:
        heapq.heappush(self._spans, _Span(-self._asks(high, away), low, high, away))

    def _measured(self, z: float) -> float:
        self._tries += 1
        return self._away(z) + LENGTH

    def _asks(self, z: float, away: float) -> float:
        """How far the section would have to be lifted for metal of height z at that distance."""
        return z - self._tip - float(underside(self._section, np.array([away]))[0])
