"""Distance of every column of a grid to a set of columns (exact Euclidean, up to a limit)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from worker.reach.raster import Floats, Ints, Mask

Squares = NDArray[np.float32]
FAR = np.float32(1e12)


def distance(mask: Mask, h: float, limit: float) -> Floats:
    """Distance (mm) from each column to the nearest one of ``mask``; +inf beyond ``limit``; 0 inside.

    Along the rows it is found by running maxima. Across them the squared distance is the lower envelope of
    parabolas; a parabola's rise from step n to n + 1 is 2 n + 1, so it grows by comparing neighbours only.
    """
    reach = int(np.ceil(limit / h)) + 1
    gap, _ = _along_rows(mask)
    squared = _squares(gap, reach)
    for n in range(reach):
        raised = squared + np.float32(2 * n + 1)
        np.minimum(squared[1:], raised[:-1], out=squared[1:])
        np.minimum(squared[:-1], raised[1:], out=squared[:-1])
    return _lengths(squared, h, limit)


def nearest(mask: Mask, h: float, limit: float) -> Ints:
    """Flat index of the nearest column of ``mask`` for each column; -1 beyond ``limit``."""
    reach = int(np.ceil(limit / h)) + 1
    gap, column = _along_rows(mask)
    squared = _squares(gap, reach)
    name: Ints = np.arange(mask.shape[0])[:, None] * mask.shape[1] + column
    for n in range(reach):
        raised, names = squared + np.float32(2 * n + 1), name.copy()
        _take(squared[1:], name[1:], raised[:-1], names[:-1])
        _take(squared[:-1], name[:-1], raised[1:], names[1:])
    name[~np.isfinite(_lengths(squared, h, limit))] = -1
    return name


def _take(kept: Squares, names: Ints, offered: Squares, offered_names: Ints) -> None:
    better = offered < kept
    np.copyto(kept, offered, where=better)
    np.copyto(names, offered_names, where=better)


def _along_rows(mask: Mask) -> tuple[Squares, Ints]:
    """Gap in cells to the nearest member of the same row, and that member's column."""
    columns = np.arange(mask.shape[1], dtype=np.float32)
    far = np.float32(-1e6)
    left = np.maximum.accumulate(np.where(mask, columns, far), axis=1)
    right = -np.maximum.accumulate(np.where(mask, -columns, far)[:, ::-1], axis=1)[:, ::-1]
    nearer_left = columns - left <= right - columns
    return np.minimum(columns - left, right - columns), np.where(nearer_left, left, right).astype(np.int64)


def _squares(gap: Squares, reach: int) -> Squares:
    squared = gap * gap
    squared[gap > reach] = FAR
    return squared


def _lengths(squared: Squares, h: float, limit: float) -> Floats:
    result = np.sqrt(squared, dtype=np.float64)
    result *= h
    result[result > limit] = np.inf
    return result
