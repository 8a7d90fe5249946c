"""Regions of a setup's x, y plane, known by the stretches they cover on scan lines (mm).

A region answers ``scan(along, at)``: ``along`` 0 for lines in x at the y values ``at``, 1 for lines in y at the x
values; ``at`` rises, lines are numbered by their place in it. Scan lines close together show how stretches hang
together, which is what tells a hole from the outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from worker.field.lines import Floats, Ints, Lines, Mask, subtract, together, union, whole
from worker.field.surface import covered, section, spread

FAR = 1e5


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
class Shadow:
    """What triangles cover, seen along z: of each only what lies above a height."""

    triangles: Floats
    above: float = -np.inf

    def scan(self, along: int, at: Floats) -> Lines:
        """Stretches of all triangles, joined."""
        return union(covered(self.triangles, along, at, self.above))


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
        """Line by line."""
        return union(together([p.scan(along, at) for p in self.parts]))


@dataclass(frozen=True, eq=False)
class Grown:
    """What lies within ``amount`` of what triangles cover above a height: a round bead along every side."""

    triangles: Floats
    above: float
    amount: float

    def scan(self, along: int, at: Floats) -> Lines:
        """The triangles' own stretches and those of the beads."""
        inner = covered(self.triangles, along, at, self.above)
        tall = self.triangles[self.triangles[:, :, 2].max(axis=1) > self.above]
        sides = np.concatenate((_sides(tall, self.above), section(tall, self.above)))
        return union(inner, beads(sides, self.amount, along, at))


@dataclass(frozen=True, eq=False)
class Filled:
    """A region with its holes closed: all that cannot be left without crossing it."""

    region: Region

    def scan(self, along: int, at: Floats) -> Lines:
        """The complement of what hangs together with the outside."""
        everything = whole(len(at), -FAR, FAR)
        gaps = sorted_lines(subtract(everything, self.region.scan(along, at)))
        names = components(gaps)
        outside = np.isin(names, names[(gaps.start <= -FAR) | (gaps.stop >= FAR)])
        return sorted_lines(subtract(everything, gaps.where(outside)))


@dataclass(frozen=True, eq=False)
class Rooted:
    """Those parts of a region that meet another one."""

    region: Region
    root: Region

    def scan(self, along: int, at: Floats) -> Lines:
        """Whole parts are kept or left."""
        lines = self.region.scan(along, at)
        if not len(lines):
            return lines
        names = components(lines)
        met = np.unique(names[_meets(lines, self.root.scan(along, at))])
        return lines.where(np.isin(names, met))


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


def discs(centre: Floats, across: Floats, radius: float, at: Floats) -> Lines:
    """The chords of discs on scan lines: ``centre`` along the lines, ``across`` square to them."""
    which, line = spread(np.searchsorted(at, across - radius), np.searchsorted(at, across + radius))
    half = np.sqrt(np.maximum(radius**2 - (at[line] - across[which]) ** 2, 0.0))
    return Lines(line, centre[which] - half, centre[which] + half)


def beads(sides: Floats, radius: float, along: int, at: Floats) -> Lines:
    """The stretches of all that lies within ``radius`` of line segments (n, 2, 2), given as x, y of both ends."""
    v, u = sides[:, :, along], sides[:, :, 1 - along]
    which, line = spread(np.searchsorted(at, u.min(axis=1) - radius), np.searchsorted(at, u.max(axis=1) + radius))
    here, v, u = at[line], v[which], u[which]
    low, high = np.full(len(here), np.inf), np.full(len(here), -np.inf)
    for end in (0, 1):
        inside = np.abs(here - u[:, end]) <= radius
        half = np.sqrt(np.maximum(radius**2 - (here - u[:, end]) ** 2, 0.0))
        low = np.where(inside, np.minimum(low, v[:, end] - half), low)
        high = np.where(inside, np.maximum(high, v[:, end] + half), high)
    for side in (radius, -radius):
        at_side, crosses = _offset_crossing(u, v, here, side)
        low, high = np.where(crosses, np.minimum(low, at_side), low), np.where(crosses, np.maximum(high, at_side), high)
    keep = high > low
    return Lines(line[keep], low[keep], high[keep])


def _offset_crossing(u: Floats, v: Floats, here: Floats, side: float) -> tuple[Floats, Mask]:
    """Where scan lines cross the segments shifted sideways."""
    du, dv = u[:, 1] - u[:, 0], v[:, 1] - v[:, 0]
    size = np.maximum(np.hypot(du, dv), 1e-12)
    u0, v0 = u[:, 0] - side * dv / size, v[:, 0] + side * du / size
    t = np.divide(here - u0, du, out=np.full(len(u), -1.0), where=np.abs(du) > 1e-12)
    return v0 + t * dv, (t >= 0) & (t <= 1)


def _sides(triangles: Floats, above: float) -> Floats:
    """The sides of triangles as (n, 2, 2), each cut off where it sinks below a height."""
    a, b = (triangles[:, (0, 1, 2)].reshape(-1, 3), triangles[:, (1, 2, 0)].reshape(-1, 3))
    low, high = np.where((a[:, 2] < b[:, 2])[:, None], a, b), np.where((a[:, 2] < b[:, 2])[:, None], b, a)
    keep = high[:, 2] > above
    low, high = low[keep], high[keep]
    rise = high[:, 2] - low[:, 2]
    t = np.divide(above - low[:, 2], rise, out=np.zeros(len(rise)), where=rise > 1e-9)
    start = low + np.clip(t, 0.0, 1.0)[:, None] * (high - low) if np.isfinite(above) else low
    return np.stack((start[:, :2], high[:, :2]), axis=1)


def components(lines: Lines) -> Ints:
    """A name for each stretch, the same for stretches that hang together over neighbouring lines; lines sorted."""
    parent = list(range(len(lines)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for i, j in zip(*(p.tolist() for p in _neighbours(lines)), strict=True):
        a, b = root(i), root(j)
        parent[max(a, b)] = min(a, b)
    return np.array([root(i) for i in range(len(parent))], dtype=np.int64)


def _neighbours(lines: Lines) -> tuple[Ints, Ints]:
    """Pairs of stretches that overlap on neighbouring scan lines."""
    span = 4 * FAR
    starts, stops = lines.line * span + lines.start, lines.line * span + lines.stop
    first = np.searchsorted(stops, (lines.line + 1) * span + lines.start, side="right")
    last = np.searchsorted(starts, (lines.line + 1) * span + lines.stop, side="left")
    return spread(first, last)


def _meets(lines: Lines, other: Lines) -> Mask:
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
