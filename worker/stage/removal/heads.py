"""The head of an undercutting cutter as numbers: its radius at each height, and what its edges leave (mm)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from schemas.tolerances import COINCIDENT, LENGTH
from schemas.tool import Tool
from worker.kernel.rim import Outline


@dataclass(frozen=True)
class Head:
    """``radius`` over the sharp edge, ``height`` of the edge, ``corner`` radius, ``flank`` angle against the floor.

    A straight head has a flank of 90 degrees and both edges rounded; a dovetail's tapers from the tip upwards, its
    diameter is that of the sharp corner, and only the lower edge is rounded. ISO 13399: DC, APMX, RE, KAPR.
    """

    radius: float
    height: float
    corner: float
    flank: float

    @property
    def straight(self) -> bool:
        """True for a head with upright sides."""
        return self.flank >= 90.0

    @property
    def run(self) -> float:
        """How much the flank comes in per height."""
        return 0.0 if self.straight else 1.0 / math.tan(math.radians(self.flank))

    @property
    def touching(self) -> float:
        """From the sharp corner to where the rounded edge leaves the floor and the flank."""
        return self.corner / math.tan(math.radians(self.flank / 2))

    @property
    def depth(self) -> float:
        """How far in from the widest place an edge or flank reaches."""
        return max(self.touching, self.height * self.run)

    def at(self, h: float) -> float:
        """The radius at a height above the tip (0 to ``height``)."""
        h = min(max(h, 0.0), self.height)
        rise = self.touching * math.sin(math.radians(self.flank))
        if h < rise:
            return self.radius - self.touching + _bow(self.corner, h)
        if self.straight and h > self.height - rise:
            return self.radius - self.corner + _bow(self.corner, self.height - h)
        return self.radius - h * self.run

    def widest(self, low: float, high: float) -> float:
        """The largest radius between two heights above the tip."""
        bends = (self.corner, self.height - self.corner, self.touching * math.sin(math.radians(self.flank)))
        return max(self.at(h) for h in (low, high, *(b for b in bends if low < b < high)))

    def outline(self, low: float, high: float) -> Outline:
        """The section beside the border of what the head covers while its tip goes from ``low`` to ``high`` less its
        height: (way in from the widest place, height); no way in where its sides are upright and its edges sharp."""
        if self.depth <= COINCIDENT:
            return ((0.0, low), (0.0, high))
        bottom = self._edge(low)
        if not self.straight:
            return ((self.depth, low), *bottom, (self.height * self.run, high), (self.depth, high))
        c, share = self.corner, 1.0 - math.sqrt(0.5)
        return (*bottom, (0.0, high - c), (c, high, share * c, high - share * c))

    def stepped(self, tips: Sequence[float]) -> Outline:
        """The section beside the border that the head covers alike from each of several heights of its tip, lowest
        first: one outline, for flanks that lie over each other take the kernel seconds to tell apart."""
        low, *others = tips
        found, tip = [(self.depth, low), *self._edge(low)], low
        for z in others:
            found += [((z - tip) * self.run, z), *self._edge(z)]
            tip = z
        high = tip + self.height
        return (*found, (self.height * self.run, high), (self.depth, high))

    def steps(self, low: float, high: float) -> bool:
        """Whether a flank that stands on one tip runs into the floor of the next, past where its edge is rounded."""
        return not self.straight and self.touching + COINCIDENT < (high - low) * self.run < self.depth

    def _edge(self, z: float) -> Outline:
        """From the floor at height ``z`` round the lower edge to the flank."""
        angle, long, c = math.radians(self.flank), self.touching, self.corner
        if c <= COINCIDENT:
            return ((0.0, z),)
        share = 1.0 - c / math.hypot(long, c)  # of the way from the corner to the centre at which the bow lies
        return ((long, z), (long * math.cos(angle), z + long * math.sin(angle), share * long, z + share * c))


def _bow(radius: float, h: float) -> float:
    """Half the chord of a circle at a height above its lowest point."""
    return math.sqrt(max(radius**2 - (radius - h) ** 2, 0.0))


def head_of(tool: Tool) -> Head:
    """The head of an undercutting cutter."""
    angle = tool.KAPR if tool.type == "dovetail_mill" and tool.KAPR is not None else 90.0
    flank, height = min(angle, 180.0 - angle), tool.edge_length
    if flank < 90.0:  # a flank that would meet the axis ends there
        height = min(height, tool.radius * math.tan(math.radians(flank)))
    return Head(tool.radius, height, min(tool.corner_radius, height / 2, tool.radius), flank)


def fitted(head: Head, rooms: Iterable[float]) -> Head:
    """The head just as high as a room for it (mm), where it is higher by LENGTH at most: that is the same size. Of
    several rooms, under roofs of their own, the lowest."""
    for room in sorted(rooms):
        if 0.0 < head.height - room <= LENGTH + COINCIDENT:
            return replace(head, height=room)
    return head
