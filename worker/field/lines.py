"""Intervals on many parallel lines, and set operations on them line by line (mm)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]

SHORTEST = 1e-7
"""An interval no longer than this (mm) is none."""
MANY = 1 << 32
"""More intervals than lie one over another."""

FINE = 1e6
"""Keys below this (mm) tell places to 1e-10: of others the places themselves are kept."""


@dataclass(frozen=True)
class Lines:
    """Intervals ``start`` to ``stop`` on lines numbered ``line``; disjoint and sorted after every set operation."""

    line: Ints
    start: Floats
    stop: Floats

    def __len__(self) -> int:
        return len(self.line)

    def where(self, keep: Mask) -> Lines:
        """The intervals picked by a mask."""
        return Lines(self.line[keep], self.start[keep], self.stop[keep])

    def within(self, low: float, high: float) -> Lines:
        """What of the intervals lies between two places."""
        cut = Lines(self.line, np.maximum(self.start, low), np.minimum(self.stop, high))
        return cut.where(cut.stop > cut.start)

    def total(self, weight: Floats) -> float:
        """Sum of the lengths, each times the weight of its line."""
        return float(np.sum((self.stop - self.start) * weight[self.line]))

    def lengths(self, count: int) -> Floats:
        """Length on each of ``count`` lines."""
        return np.asarray(np.bincount(self.line, self.stop - self.start, count), dtype=np.float64)


NONE = Lines(np.zeros(0, np.int64), np.zeros(0), np.zeros(0))


def whole(count: int, start: float, stop: float) -> Lines:
    """The same interval on each of ``count`` lines."""
    return Lines(np.arange(count), np.full(count, start), np.full(count, stop))


def beside(lines: Lines, count: int, low: float, high: float) -> Lines:
    """What of the stretch from ``low`` to ``high`` of each of ``count`` lines no interval holds.

    The intervals are disjoint, sorted and within the stretch.
    """
    before = np.arange(len(lines)) + lines.line  # a line has one gap more than intervals
    start, stop = np.full(len(lines) + count, low), np.full(len(lines) + count, high)
    start[before + 1], stop[before] = lines.stop, lines.start
    line = np.repeat(np.arange(count), np.bincount(lines.line, minlength=count) + 1)
    return Lines(line, start, stop).where(stop - start > SHORTEST)


def together(many: Sequence[Lines]) -> Lines:
    """All intervals side by side, overlapping or not; for operations that count them."""
    present = [m for m in many if len(m)]
    if not present:
        return NONE
    return Lines(*(np.concatenate([getattr(m, k) for m in present]) for k in ("line", "start", "stop")))


def union(a: Lines, b: Lines = NONE, gap: float = SHORTEST) -> Lines:
    """What lies in at least one interval: in order of start, each that begins past all earlier stops is a new one.

    Gaps no wider than ``gap`` are closed. Where the order itself is asked for: chords come in runs that rise, which a
    stable sort merges several times faster than one that takes no notice.
    """
    every = together((a, b))
    if not len(every):
        return every
    low = float(every.start.min())
    span = float(every.stop.max()) - low + 1.0
    offsets = every.line * span - low
    starts, stops = offsets + every.start, offsets + every.stop
    if float(starts.max()) < FINE:
        return _united(starts, stops, low, span, gap)
    order = np.argsort(starts, kind="stable")
    furthest = np.maximum.accumulate(stops[order])
    first = np.flatnonzero(np.concatenate(([True], starts[order][1:] > furthest[:-1] + gap)))
    last = np.concatenate((first[1:] - 1, [len(order) - 1]))
    line = every.line[order[first]]
    return Lines(line, every.start[order[first]], furthest[last] - line * span + low)


def _united(starts: Floats, stops: Floats, low: float, span: float, gap: float) -> Lines:
    """The union by keys: line after line, each ``span`` long.

    Starts and stops are sorted each by itself: where as many stops as starts have passed, nothing is open. Equal keys
    are one number here, so any sort gives the same: the library's vectorised one, more than twice as fast on them.
    """
    starts, stops = np.sort(starts), np.sort(stops)
    new = starts[1:] > stops[:-1] + gap
    start, stop = starts[np.append(True, new)], stops[np.append(new, True)]
    line = np.floor((start + 0.5) / span).astype(np.int64)  # a line is longer than its places by 1
    return Lines(line, start - line * span + low, stop - line * span + low)


def subtract(a: Lines, b: Lines) -> Lines:
    """What lies in ``a`` and in no interval of ``b``; lines that ``b`` leaves alone are not looked at."""
    if not len(a) or not len(b):
        return a
    touched = np.zeros(int(max(a.line.max(), b.line.max())) + 1, bool)
    touched[b.line] = True
    cut = touched[a.line]
    if not cut.any():
        return a
    changed = _combine(a.where(cut), b, -MANY, lambda open_: open_ > 0)
    return together((a.where(~cut), changed))


def intersect(a: Lines, b: Lines) -> Lines:
    """What lies in both."""
    return _combine(a, b, MANY, lambda open_: (open_ >= MANY) & (open_ % MANY > 0)) if len(a) and len(b) else NONE


def _combine(a: Lines, b: Lines, weight: int, inside: Callable[[Ints], Mask]) -> Lines:
    """Walk all ends in order and count what is open from one to the next: 1 for each of ``a``, ``weight`` for ``b``."""
    ends = np.concatenate((a.start, a.stop, b.start, b.stop))
    line = np.concatenate((a.line, a.line, b.line, b.line))
    order = _in_order(line, ends)
    steps = np.repeat(np.array((1, -1, weight, -weight)), (len(a), len(a), len(b), len(b)))
    return _runs(line[order], ends[order], inside(np.cumsum(steps[order])))


def _in_order(line: Ints, ends: Floats) -> Ints:
    """The order along the lines, by one key; a line is much longer than any coordinate."""
    low = float(ends.min())
    return np.argsort(line * (float(ends.max()) - low + 1.0) + (ends - low), kind="stable")


def _runs(line: Ints, ends: Floats, held: Mask) -> Lines:
    """The held stretches between sorted ends, neighbours joined; stretches too short to count are passed over."""
    lasting = np.flatnonzero((line[1:] == line[:-1]) & (ends[1:] - ends[:-1] > SHORTEST))
    held, line, start, stop = held[lasting], line[lasting], ends[lasting], ends[lasting + 1]
    joins = held[1:] & held[:-1] & (line[1:] == line[:-1])
    first = np.flatnonzero(held & ~np.concatenate(([False], joins)))
    last = np.flatnonzero(held & ~np.concatenate((joins, [False])))
    return Lines(line[first], start[first], stop[last])


def of_crossings(line: Ints, at: Floats, sign: NDArray[np.int8]) -> Lines:
    """Intervals of a closed surface: ``sign`` is -1 where a line enters the metal and +1 where it leaves.

    Where solids overlap the line is inside as long as it has entered more often than it has left. A line that slips
    through a seam of the surface is wrong for itself alone.
    """
    if not len(line):
        return NONE
    order = _in_order(line, at)
    line, at = line[order], at[order]
    depth = np.cumsum(-sign[order].astype(np.int32))
    ends = np.flatnonzero(line[1:] != line[:-1])
    if depth[ends].any():
        depth -= np.repeat(np.append(0, depth[ends]), np.diff(ends, prepend=-1, append=len(line) - 1))
    return _runs(line, at, depth > 0)


def spread(start: Ints, stop: Ints) -> tuple[Ints, Ints]:
    """For each range its number, repeated, and its members one after the other."""
    count = np.maximum(stop - start, 0)
    owner = np.repeat(np.arange(len(count)), count)
    ends = np.cumsum(count)
    return owner, np.arange(len(owner)) - np.repeat(ends - count - start, count)
