"""The lattice of the field: cells whose borders lie in the part's planes, lines through the middles of cells (mm)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from worker.field.lines import Floats, spread

SAME_PLANE = LENGTH
"""Planes nearer than this are one (mm)."""
Three = tuple[Floats, Floats, Floats]


@dataclass(frozen=True)
class Lattice:
    """Cells along x, y and z: ``borders`` (n + 1 each); lines run along one axis through the middles of the others."""

    borders: Three
    middles: Three
    widths: Three

    def others(self, axis: int) -> tuple[int, int]:
        """The two axes across, in rising order: a line's number is ``first * len(second) + second``."""
        first, second = [a for a in range(3) if a != axis]
        return first, second

    def shape(self, axis: int) -> tuple[int, int]:
        """How many lines run along the axis, by the two axes across."""
        first, second = self.others(axis)
        return len(self.middles[first]), len(self.middles[second])

    def weights(self, axis: int) -> Floats:
        """Cross-section that each line along the axis stands for, mm2."""
        first, second = self.others(axis)
        return np.outer(self.widths[first], self.widths[second]).ravel()


def make_lattice(low: Floats, high: Floats, planes: tuple[Iterable[float], ...], h: float) -> Lattice:
    """Cells no wider than ``h`` between ``low`` and ``high``, with a border in each of the ``planes`` of each axis."""
    borders = tuple(_borders(float(low[a]), float(high[a]), planes[a], h, a) for a in range(3))
    middles = tuple((b[1:] + b[:-1]) / 2 for b in borders)
    widths = tuple(np.diff(b) for b in borders)
    return Lattice(borders, middles, widths)  # type: ignore[arg-type]


def _borders(low: float, high: float, planes: Iterable[float], h: float, more: int) -> Floats:
    """Borders of one axis. Each axis takes ``more`` cells to a piece, so that no slope of 45 degrees meets middles."""
    inside = sorted(p for p in planes if low + SAME_PLANE < p < high - SAME_PLANE)
    stops = [low]
    for p in [*inside, high]:
        if p - stops[-1] > SAME_PLANE:
            stops.append(p)
    low_ends, sizes = np.array(stops[:-1]), np.diff(stops)
    counts = np.maximum(np.ceil(sizes / h - COINCIDENT).astype(np.int64), 1) + np.where(sizes > 2 * h, more, 0)
    which, k = spread(np.zeros(len(counts), np.int64), counts)
    return np.append(low_ends[which] + k * (sizes / counts)[which], stops[-1])
