"""The tri-dexel field: lines along each axis of the part's frame, cut by solids that know their own lines (mm)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from worker.field.lattice import Lattice
from worker.field.lines import Floats, Lines, together
from worker.field.slots import Window, window, windows_of, without
from worker.field.surface import block_of, solid_lines

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
    return window(first, second, np.full((1, 1), low[axis]), np.full((1, 1), high[axis]))


@dataclass(frozen=True)
class Field:
    """Metal on a lattice: its intervals along x, y and z."""

    lattice: Lattice
    along: tuple[Lines, Lines, Lines]

    def volumes(self) -> tuple[float, float, float]:
        """The volume by each of the three sets of lines, mm3."""
        x, y, z = (self.along[a].total(self.lattice.weights(a)) for a in AXES)
        return x, y, z

    def without(self, solids: Sequence[Solid]) -> Field:
        """The field with all the solids cut away."""
        x, y, z = (without(self.along[a], self.lattice.shape(a), _windows(self.lattice, solids, a)) for a in AXES)
        return Field(self.lattice, (x, y, z))


def fill(lattice: Lattice, solids: Iterable[Solid]) -> Field:
    """A field that holds the solids, which do not overlap."""
    given = list(solids)
    x, y, z = (together([w.lines(lattice.shape(a)) for w in _windows(lattice, given, a)]) for a in AXES)
    return Field(lattice, (x, y, z))


def _windows(lattice: Lattice, solids: Iterable[Solid], axis: int) -> Iterator[Window]:
    return (one for solid in solids for one in solid.windows(lattice, axis))
