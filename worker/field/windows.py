"""What is cut away at once: an interval on each line of a rectangle of the lattice's (mm)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from worker.field.lines import SHORTEST, Floats, Ints, Lines

MOST_SETS = 16
"""Sets of intervals that are told apart by going through them; more are told apart by sorting."""
Shape = tuple[int, int]
Box = tuple[slice, slice]
"""A rectangle of the lattice's lines, by both places of a line."""


@dataclass(frozen=True, eq=False)
class Window:
    """One interval on each line of a rectangle; none where ``stop`` is not above ``start``.

    ``start`` and ``stop`` have two dimensions and broadcast over the rectangle.
    """

    box: Box
    start: Floats
    stop: Floats

    def lines(self, shape: Shape) -> Lines:
        """The same as intervals on numbered lines."""
        i, j = self.box
        number = np.arange(i.start, i.stop)[:, None] * shape[1] + np.arange(j.start, j.stop)
        start, stop = (np.broadcast_to(ends, number.shape) for ends in (self.start, self.stop))
        held = stop - start > SHORTEST
        return Lines(number[held], start[held], stop[held])


def each_once(lines: Lines) -> Iterator[Lines]:
    """The same intervals in sets that have each line at most once, lines rising."""
    if not len(lines):
        return
    breaks = np.flatnonzero(lines.line[1:] <= lines.line[:-1]) + 1
    if len(breaks) < MOST_SETS:
        for first, last in zip([0, *breaks], [*breaks, len(lines)], strict=True):
            yield Lines(lines.line[first:last], lines.start[first:last], lines.stop[first:last])
        return
    order = np.argsort(lines.line, kind="stable")
    line = lines.line[order]
    begins = np.flatnonzero(np.concatenate(([True], line[1:] != line[:-1])))
    rank = np.arange(len(line)) - np.repeat(begins, np.diff(np.append(begins, len(line))))
    for k in range(int(rank.max()) + 1):
        mine = order[rank == k]
        yield Lines(lines.line[mine], lines.start[mine], lines.stop[mine])


def windows_of(lines: Lines, shape: Shape) -> Iterator[Window]:
    """Windows for intervals on numbered lines."""
    for some in each_once(lines):
        first, second = np.divmod(some.line, shape[1])
        i, j = (slice(int(places.min()), int(places.max()) + 1) for places in (first, second))
        ends = np.zeros((2, i.stop - i.start, j.stop - j.start))
        ends[:, first - i.start, second - j.start] = some.start, some.stop
        yield Window((i, j), ends[0], ends[1])


def span(places: Ints) -> slice:
    """From the first to the last of rising places."""
    return slice(int(places[0]), int(places[-1]) + 1) if len(places) else slice(0, 0)


def joined(a: Box, b: Box) -> Box:
    """The rectangle that holds two others."""
    i, j = (slice(min(m.start, n.start), max(m.stop, n.stop)) for m, n in zip(a, b, strict=True))
    return i, j


def common(a: Box, b: Box) -> Box | None:
    """The rectangle that two others share; None for none."""
    i, j = (slice(max(m.start, n.start), min(m.stop, n.stop)) for m, n in zip(a, b, strict=True))
    return (i, j) if i.start < i.stop and j.start < j.stop else None


def within(box: Box, whole: Box) -> Box:
    """The rectangle with its places counted from the corner of another one."""
    i, j = (slice(m.start - n.start, m.stop - n.start) for m, n in zip(box, whole, strict=True))
    return i, j


def part(ends: Floats, box: Box) -> Floats:
    """The ends of a window for some of its lines; the one that stands for all stays."""
    i, j = (slice(None) if size == 1 else some for size, some in zip(ends.shape, box, strict=True))
    return ends[i, j]
