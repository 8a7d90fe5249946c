"""Cutting many lines at once: each sheaf of a stock is clipped on the window that a solid touches (mm).

Where all intervals of a window reach past a sheaf on one side, a cut moves one end of what is there. Elsewhere an
interval that begins before the window ends with it, and one that begins within it begins behind it; only where an
interval falls in two does a piece become part of a sheaf of its own. Nothing is sorted, and nothing is chosen one by
one: what holds for which line is a mask over the bits of its numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property, reduce

import numpy as np
from numpy.typing import NDArray

from worker.field.lines import SHORTEST, Floats, Mask
from worker.field.stock import Sheaf, Stock
from worker.field.windows import Box, Window, common, joined, part, span, within

TOGETHER = 1 << 15
"""Lines that are looked at together: what is worked out of them stays near the processor."""
STRIDE = 16
"""Of so many rows and columns one is looked at first."""
Bits = NDArray[np.int64]


def cut(stock: Stock, windows: Iterable[Window]) -> None:
    """Take out of a stock what is in any of the windows."""
    for one in windows:
        bite = _Bite(one)
        met = [sheaf for sheaf in stock.sheaves if bite.meets(sheaf)]
        stock.sheaves += tuple(piece for sheaf in met for piece in _clipped(sheaf, bite))
    stock.sheaves = tuple(sheaf for sheaf in stock.sheaves if _is_left(sheaf))


def _is_left(sheaf: Sheaf) -> bool:
    """True when a sheaf still has an interval: one of some, or any."""
    some = slice(None, None, STRIDE)
    return bool((sheaf.stop[some, some] > sheaf.start[some, some]).any() or (sheaf.stop > sheaf.start).any())


class _Bite:
    """A window as it moves ends: stops down to where it begins, starts up to where it ends.

    A line without an interval gets one that moves nothing: at infinity, on the side that matters.
    """

    def __init__(self, window: Window) -> None:
        self.box = window.box
        self._start, self._stop = window.start, window.stop
        self._low = float(window.start.min(initial=np.inf))
        self._high = float(window.stop.max(initial=-np.inf))

    def meets(self, sheaf: Sheaf) -> bool:
        """False when all of a sheaf lies beside it."""
        (i, j), (rows, columns) = self.box, sheaf.start.shape
        below, beyond = sheaf.first + rows, sheaf.second + columns
        across = i.start < below and sheaf.first < i.stop and j.start < beyond and sheaf.second < j.stop
        return across and self._low < sheaf.ends[1] and self._high > sheaf.ends[0]

    def passes_top(self, sheaf: Sheaf) -> bool:
        """True when no interval ends within a sheaf."""
        return self._least_stop >= sheaf.ends[1]

    def passes_bottom(self, sheaf: Sheaf) -> bool:
        """True when no interval begins within a sheaf."""
        return self._most_start <= sheaf.ends[0]

    @cached_property
    def _none(self) -> Mask:
        return self._stop - self._start <= SHORTEST

    @cached_property
    def _least_stop(self) -> float:
        one = self._stop.size == 1
        return float(self._stop.min() if one else np.min(self._stop, where=~self._none, initial=np.inf))

    @cached_property
    def _most_start(self) -> float:
        one = self._start.size == 1
        return float(self._start.max() if one else np.max(self._start, where=~self._none, initial=-np.inf))

    @cached_property
    def begin(self) -> Floats:
        """Where it begins."""
        return np.where(self._none, np.inf, self._start) if self._none.any() else self._start

    @cached_property
    def end(self) -> Floats:
        """Where it ends."""
        return np.where(self._none, np.inf, self._stop) if self._none.any() else self._stop

    @cached_property
    def begin_only(self) -> Floats:
        """Where it begins, above which nothing is left; with one stop for all, no interval begins up there."""
        return self._start if self._stop.size == 1 else self.begin

    @cached_property
    def end_only(self) -> Floats:
        """Where it ends, below which nothing is left."""
        return self._stop if self._start.size == 1 else np.where(self._none, -np.inf, self._stop)


def _clipped(sheaf: Sheaf, bite: _Bite) -> Iterator[Sheaf]:
    """Clip a sheaf; what is left above a bite where something is left below as well."""
    box = common(bite.box, sheaf.box)
    if box is None:
        return
    start, stop = (ends[within(box, sheaf.box)] for ends in (sheaf.start, sheaf.stop))
    here = within(box, bite.box)
    if bite.passes_top(sheaf):
        np.minimum(stop, part(bite.begin_only, here), out=stop)
    elif bite.passes_bottom(sheaf):
        np.maximum(start, part(bite.end_only, here), out=start)
    else:
        begin, end = part(bite.begin, here), part(bite.end, here)
        found = list(_parted(start, stop, box, begin, end))
        if found:
            yield _one_sheaf(found, (float(end.min()), sheaf.ends[1]))


def _parted(start: Floats, stop: Floats, box: Box, begin: Floats, end: Floats) -> Iterator[Window]:
    """Clip intervals in place, some rows at a time; the upper pieces of those that fall in two."""
    rows = max(TOGETHER // start.shape[1], 1)
    for low in range(0, len(start), rows):
        some = slice(low, low + rows)
        ends = (one if len(one) == 1 else one[some] for one in (begin, end))
        found = _middle(start[some], stop[some], *ends)
        if found is not None:
            yield _tight(box[0].start + low, box[1].start, *found)


def _middle(start: Floats, stop: Floats, begin: Floats, end: Floats) -> tuple[Bits, Floats, Floats] | None:
    """Clip intervals in place; of those that fall in two: which, and from where to where the upper pieces go."""
    below = start - (begin - SHORTEST)  # negative where something is left below
    if below.min() >= 0:
        np.maximum(start, end, out=start)
        return None
    split = _signs((end + SHORTEST - stop).view(np.int64) & below.view(np.int64))
    found = (split, _and(end, split), _and(stop, split)) if split.any() else None
    if below.max() < 0:
        np.minimum(stop, begin, out=stop)
    else:
        lower = _signs(below.view(np.int64))
        np.fmax(start, _unless(end, lower), out=start)
        np.fmin(stop, _unless(begin, ~lower), out=stop)
    return found


def _signs(numbers: Bits) -> Bits:
    """All bits of those that are negative, none of others."""
    return numbers >> 63


def _and(numbers: Floats, bits: Bits) -> Floats:
    """The numbers where there are bits, else 0."""
    return (numbers.view(np.int64) & bits).view(np.float64)


def _unless(numbers: Floats, bits: Bits) -> Floats:
    """The numbers where there are no bits, else none at all (nan)."""
    return (numbers.view(np.int64) | bits).view(np.float64)


def _tight(first: int, second: int, which: Bits, start: Floats, stop: Floats) -> Window:
    """Pieces as a window that is no larger than it has to be."""
    i, j = (span(np.flatnonzero(which.any(axis=axis))) for axis in (1, 0))
    box = slice(first + i.start, first + i.stop), slice(second + j.start, second + j.stop)
    return Window(box, start[i, j], stop[i, j])


def _one_sheaf(pieces: list[Window], ends: tuple[float, float]) -> Sheaf:
    """Windows on different lines as one sheaf."""
    if len(pieces) == 1:
        (i, j), start, stop = pieces[0].box, pieces[0].start, pieces[0].stop
        return Sheaf(i.start, j.start, start, stop, ends)
    whole = reduce(joined, (piece.box for piece in pieces))
    i, j = whole
    start, stop = np.zeros((2, i.stop - i.start, j.stop - j.start))
    for piece in pieces:
        start[within(piece.box, whole)], stop[within(piece.box, whole)] = piece.start, piece.stop
    return Sheaf(i.start, j.start, start, stop, ends)
