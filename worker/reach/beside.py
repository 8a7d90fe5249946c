"""What stands beside points of a tool's axis, face by face: asked only where it can decide, exact where asked (mm)."""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH, STICKOUT
from worker.kernel.shadow import Shown, Skyline
from worker.reach.assembly import Section, underside
from worker.reach.raster import Floats
from worker.stage.removal.edges import box_gaps
from worker.stage.removal.facets import Facets, away_above
from worker.stage.removal.slants import Slant, highest_near, leaning

CLOSED = 0.75 * STICKOUT
"""Bounds this near are one."""
AT_ONCE = 100
"""Points of an axis that are asked together."""
MOST = 60
"""Heights at which one face is looked at; what is still open then is told on the safe side."""
FINE = 5e-3
"""A height is found to this."""
STEPS = 12
"""Heights of a tip at which one face is looked at for the widest body that clears it."""


@dataclass(frozen=True)
class Lift:
    """How much a section would have to be higher, the number of the axis point and the top of what it meets."""

    by: float
    number: int = 0
    top: float = 0.0


NONE = Lift(-np.inf)


class Beside:
    """One face of a body and the axis points near it, each with the height of its tip.

    ``least`` is a distance that the face surely keeps from all of them; ``margin`` how far anything matters.
    """

    def __init__(self, sky: Skyline, shown: Shown, points: Floats, tips: Floats, margin: float) -> None:
        self.sky, self.shown, self._margin = sky, shown, margin
        self.points, self.tips = points, tips
        self._known: dict[float, Floats] = {}

    @cached_property
    def least(self) -> float:
        """Lower bound of every distance, -inf where the face's box may hold a point."""
        gap = float(box_gaps(self.shown.bounds, self.points).min())
        return gap if gap > 0 else -np.inf

    def away(self, z: float) -> Floats:
        """Distance of each point from the face's metal above a height, negative inside; +inf beyond the margin."""
        if z not in self._known:
            self._known[z] = away_above(self.sky, self.shown, z, self.points, self._margin)
        return self._known[z]

    def bound(self, section: Section) -> float:
        """No metal of this face asks for more than this."""
        return float(self._asked(section, self.shown.high, np.array([self.least]), self.tips.min())[0])

    def lift(self, section: Section, best: float) -> Lift:
        """The most that the face asks for, to CLOSED and on the safe side; no better than ``best`` where it is less.

        Metal above z is never nearer than ``away(z)``, which grows with z: so between two heights none asks for more
        than the upper one at the lower one's distance.
        """
        if self.shown.flat:
            return self._at(section, self.shown.high)
        slant = self.leans(section.radius) if section.top <= section.bottom else None
        return self._halved(section, best) if slant is None else self._on_slant(slant, section, best)

    def leans(self, margin: float) -> Slant | Facets | None:
        """The face in closed forms, as far as it comes within a margin; None where it has none."""
        return leaning(self.sky, self.shown, self.points, margin)

    def _on_slant(self, slant: Slant | Facets, section: Section, best: float) -> Lift:
        """A cylinder beside a face that leans: the lowest tips first, until none is left that may ask for more."""
        found, order = NONE, np.argsort(self.tips, kind="stable")
        for some in np.split(order, range(AT_ONCE, len(order), AT_ONCE)):
            if self.shown.high - float(self.tips[some[0]]) - section.low <= max(best, found.by):
                break
            tops = highest_near(slant, np.full(len(some), section.radius - LENGTH), self.points[some])
            n = int(np.argmax(tops - self.tips[some]))
            by = float(tops[n] - self.tips[some[n]]) - section.low
            found = Lift(by, int(some[n]), float(tops[n])) if by > found.by else found
        return found

    def _halved(self, section: Section, best: float) -> Lift:
        low, high = max(self.shown.low, float(self.tips.min()) + LENGTH), self.shown.high
        found = max(self._at(section, low), self._at(section, high - COINCIDENT), key=lambda one: one.by)
        spans = [(-self._over(section, low, high), low, high)]
        tries = 0
        while spans and -spans[0][0] > max(found.by + CLOSED, best) and tries < MOST:
            _, low, high = heapq.heappop(spans)
            middle, tries = (low + high) / 2, tries + 1
            found = max(found, self._at(section, middle), key=lambda one: one.by)
            for a, b in ((low, middle), (middle, high)):
                heapq.heappush(spans, (-self._over(section, a, b), a, b))
        most = max((-bound for bound, _, _ in spans), default=-np.inf)
        return Lift(max(found.by, most), found.number, found.top)

    def _at(self, section: Section, z: float) -> Lift:
        need = self._asked(section, z, self.away(z), self.tips)
        n = int(np.argmax(need))
        return Lift(float(need[n]), n, z)

    def _over(self, section: Section, low: float, high: float) -> float:
        return float(np.max(self._asked(section, high, self.away(low), self.tips)))

    def _asked(self, section: Section, z: float, away: Floats, tips: Floats) -> Floats:
        return np.asarray(z - tips - underside(section, away + LENGTH))


def nearest_above(faces: Sequence[Beside], rise: float) -> float:
    """The least distance of metal that rises higher than ``rise`` over the tip beside it; +inf where none does."""
    found = np.inf
    for one in sorted(faces, key=lambda face: face.least):
        if one.least >= found:
            break
        found = min(found, _nearest(one, _in_steps(one.tips), rise))
    return found


def _nearest(one: Beside, tips: Floats, rise: float) -> float:
    """The same of one face: each axis point is asked for what rises over its own tip."""
    found = np.inf
    for tip in np.unique(tips):
        if one.shown.high > tip + rise:
            found = min(found, float(one.away(max(float(tip) + rise, one.shown.low))[tips == tip].min()))
    return found


def _in_steps(tips: Floats) -> Floats:
    """The tips' heights, no more than STEPS of them: where a tip climbs, each is taken down to the next of them."""
    low, span = float(tips.min()), float(np.ptp(tips))
    if len(np.unique(tips)) <= STEPS:
        return tips
    return np.asarray(low + np.floor((tips - low) * (STEPS - 1) / span) * span / (STEPS - 1))


def highest_within(one: Beside, near: Floats) -> Lift:
    """How much the face rises over the tip within the distances ``near`` (n,) of the axis points, to FINE, where it
    rises most, and its height there; NONE where it is nowhere so near."""
    if one.least > near.max():
        return NONE
    slant = one.leans(float(near.max()))
    tops = _tops_within(one, near) if slant is None else highest_near(slant, near + COINCIDENT, one.points)
    n = int(np.argmax(tops - one.tips))
    return Lift(float(tops[n] - one.tips[n]), n, float(tops[n])) if np.isfinite(tops[n]) else NONE


def _tops_within(one: Beside, near: Floats) -> Floats:
    """The greatest height at which any point has metal so near, for all that have any; -inf for the others."""
    low, high = one.shown.low, one.shown.high - (0.0 if one.shown.flat else FINE)
    held = one.away(min(low, high)) <= near
    if not (one.away(high) <= near).any():
        while held.any() and high - low > FINE:
            middle = (low + high) / 2
            low, high = (middle, high) if (one.away(middle) <= near).any() else (low, middle)
    return np.where(held, high, -np.inf)
