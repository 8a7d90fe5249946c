"""The union of equal discs about points of which many stand in rows along the scan lines or square to them (mm).

Points of a border along a straight wall do: of a row's hundreds of chords on one line all but one lie within another,
or they hang together from the row's first to its last. Rows are told by those alone; the union is the same.
"""

from __future__ import annotations

import numpy as np

from worker.field.lines import NONE, Floats, Ints, Lines, Mask, spread, together, union
from worker.field.plane import discs

FEW = 4
"""A row has more points than these."""
WIDE = 0.5
"""And no gap wider than this, in radii, where it runs along the lines."""


def covered(centre: Floats, across: Floats, radius: float, at: Floats) -> Lines:
    """What discs about points (n,), ``centre`` along scan lines and ``across`` square to them, cover of the lines."""
    order = np.lexsort((across, centre))
    first, last, rest = _rows(order, np.diff(centre[order]) == 0.0)
    square = _square(centre[order][first], across[order], first, last, radius, at)
    order = rest[np.lexsort((centre[rest], across[rest]))]
    near = (np.diff(across[order]) == 0.0) & (np.diff(centre[order]) <= WIDE * radius)
    first, last, rest = _rows(order, near)
    along = _along(centre[order], across[order][first], first, last, radius, at)
    return union(together((square, along, discs(centre[rest], across[rest], radius, at))))


def _rows(order: Ints, joined: Mask) -> tuple[Ints, Ints, Ints]:
    """First and last place of each row in an order in which some follow ``joined``; the numbers that stand in none."""
    starts = np.flatnonzero(np.concatenate(([True], ~joined))) if len(order) else np.zeros(0, np.int64)
    count = np.diff(np.append(starts, len(order)))
    long = count > FEW
    return starts[long], (starts + count)[long] - 1, order[np.repeat(~long, count)]


def _square(centre: Floats, u: Floats, first: Ints, last: Ints, radius: float, at: Floats) -> Lines:
    """Chords of rows that run from line to line: the point nearest to a line has the one that holds the others."""
    which, line = spread(np.searchsorted(at, u[first] - radius), np.searchsorted(at, u[last] + radius))
    if not len(which):
        return NONE
    low, span = float(u.min()), float(np.ptp(u)) + 1.0
    row = np.repeat(np.arange(len(first)), last - first + 1)
    mine = spread(first, last + 1)[1]
    keys, place = row * span + (u[mine] - low), at[line]
    inside = np.clip(place, u[first][which], u[last][which])
    after = np.searchsorted(keys, which * span + (inside - low))
    ahead = np.cumsum(last - first + 1) - 1  # the last key of each row
    after = np.clip(after, (ahead - (last - first))[which], ahead[which])
    before = np.maximum(after - 1, (ahead - (last - first))[which])
    off = np.minimum(np.abs(place - u[mine][after]), np.abs(place - u[mine][before]))
    half = np.sqrt(np.maximum(radius**2 - off**2, 0.0))
    found = Lines(line, centre[which] - half, centre[which] + half)
    return found.where(half > 0.0)


def _along(v: Floats, across: Floats, first: Ints, last: Ints, radius: float, at: Floats) -> Lines:
    """Chords of rows that run along a line's direction: where they are longer than the gaps, one from end to end."""
    which, line = spread(np.searchsorted(at, across - radius), np.searchsorted(at, across + radius))
    if not len(which):
        return NONE
    half = np.sqrt(np.maximum(radius**2 - (at[line] - across[which]) ** 2, 0.0))
    gaps = np.maximum.reduceat(np.append(np.diff(v), 0.0), np.stack((first, last), axis=1).ravel())[::2]
    long = 2 * half >= gaps[which]
    whole = Lines(line[long], v[first[which[long]]] - half[long], v[last[which[long]]] + half[long])
    which, line, half = which[~long], line[~long], half[~long]
    one, each = spread(first[which], last[which] + 1)
    return together((whole, Lines(line[one], v[each] - half[one], v[each] + half[one])))
