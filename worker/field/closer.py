"""A closer look at a setup: the field's lines beside the solid's own, line by line (mm, mm3).

Both are seen on the same lines, so the size of the cells cancels: what is left are the chords of the triangles. Metal
that only one of the two has shows as stretches of its own. A line that happens to run along a wall may fall on either
side of it: such lines stand in single rows, so only lines count that differ together with their neighbours both ways,
and none for much more than these do: about a round edge all lines differ by the chords.
Of the three sets the one with the largest difference counts: a thin layer may lie between the lines along it, and is
met by all lines across it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from schemas.base import Vec3
from worker.field.clip import cut
from worker.field.field import AXES, Field, Mesh
from worker.field.lattice import Lattice
from worker.field.lines import SHORTEST, Floats, Lines, together
from worker.field.stock import Stock, filled
from worker.field.windows import Box, Shape, Window, common, windows_of, within

BAND = 1 << 13
"""Lines that are compared together."""
COMPANY = 4.0
"""A line counts for this many times what the least of its neighbours holds, at most."""


Most = tuple[float, Vec3 | None]
"""A volume (mm3) and a point in the stretch that holds most of it."""


@dataclass(frozen=True)
class Apart:
    """Volumes (mm3) that only the field and only the solid have, and a point in the larger lump (part's frame)."""

    field_only: float
    solid_only: float
    at: Vec3 | None

    @property
    def most(self) -> float:
        """Signed as field less solid: the larger of the two."""
        return self.field_only if self.field_only >= self.solid_only else -self.solid_only


def compare(field: Field, solid: Floats, stairs: Sequence[float] = (0.0, 0.0, 0.0)) -> Apart:
    """The field beside the solid's triangles (n, 3, 3); ``stairs`` is what each set of lines is off by anyway (mm3)."""
    mesh = Mesh(solid)
    more, left = zip(*(_beside(field, mesh, axis, stairs[axis]) for axis in AXES), strict=True)
    field_only, solid_only = max(more, key=lambda v: v[0]), max(left, key=lambda v: v[0])
    most = field_only if field_only[0] >= solid_only[0] else solid_only
    return Apart(field_only[0], solid_only[0], most[1])


def _beside(field: Field, solid: Mesh, axis: int, stairs: float) -> tuple[Most, Most]:
    """What only the field and only the solid have on the lines along one axis.

    One axis after the other, and a band of lines after the other: where a plate has thousands of ribs and holes, the
    dense windows of all lines at once take gigabytes.
    """
    lattice = field.lattice
    shape = lattice.shape(axis)
    own = solid.lines(lattice, axis)
    rows = max(BAND // max(shape[1], 1), 1)
    bands = [slice(low, min(low + rows, shape[0])) for low in range(0, shape[0], rows)]
    pairs = [_apart_in(field.stocks[axis], own, band, shape) for band in bands]
    more, left = (together([pair[k] for pair in pairs]) for k in (0, 1))
    return _volume(more, lattice, axis, stairs), _volume(left, lattice, axis, stairs)


def _apart_in(stock: Stock, own: Lines, band: slice, shape: Shape) -> tuple[Lines, Lines]:
    """What only a stock has, and only a solid's own lines, on the lines of a band of rows."""
    theirs = list(_within(stock, (band, slice(0, shape[1]))))
    first, last = band.start * shape[1], band.stop * shape[1]
    mine = list(windows_of(own.where((own.line >= first) & (own.line < last)), shape))
    more, left = filled(theirs, shape), filled(mine, shape)
    cut(more, mine)
    cut(left, theirs)
    return more.lines(), left.lines()


def _within(stock: Stock, box: Box) -> Iterator[Window]:
    """The intervals of a stock on the lines of a rectangle, as windows."""
    for one in stock.windows():
        here = common(one.box, box)
        if here is not None:
            inside = within(here, one.box)
            yield Window(here, one.start[inside], one.stop[inside])


def has_gaps(solid: Floats, sure: float) -> bool:
    """Whether lines may see more wrong metal than ``sure`` (mm3) through what a solid's triangles (n, 3, 3) leave out.

    The areas of a closed skin, each along its normal, add up to nothing (Gauss): what they lack is at least as large as
    that sum, and a line through it may see metal across all of the solid. The kernel may leave out a part of a face
    whose border has many edges of no length.
    """
    areas = np.cross(solid[:, 1] - solid[:, 0], solid[:, 2] - solid[:, 0]).sum(axis=0) / 2
    across = np.linalg.norm(np.ptp(solid.reshape(-1, 3), axis=0)) if len(solid) else 0.0
    return bool(np.linalg.norm(areas) * across > sure)


def _volume(lines: Lines, lattice: Lattice, axis: int, stairs: float) -> Most:
    """Volume of stretches that do not stand alone, less the stairs, and the middle of the one that holds most."""
    first, second = lattice.others(axis)
    shape = len(lattice.middles[first]), len(lattice.middles[second])
    share = _share(lines, shape)[lines.line]
    lines, share = lines.where(share > 0.0), share[share > 0.0]
    if not len(lines):
        return 0.0, None
    each = (lines.stop - lines.start) * lattice.weights(axis)[lines.line] * share
    top = int(np.argmax(each))
    row, column = divmod(int(lines.line[top]), shape[1])
    at = [0.0, 0.0, 0.0]
    at[axis] = float(lines.start[top] + lines.stop[top]) / 2
    at[first], at[second] = float(lattice.middles[first][row]), float(lattice.middles[second][column])
    return max(float(each.sum()) - stairs, 0.0), (at[0], at[1], at[2])


def _share(lines: Lines, shape: tuple[int, int]) -> Floats:
    """The share of each line of the lattice that counts: none but of four neighbours in a square that all differ."""
    found = lines.lengths(shape[0] * shape[1]).reshape(shape)
    least = np.minimum.reduce([found[1:, 1:], found[1:, :-1], found[:-1, 1:], found[:-1, :-1]])
    kept = np.zeros(shape)
    for a in (slice(1, None), slice(None, -1)):
        for b in (slice(1, None), slice(None, -1)):
            kept[a, b] = np.maximum(kept[a, b], least)
    return np.minimum(COMPANY * kept / np.maximum(found, SHORTEST), 1.0).ravel()
