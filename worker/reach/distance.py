"""Distance of every column of a grid to a set of columns (exact Euclidean, up to a limit)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from worker.reach.raster import Floats, Ints, Mask

Squares = NDArray[np.unsignedinteger]
Gaps = NDArray[np.int32]


def distance(mask: Mask, h: float, limit: float) -> Floats:
    """Distance (mm) from each column to the nearest one of ``mask``; +inf beyond ``limit``; 0 inside."""
    return lengths(squares(mask, h, limit), h, limit)


def farther(mask: Mask, h: float, limit: float, least: float) -> Mask:
    """Which columns are ``least`` mm or more from the nearest one of ``mask``, or beyond ``limit`` from all.

    The same as asking :func:`distance`, without a root for each column.
    """
    squared = squares(mask, h, limit)
    below = _most(h, np.nextafter(least, -np.inf))
    return np.asarray(squared > min(below, _most(h, limit)))


def _most(h: float, limit: float) -> int:
    """The largest square in cells of which :func:`lengths` says that it lies within ``limit``; -1 where none does."""
    found = max(int((limit / h) ** 2), 0) if limit >= 0 else -1
    while found >= 0 and np.sqrt(float(found)) * h > limit:
        found -= 1
    while limit >= 0 and np.sqrt(float(found + 1)) * h <= limit:
        found += 1
    return found


def squares(mask: Mask, h: float, limit: float) -> Squares:
    """Squared distance, in cells, from each column to the nearest one of ``mask``; larger than any within ``limit``
    (mm) where none is so near.

    Along the rows it is found from the sorted members. Across them the squared distance is the lower envelope of
    parabolas; a parabola's rise from step n to n + 1 is 2 n + 1, so it grows by comparing neighbours only. All are
    whole numbers, in the narrowest words that hold them.
    """
    reach = int(np.ceil(limit / h)) + 1
    words = _words((reach + 1) ** 2 + 2 * reach)
    if not mask.any():
        return np.full(mask.shape, (reach + 1) ** 2, words)
    before, after = _along_rows(mask, reach)
    gap = np.minimum(np.minimum(before, after, out=before), reach + 1, out=before)
    squared = np.square(gap, out=gap).astype(words)
    _grown(squared, reach, 1)
    return squared


def lengths(squared: Squares, h: float, limit: float) -> Floats:
    """The distances (mm) of squares in cells; +inf beyond ``limit``."""
    found: Floats = np.sqrt(squared, dtype=np.float64)
    found *= h
    np.copyto(found, np.inf, where=found > limit)
    return found


def nearest(mask: Mask, h: float, limit: float) -> Ints:
    """Flat index of the nearest column of ``mask`` for each column, the first of equals; -1 beyond ``limit``.

    The same growth, of squared distance and name in one number.
    """
    reach = int(np.ceil(limit / h)) + 1
    if not mask.any():
        return np.full(mask.shape, -1, np.int64)
    before, after = _along_rows(mask, reach)
    places = np.arange(mask.size, dtype=np.int64).reshape(mask.shape)
    names = np.where(before <= after, places - before, places + after)
    gap = np.minimum(np.minimum(before, after), reach + 1).astype(np.int64)
    names[gap > reach] = 0
    bits = mask.size.bit_length()  # a name's room is a power of two: taken apart without a division
    words = _words(((reach + 1) ** 2 + 2 * reach + 1) << bits)
    keys = ((gap * gap << bits) + names).astype(words)
    _grown(keys, reach, 1 << bits)
    found: Ints = (keys & words((1 << bits) - 1)).astype(np.int64)
    found[(keys >> words(bits)) > _most(h, limit)] = -1
    return found


def _words(most: int) -> type[np.unsignedinteger]:
    """The narrowest words that hold numbers up to ``most``."""
    return next(kind for kind in (np.uint16, np.uint32, np.uint64) if most <= np.iinfo(kind).max)


def _grown(squared: Squares, reach: int, unit: int) -> None:
    """Lowers each column to the envelope of the parabolas that start in its cells; ``unit`` is a distance of one."""
    raised = np.empty_like(squared)
    for n in range(reach):
        np.add(squared, squared.dtype.type((2 * n + 1) * unit), out=raised)
        np.minimum(squared[1:], raised[:-1], out=squared[1:])
        np.minimum(squared[:-1], raised[1:], out=squared[:-1])


def _along_rows(mask: Mask, reach: int) -> tuple[Gaps, Gaps]:
    """Gaps in cells to the nearest member of the same row: before and after each column, itself included; more than
    ``reach`` where there is none so near.

    Rows are numbered as though that much room lay between them.
    """
    ny, nx = mask.shape
    places = np.arange(ny, dtype=np.int32)[:, None] * np.int32(nx + reach) + np.arange(nx, dtype=np.int32)
    members = np.flatnonzero(mask)
    theirs, far = np.take(places, members), np.int32(2 * places.size + 2 * ny * reach)
    before = np.repeat(np.append(-far, theirs), np.diff(members, prepend=0, append=mask.size))
    after = np.repeat(np.append(theirs, far), np.diff(members, prepend=-1, append=mask.size - 1))
    return np.subtract(places, before.reshape(ny, nx)), np.subtract(after.reshape(ny, nx), places)
