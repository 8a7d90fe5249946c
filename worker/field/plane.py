"""Regions of a setup's x, y plane, known by the stretches they cover on scan lines (mm).

A region answers ``scan(along, at)``: ``along`` 0 for lines in x at the y values ``at``, 1 for lines in y at the x
values; ``at`` rises, lines are numbered by their place in it. Scan lines close together show how stretches hang
together, which is what tells a hole from the outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.arcs import broken, parted
from worker.field.lines import NONE, Floats, Ints, Lines, Mask, beside, spread, subtract, together, union, whole
from worker.field.outlines import Facets, Sides, wound

FAR = 1e5
SEAM = COINCIDENT
"""Gaps no wider than this (mm) between regions that are joined are none."""


class Region(Protocol):
    """A set of points of the plane."""

    def scan(self, along: int, at: Floats) -> Lines:
        """The stretches on each scan line, disjoint and sorted."""
        ...


@dataclass(frozen=True, eq=False)
class Everywhere:
    """The whole plane, as far as ``FAR``."""

    def scan(self, along: int, at: Floats) -> Lines:
        """One stretch a line."""
        return whole(len(at), -FAR, FAR)


@dataclass(frozen=True, eq=False)
class Remembered:
    """A region of which each set of scan lines is worked out once."""

    region: Region

    @cached_property
    def _known(self) -> dict[tuple[int, bytes], Lines]:
        return {}

    def scan(self, along: int, at: Floats) -> Lines:
        """What the region says, or has said before."""
        asked = along, at.tobytes()
        if asked not in self._known:
            self._known[asked] = self.region.scan(along, at)
        return self._known[asked]


@dataclass(frozen=True, eq=False)
class Shadow:
    """What triangles that look up cover, seen along z: of each only what lies above a height."""

    triangles: Floats
    above: float = -np.inf
    facets: Facets | None = None

    @cached_property
    def _outline(self) -> Sides:
        return (self.facets or Facets(self.triangles)).sides(self.above)

    @cached_property
    def sides(self) -> Floats:
        """Its outline (n, 2, 2), its arcs in pieces."""
        return broken(self._outline)

    @cached_property
    def _outlined(self) -> Remembered:
        found = parted(self._outline)
        return Remembered(Outlined(found.ends, found.circles))

    def scan(self, along: int, at: Floats) -> Lines:
        """What the outline winds round."""
        return self._outlined.scan(along, at)


@dataclass(frozen=True, eq=False)
class Disc:
    """The disc about (x, y)."""

    x: float
    y: float
    radius: float

    def scan(self, along: int, at: Floats) -> Lines:
        """One chord on each line that meets the disc."""
        centre, across = (self.x, self.y) if along == 0 else (self.y, self.x)
        return discs(np.array([centre]), np.array([across]), self.radius, at)


@dataclass(frozen=True, eq=False)
class Minus:
    """``a`` without ``b``."""

    a: Region
    b: Region

    def scan(self, along: int, at: Floats) -> Lines:
        """Line by line."""
        return sorted_lines(subtract(self.a.scan(along, at), self.b.scan(along, at)))


@dataclass(frozen=True, eq=False)
class Join:
    """All of several regions."""

    parts: tuple[Region, ...]

    def scan(self, along: int, at: Floats) -> Lines:
        """Line by line; parts that touch leave no seam."""
        return union(together([p.scan(along, at) for p in self.parts]), gap=SEAM)


class Sided(Region, Protocol):
    """A region that knows its outline (n, 2, 2)."""

    @property
    def sides(self) -> Floats:
        """The outline's sides, the region on their left."""
        ...


@dataclass(frozen=True, eq=False)
class Outlined:
    """What outlines wind round; ``circles`` (n, 3): of sides that are arcs and turn neither in x nor in y."""

    sides: Floats
    circles: Floats | None = None

    def scan(self, along: int, at: Floats) -> Lines:
        """Where the winding is not nought."""
        return wound(self.sides, along, at, self.circles)


@dataclass(frozen=True, eq=False)
class Grown:
    """What lies within ``amount`` of a region: a round bead along every side of its outline."""

    shadow: Sided
    amount: float

    def scan(self, along: int, at: Floats) -> Lines:
        """The shadow's own stretches and those of the beads."""
        return union(self.shadow.scan(along, at), beads(self.shadow.sides, self.amount, along, at))


@dataclass(frozen=True, eq=False)
class Shrunk:
    """What of a region lies further than ``amount`` from its outline."""

    shadow: Sided
    amount: float

    def scan(self, along: int, at: Floats) -> Lines:
        """The shadow's own stretches without those of the beads."""
        own = self.shadow.scan(along, at)
        return sorted_lines(subtract(own, beads(self.shadow.sides, self.amount, along, at)))


@dataclass(frozen=True, eq=False)
class Bordered:
    """A region with the sides of its border (n, 2, 2)."""

    region: Region
    sides: Floats

    def scan(self, along: int, at: Floats) -> Lines:
        """What the region says."""
        return self.region.scan(along, at)


@dataclass(frozen=True, eq=False)
class Filled:
    """A region with its holes closed: all that cannot be left without crossing it.

    ``over``: lines of both kinds all over it. Without them a bay is closed too where the lines that are asked for do
    not come to its mouth.
    """

    region: Region
    over: tuple[Floats, Floats] | None = None

    @cached_property
    def _everywhere(self) -> dict[int, Lines]:
        return {}

    def scan(self, along: int, at: Floats) -> Lines:
        """The complement of what hangs together with the outside."""
        gaps = self._gaps(along, at)
        outside = self._outside(along, at, gaps) if self.over else _comes_from_far(gaps)
        return beside(gaps.where(outside), len(at), -FAR, FAR)

    def _gaps(self, along: int, at: Floats) -> Lines:
        return beside(self.region.scan(along, at), len(at), -FAR, FAR)

    def _outside(self, along: int, at: Floats, gaps: Lines) -> Mask:
        """Which gaps hang together with the outside over these lines and those all over the region."""
        assert self.over is not None
        known = self.over[along]
        if along not in self._everywhere:
            self._everywhere[along] = self._gaps(along, known)
        more = self._everywhere[along]
        place = np.empty(len(at) + len(known), np.int64)
        place[np.argsort(np.concatenate((at, known)), kind="stable")] = np.arange(len(place))
        line = np.concatenate((place[gaps.line], place[len(at) + more.line]))
        start, stop = np.concatenate((gaps.start, more.start)), np.concatenate((gaps.stop, more.stop))
        order = np.lexsort((start, line))
        found = np.empty(len(line), bool)
        found[order] = _comes_from_far(Lines(line[order], start[order], stop[order]))
        return found[: len(gaps)]


def _comes_from_far(gaps: Lines) -> Mask:
    """Which stretches hang together with one that has no end; lines sorted."""
    names = components(gaps)
    return np.isin(names, names[(gaps.start <= -FAR) | (gaps.stop >= FAR)])


@dataclass(frozen=True, eq=False)
class Known:
    """A region that has been scanned before: its stretches on fixed scan lines of both kinds."""

    at: tuple[Floats, Floats]
    lines: tuple[Lines, Lines]

    def scan(self, along: int, at: Floats) -> Lines:
        """The stretches; only the scan lines that it was made for can be asked for."""
        if at is not self.at[along] and not np.array_equal(at, self.at[along]):
            raise ValueError("a scanned region knows only its own scan lines")
        return self.lines[along]


def known(region: Region, at: tuple[Floats, Floats]) -> Known:
    """The region scanned once for good."""
    return Known(at, (region.scan(0, at[0]), region.scan(1, at[1])))


@dataclass(frozen=True, eq=False)
class Outline:
    """What closed polygons go round, be it more than once, given by all their sides (n, 2, 2) in any order."""

    sides: Floats

    def scan(self, along: int, at: Floats) -> Lines:
        """From where a line enters to where it has left as often."""
        u, v = self.sides[:, :, 1 - along], self.sides[:, :, along]
        low, high = u.min(axis=1), u.max(axis=1)
        which, line = spread(np.searchsorted(at, low), np.searchsorted(at, high))
        if not len(which):
            return NONE
        share = (at[line] - u[which, 0]) / (u[which, 1] - u[which, 0])
        place = v[which, 0] + share * (v[which, 1] - v[which, 0])
        order = np.lexsort((place, line))
        line, place, upward = line[order], place[order], u[which[order], 1] > u[which[order], 0]
        after = np.cumsum(np.where(upward, 1, -1))
        before = np.concatenate(([0], after[:-1]))
        into, out = before == 0, after == 0
        return sorted_lines(Lines(line[into], place[into], place[out]))


def discs(centre: Floats, across: Floats, radius: float, at: Floats, apart: float = 0.0) -> Lines:
    """The chords of discs on scan lines: ``centre`` along the lines, ``across`` square to them.

    Of discs that stand for one that moves, so far ``apart`` at most, no chord is shorter: at a wall that they touch
    there would be a chip between each two, of a line as good as on the wall hundreds.
    """
    which, line = spread(np.searchsorted(at, across - radius), np.searchsorted(at, across + radius))
    half = np.sqrt(np.maximum(radius**2 - (at[line] - across[which]) ** 2, (apart / 2) ** 2))
    return Lines(line, centre[which] - half, centre[which] + half)


def beads(sides: Floats, radius: float, along: int, at: Floats) -> Lines:
    """The stretches of all that lies within ``radius`` of line segments (n, 2, 2), given as x, y of both ends."""
    v, u = sides[:, :, along], sides[:, :, 1 - along]
    which, line = spread(np.searchsorted(at, u.min(axis=1) - radius), np.searchsorted(at, u.max(axis=1) + radius))
    here = at[line]
    low, high = np.full(len(here), np.inf), np.full(len(here), -np.inf)
    for end in (0, 1):
        off, middle = here - u[which, end], v[which, end]
        half = np.sqrt(np.maximum(radius**2 - off**2, 0.0))
        inside = np.abs(off) <= radius
        low = np.minimum(low, np.where(inside, middle - half, np.inf))
        high = np.maximum(high, np.where(inside, middle + half, -np.inf))
    for side in (radius, -radius):
        at_side, crosses = _offset_crossing(u, v, which, here, side)
        low = np.minimum(low, np.where(crosses, at_side, np.inf))
        high = np.maximum(high, np.where(crosses, at_side, -np.inf))
    keep = high > low
    return Lines(line[keep], low[keep], high[keep])


def _offset_crossing(u: Floats, v: Floats, which: Ints, here: Floats, side: float) -> tuple[Floats, Mask]:
    """Where scan lines cross segments shifted sideways, ``which`` at each; all that a segment has in common with
    itself is worked out once, not on each line. One along the lines crosses none."""
    du, dv = u[:, 1] - u[:, 0], v[:, 1] - v[:, 0]
    size = np.maximum(np.hypot(du, dv), 1e-12)
    u0, v0 = u[:, 0] - side * dv / size, v[:, 0] + side * du / size
    t = (here - u0[which]) / np.where(np.abs(du) > 1e-12, du, np.nan)[which]
    return v0[which] + t * dv[which], (t >= 0) & (t <= 1)


def components(lines: Lines) -> Ints:
    """A name for each stretch, the same for stretches that hang together over neighbouring lines; lines sorted."""
    i, j = _neighbours(lines)
    names = np.arange(len(lines))
    while not np.array_equal(names[i], names[j]):
        np.minimum.at(names, np.maximum(names[i], names[j]), np.minimum(names[i], names[j]))
        while not np.array_equal(names, names[names]):
            names = names[names]
    return names


def _neighbours(lines: Lines) -> tuple[Ints, Ints]:
    """Pairs of stretches that overlap on neighbouring scan lines."""
    span = 4 * FAR
    starts, stops = lines.line * span + lines.start, lines.line * span + lines.stop
    first = np.searchsorted(stops, (lines.line + 1) * span + lines.start, side="right")
    last = np.searchsorted(starts, (lines.line + 1) * span + lines.stop, side="left")
    return spread(first, last)


def meets(lines: Lines, other: Lines) -> Mask:
    """Which stretches overlap another region's on the same line; both sorted."""
    if not len(other):
        return np.zeros(len(lines), bool)
    span = 4 * FAR
    starts, stops = other.line * span + other.start, other.line * span + other.stop
    first = np.searchsorted(stops, lines.line * span + lines.start, side="right")
    last = np.searchsorted(starts, lines.line * span + lines.stop, side="left")
    return np.asarray(last > first)


def sorted_lines(lines: Lines) -> Lines:
    """The same stretches in order of line and start."""
    order = np.lexsort((lines.start, lines.line))
    return Lines(lines.line[order], lines.start[order], lines.stop[order])


def area(region: Region, at: Floats, widths: Floats) -> float:
    """Area (mm2) by scan lines in x, each standing for a width; only for bounded regions."""
    return region.scan(0, at).total(widths)
