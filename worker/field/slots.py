"""Cutting many lines at once: the intervals of all lines side by side in slots, clipped window by window (mm).

Slot k holds one interval of each line, or nothing: then its stop is not above its start. Intervals of a line come in
no order. To cut is to clip each slot on the window that a solid touches; only where an interval falls in two does a
piece move to another slot. Nothing is sorted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from worker.field.lines import NONE, SHORTEST, Floats, Ints, Lines, Mask, subtract, together

MOST_SLOTS = 16
"""Intervals to a line beyond which sorting is less work and takes less memory."""
Places = slice | Ints
Shape = tuple[int, int]


@dataclass(frozen=True, eq=False)
class Window:
    """One interval on each line that ``index`` picks out of the lattice's (first, second); both ends infinite: none.

    ``start`` and ``stop`` broadcast over the lines picked.
    """

    index: tuple[Places, Places]
    start: Floats
    stop: Floats

    def lines(self, shape: Shape) -> Lines:
        """The same as intervals on numbered lines."""
        number = self.numbers(shape)
        start, stop = (np.broadcast_to(ends, number.shape) for ends in (self.start, self.stop))
        held = np.isfinite(start)
        return Lines(number[held], start[held], stop[held])

    def numbers(self, shape: Shape) -> Ints:
        """The numbers of the lines that are picked."""
        first, second = (np.arange(size)[places] for size, places in zip(shape, self.index, strict=True))
        paired = all(isinstance(places, np.ndarray) for places in self.index)
        return first * shape[1] + second if paired else first[:, None] * shape[1] + second


def window(first: Places, second: Places, start: Floats, stop: Floats) -> Window:
    """A window of lines ``first`` by ``second``; no interval where ``stop`` is not above ``start``."""
    none = stop - start <= SHORTEST
    if none.any():
        start, stop = np.where(none, np.inf, start), np.where(none, np.inf, stop)
    return Window((first, second), start, stop)


def each_once(lines: Lines) -> Iterator[Lines]:
    """The same intervals in sets that have each line at most once, lines rising."""
    if not len(lines):
        return
    breaks = np.flatnonzero(lines.line[1:] <= lines.line[:-1]) + 1
    if len(breaks) < MOST_SLOTS:
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
        yield window(first, second, some.start, some.stop)


def without(lines: Lines, shape: Shape, windows: Iterable[Window]) -> Lines:
    """What of disjoint intervals is in none of the windows."""
    slots, left = Slots(lines, shape), iter(windows)
    while len(slots) <= MOST_SLOTS and (one := next(left, None)) is not None:
        slots.cut(one)
    return subtract(slots.lines(), together([one.lines(shape) for one in left]))


class Slots:
    """Intervals of a lattice's lines, (slot, first, second)."""

    def __init__(self, lines: Lines, shape: Shape) -> None:
        self._shape = shape
        self._start: list[Floats] = []
        self._stop: list[Floats] = []
        for some in each_once(lines):
            self._grow()
            self._start[-1].ravel()[some.line] = some.start
            self._stop[-1].ravel()[some.line] = some.stop

    def __len__(self) -> int:
        """How many slots there are."""
        return len(self._start)

    def cut(self, window: Window) -> None:
        """Take a window's intervals away."""
        split = [part for k in range(len(self._start)) if (part := self._clip(k, window)) is not None]
        if split:
            self._put(*(np.concatenate(column) for column in zip(*split, strict=True)))

    def _clip(self, k: int, window: Window) -> tuple[Ints, Floats, Floats] | None:
        """Clip one slot; the line, start and stop of what is left above, where something is left below as well."""
        start, stop = self._start[k][window.index], self._stop[k][window.index]
        if not (start < stop).any():
            return None
        lower, upper = np.minimum(stop, window.start), np.maximum(start, window.stop)
        below = lower - start > SHORTEST
        both = below & (stop - upper > SHORTEST)
        found = self._above(both, window, upper, stop)
        self._start[k][window.index] = np.where(below, start, upper)
        self._stop[k][window.index] = np.where(below, lower, stop)
        return found

    def _above(self, both: Mask, window: Window, upper: Floats, stop: Floats) -> tuple[Ints, Floats, Floats] | None:
        return (window.numbers(self._shape)[both], upper[both], stop[both]) if both.any() else None

    def _put(self, line: Ints, start: Floats, stop: Floats) -> None:
        """Intervals, one to a line, into the first slot that has room."""
        k = 0
        while len(line):
            if k == len(self._start):
                self._grow()
            starts, stops = self._start[k].ravel(), self._stop[k].ravel()
            free = stops[line] - starts[line] <= SHORTEST
            starts[line[free]], stops[line[free]] = start[free], stop[free]
            line, start, stop = line[~free], start[~free], stop[~free]
            k += 1

    def _grow(self) -> None:
        self._start.append(np.zeros(self._shape))
        self._stop.append(np.zeros(self._shape))

    def lines(self) -> Lines:
        """All intervals, slot by slot."""
        return together(
            [_held(start.ravel(), stop.ravel()) for start, stop in zip(self._start, self._stop, strict=True)]
        )


def _held(start: Floats, stop: Floats) -> Lines:
    line = np.flatnonzero(stop - start > SHORTEST)
    return Lines(line, start[line], stop[line]) if len(line) else NONE
