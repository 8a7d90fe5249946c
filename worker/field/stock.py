"""Metal on parallel lines: sheaves of intervals, one on each line of a rectangle of lines (mm).

A line of a sheaf may have no interval: then its stop is not above its start. Sheaves may lie one behind the other on
the same lines, in any order; their intervals are disjoint. Stocks are large: to cut changes them as they stand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from worker.field.lines import Floats, Lines, together
from worker.field.windows import Box, Shape, Window

ROWS = 64
"""Rows of a sheaf that are summed at once: they stay near the processor."""
Ends = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Sheaf:
    """Intervals (n, m) on the lines from ``first`` and ``second`` of the lattice's on, all of them within ``ends``."""

    first: int
    second: int
    start: Floats
    stop: Floats
    ends: Ends

    @property
    def box(self) -> Box:
        """The lines that it is about."""
        rows, columns = self.start.shape
        return slice(self.first, self.first + rows), slice(self.second, self.second + columns)


@dataclass(eq=False)
class Stock:
    """Metal on the lines of a lattice (``shape``)."""

    shape: Shape
    sheaves: tuple[Sheaf, ...]

    def lines(self) -> Lines:
        """The intervals one by one, sheaf by sheaf."""
        return together([one.lines(self.shape) for one in self.windows()])

    def windows(self) -> Iterator[Window]:
        """The intervals as windows."""
        return (Window(sheaf.box, sheaf.start, sheaf.stop) for sheaf in self.sheaves)

    def volume(self, first: Floats, second: Floats) -> float:
        """Sum of the lengths (mm3), each times the widths that its line stands for."""
        return float(sum(_volume(sheaf, first, second) for sheaf in self.sheaves))

    def copy(self) -> Stock:
        """Another one of the same."""
        return Stock(
            self.shape, tuple(Sheaf(b.first, b.second, b.start.copy(), b.stop.copy(), b.ends) for b in self.sheaves)
        )


def filled(windows: Iterable[Window], shape: Shape) -> Stock:
    """A stock that holds intervals which do not overlap."""
    return Stock(shape, tuple(_sheaf(one) for one in windows))


def _sheaf(window: Window) -> Sheaf:
    i, j = window.box
    size = i.stop - i.start, j.stop - j.start
    ends = float(window.start.min(initial=np.inf)), float(window.stop.max(initial=-np.inf))
    start, stop = (np.array(np.broadcast_to(one, size)) for one in (window.start, window.stop))
    return Sheaf(i.start, j.start, start, stop, ends)


def _volume(sheaf: Sheaf, first: Floats, second: Floats) -> float:
    i, j = sheaf.box
    found = np.empty(len(sheaf.start))
    for low in range(0, len(found), ROWS):
        some = slice(low, low + ROWS)
        lengths = sheaf.stop[some] - sheaf.start[some]
        np.maximum(lengths, 0.0, out=lengths)
        found[some] = np.einsum("ij,j->i", lengths, second[j])
    return float(np.sum(found * first[i]))
