"""Distance of every column of a grid to a set of columns (exact Euclidean, up to a limit)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from worker.reach.raster import Floats, Ints, Mask

Squares = NDArray[np.unsignedinteger]
ALL = slice(None)


def distance(mask: Mask, h: float, limit: float) -> Floats:
    """Distance (mm) from each column to the nearest one of ``mask``; +inf beyond ``limit``; 0 inside."""
    return lengths(squares(mask, h, limit), h, limit)


def farther(mask: Mask, h: float, limit: float, least: float) -> Mask:
    """Which columns are ``least`` mm or more from the nearest one of ``mask``, or beyond ``limit`` from all.

    The same as asking :func:`distance`. No distance is worked out: a column is so far where in each row within reach
    the nearest member lies beyond the disc's half chord there.
    """
    nearer = min(_most(h, np.nextafter(least, -np.inf)), _most(h, limit))
    if nearer < 0:
        return np.ones(mask.shape, np.bool_)
    reach = math.isqrt(nearer)
    gap = _gaps(mask, reach)
    found: Mask = gap > reach
    for n in range(1, reach + 1):
        clear = gap > math.isqrt(nearer - n * n)
        np.logical_and(found[n:], clear[:-n], out=found[n:])
        np.logical_and(found[:-n], clear[n:], out=found[:-n])
    return found


def _most(h: float, limit: float) -> int:
    """The largest square in cells of which :func:`lengths` says that it lies within ``limit``; -1 where none does."""
    found = max(int((limit / h) ** 2), 0) if limit >= 0 else -1
    while found >= 0 and np.sqrt(float(found)) * h > limit:
        found -= 1
    while limit >= 0 and np.sqrt(float(found + 1)) * h <= limit:
        found += 1
    return found


def squares(mask: Mask, h: float, limit: float, rows: slice = ALL, columns: slice = ALL) -> Squares:
    """Squared distance, in cells, from each column to the nearest one of ``mask``; larger than any within ``limit``
    (mm) where none is so near. Only for a window of the map, ``rows`` and ``columns``, though members of all count.

    Across the rows the squared distance is the lower envelope of parabolas, which start in the rows with members: of
    few such rows it is taken parabola by parabola, of many it is grown. All are whole numbers, in narrow words.
    """
    reach = int(np.ceil(limit / h)) + 1
    squared = np.square(_gaps(mask, reach)[:, columns], dtype=_words(2 * (reach + 1) ** 2))
    starts = np.flatnonzero(mask.any(axis=1))
    if 2 * len(starts) < reach:
        _lowered(squared, starts, reach)
    else:
        _grown(squared, reach, 1, rows)
    return squared[rows]


def _lowered(squared: Squares, rows: Ints, reach: int) -> None:
    """Lowers each column to the envelope of the parabolas that start in the cells of some rows."""
    rise = np.square(np.arange(-reach, reach + 1)).astype(squared.dtype)
    for row, own in zip(rows.tolist(), squared[rows], strict=True):
        first, last = max(row - reach, 0), min(row + reach + 1, len(squared))
        near = squared[first:last]
        np.minimum(near, np.add.outer(rise[first - row + reach : last - row + reach], own), out=near)


def lengths(squared: Squares, h: float, limit: float) -> Floats:
    """The distances (mm) of squares in cells; +inf beyond ``limit``."""
    found: Floats = np.sqrt(squared, dtype=np.float64)
    found *= h
    np.copyto(found, np.inf, where=found > limit)
    return found


def nearest(mask: Mask, asked: Mask, h: float, limit: float) -> Ints:
    """Flat index of the nearest column of ``mask`` for each column of ``asked``, in their order: the first of equals,
    -1 beyond ``limit``.

    The same growth, of squared distance and row in one number; the row's own gap then tells which of its members.
    """
    if not mask.any():
        return np.full(np.count_nonzero(asked), -1, np.int64)
    reach = int(np.ceil(limit / h)) + 1
    gap, bits = _gaps(mask, reach), (2 * reach).bit_length()
    words = _words(((reach + 1) ** 2 + 2 * reach + 1) << bits)
    keys = (np.square(gap, dtype=words) << words(bits)) + words(reach)
    _grown(keys, reach, 1 << bits, row=1)
    (row, column), told = np.nonzero(asked), keys[asked]
    near = told >> words(bits) <= _most(h, limit)
    row, column = row[near] + (told[near] & words((1 << bits) - 1)).astype(np.int64) - reach, column[near]
    beside = gap[row, column].astype(np.int64)
    before = mask[row, np.maximum(column - beside, 0)] & (column >= beside)
    found = np.full(len(near), -1, np.int64)
    found[near] = row * mask.shape[1] + np.where(before, column - beside, column + beside)
    return found


def _words(most: int) -> type[np.unsignedinteger]:
    """The narrowest words that hold numbers up to ``most``."""
    return next(kind for kind in (np.uint8, np.uint16, np.uint32, np.uint64) if most <= np.iinfo(kind).max)


def _grown(values: Squares, reach: int, unit: int, wanted: slice = ALL, row: int = 0) -> None:
    """Lowers each column of the ``wanted`` rows to the envelope of the parabolas that start in its cells; ``unit`` is a
    distance of one, and ``row`` what a value grows by where it starts one row on.

    What is still to go tells how far off a row can matter: fewer and fewer are looked at.
    """
    first, last, _ = wanted.indices(len(values))
    kind, on, back = values.dtype.type, np.empty_like(values), np.empty_like(values)
    for n in range(reach):
        low, high = max(first - (reach - n), 0), min(last + (reach - n), len(values))
        here, rise = values[low:high], (2 * n + 1) * unit
        from_below = np.add(here, kind(rise - row), out=on[low:high])
        from_above = np.add(here, kind(rise + row), out=back[low:high]) if row else from_below
        np.minimum(here[1:], from_below[:-1], out=here[1:])
        np.minimum(here[:-1], from_above[1:], out=here[:-1])


def _gaps(mask: Mask, reach: int) -> Squares:
    """Gap in cells to the nearest member of the same row, ``reach`` + 1 where there is none so near.

    Gaps up to n give those up to 2 n + 1: a few passes over the map, whatever stands on it.
    """
    words = _words(2 * reach + 2)
    gap = np.where(mask, words(0), words(reach + 1))
    raised, known = np.empty_like(gap), 0
    while known < reach:
        step = known + 1
        np.add(gap, words(step), out=raised)
        np.minimum(gap[:, step:], raised[:, :-step], out=gap[:, step:])
        np.minimum(gap[:, :-step], raised[:, step:], out=gap[:, :-step])
        known += step
    return gap
