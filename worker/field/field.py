"""The tri-dexel field: lines along each axis of the part's frame, cut by solids that know their own lines (mm)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from worker.field.clip import cut
from worker.field.lattice import Lattice
from worker.field.lines import Floats, Lines
from worker.field.stock import Stock, filled
from worker.field.surface import block_of, solid_lines
from worker.field.windows import Window, windows_of

AXES = (0, 1, 2)


class Solid(Protocol):
    """Something that can be cut away: its intervals on the lattice's lines along an axis of the part's frame."""

    def windows(self, lattice: Lattice, axis: int) -> Iterator[Window]:
        """Windows of intervals, overlapping or not."""
        ...


@dataclass(frozen=True, eq=False)
class Mesh:
    """A solid given by its closed triangles (n, 3, 3), outward, in the part's frame."""

    triangles: Floats

    def lines(self, lattice: Lattice, axis: int) -> Lines:
        """Where the lines run inside."""
        return solid_lines(self.triangles, lattice, axis)

    def windows(self, lattice: Lattice, axis: int) -> Iterator[Window]:
        """The same as windows; of a block without a look at its triangles."""
        block = block_of(self.triangles)
        if block is None:
            yield from windows_of(self.lines(lattice, axis), lattice.shape(axis))
        else:
            yield _through(block, lattice, axis)


def _through(block: tuple[Floats, Floats], lattice: Lattice, axis: int) -> Window:
    """The lines that run through a block."""
    low, high = block
    first, second = (
        slice(*np.searchsorted(lattice.middles[a], (low[a], high[a])).tolist()) for a in lattice.others(axis)
    )
    return Window((first, second), np.full((1, 1), low[axis]), np.full((1, 1), high[axis]))


@dataclass(frozen=True, eq=False)
class Field:
    """Metal on a lattice: what its lines along x, y and z hold."""

    lattice: Lattice
    stocks: tuple[Stock, Stock, Stock]

    @property
    def along(self) -> tuple[Lines, Lines, Lines]:
        """The intervals along x, y and z, one by one."""
        x, y, z = (stock.lines() for stock in self.stocks)
        return x, y, z

    def volumes(self) -> tuple[float, float, float]:
        """The volume by each of the three sets of lines, mm3."""
        x, y, z = (self.volume(axis) for axis in AXES)
        return x, y, z

    def volume(self, axis: int) -> float:
        """The volume by the lines along one axis, mm3."""
        first, second = self.lattice.others(axis)
        return self.stocks[axis].volume(self.lattice.widths[first], self.lattice.widths[second])

    def windows(self, lattice: Lattice, axis: int) -> Iterator[Window]:
        """Its own intervals: a field can be cut away from another one on the same lattice."""
        return self.stocks[axis].windows()

    def cut(self, solids: Sequence[Solid]) -> None:
        """Cut all the solids away."""
        for axis in AXES:
            cut(self.stocks[axis], _windows(self.lattice, solids, axis))

    def without(self, solids: Sequence[Solid]) -> Field:
        """Another field with all the solids cut away."""
        x, y, z = (stock.copy() for stock in self.stocks)
        found = Field(self.lattice, (x, y, z))
        found.cut(solids)
        return found


def fill(lattice: Lattice, solids: Iterable[Solid]) -> Field:
    """A field that holds the solids, which do not overlap."""
    given = list(solids)
    x, y, z = (filled(_windows(lattice, given, a), lattice.shape(a)) for a in AXES)
    return Field(lattice, (x, y, z))


def _windows(lattice: Lattice, solids: Iterable[Solid], axis: int) -> Iterator[Window]:
    return (one for solid in solids for one in solid.windows(lattice, axis))
