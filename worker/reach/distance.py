"""Distance of every column of a grid to a set of columns (exact Euclidean, up to a limit)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from worker.reach.raster import Floats, Ints, Mask

Squares = NDArray[np.float32]
Names = NDArray[np.int32]
FAR = np.float32(1e12)


def distance(mask: Mask, h: float, limit: float) -> Floats:
    """Distance (mm) from each column to the nearest one of ``mask``; +inf beyond ``limit``; 0 inside.

    Along the rows it is found by running maxima. Across them the squared distance is the lower envelope of
    parabolas; a parabola's rise from step n to n + 1 is 2 n + 1, so it grows by comparing neighbours only.
    """
    reach = int(np.ceil(limit / h)) + 1
    before, after = _along_rows(mask)
    squared = _squares(np.minimum(before, after, out=before), reach)
    raised = np.empty_like(squared)
    for n in range(reach):
        np.add(squared, np.float32(2 * n + 1), out=raised)
        np.minimum(squared[1:], raised[:-1], out=squared[1:])
        np.minimum(squared[:-1], raised[1:], out=squared[:-1])
    return _lengths(squared, h, limit)


def nearest(mask: Mask, h: float, limit: float) -> Ints:
    """Flat index of the nearest column of ``mask`` for each column; -1 beyond ``limit``."""
    reach = int(np.ceil(limit / h)) + 1
    before, after = _along_rows(mask)
    columns = np.arange(mask.shape[1], dtype=np.float32)
    column = np.where(before <= after, columns - before, columns + after).astype(np.int32)
    squared = _squares(np.minimum(before, after, out=before), reach)
    name = np.arange(mask.shape[0], dtype=np.int32)[:, None] * np.int32(mask.shape[1]) + column
    raised, names = np.empty_like(squared), np.empty_like(name)
    for n in range(reach):
        np.add(squared, np.float32(2 * n + 1), out=raised)
        np.copyto(names, name)
        nearer = _take(squared[1:], name[1:], raised[:-1], names[:-1])
        if not _take(squared[:-1], name[:-1], raised[1:], names[1:]) and not nearer:
            break  # what comes from farther off rises faster still
    found: Ints = name.astype(np.int64)
    found[~np.isfinite(_lengths(squared, h, limit))] = -1
    return found


def _take(kept: Squares, names: Names, offered: Squares, offered_names: Names) -> bool:
    """Keep what is nearer; True where anything was."""
    better = offered < kept
    np.copyto(kept, offered, where=better)
    np.copyto(names, offered_names, where=better)
    return bool(better.any())


def _along_rows(mask: Mask) -> tuple[Squares, Squares]:
    """Gaps in cells to the nearest member of the same row: before and after each column, itself included."""
    columns = np.arange(mask.shape[1], dtype=np.float32)
    far = np.float32(-1e6)
    before = np.maximum.accumulate(np.where(mask, columns, far), axis=1)
    after = np.maximum.accumulate(np.where(mask, -columns, far)[:, ::-1], axis=1)[:, ::-1]
    return np.subtract(columns, before, out=before), -(after + columns)


def _squares(gap: Squares, reach: int) -> Squares:
    squared = gap * gap
    squared[gap > reach] = FAR
    return squared


def _lengths(squared: Squares, h: float, limit: float) -> Floats:
    result = np.sqrt(squared, dtype=np.float64)
    result *= h
    result[result > limit] = np.inf
    return result
