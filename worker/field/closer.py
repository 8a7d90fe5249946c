"""A closer look at a setup: the field's lines beside the solid's own, line by line (mm, mm3).

Both are seen on the same lines, so the size of the cells cancels: what is left are the chords of the triangles. Metal
that only one of the two has shows as stretches of its own. A line that happens to run along a wall may fall on either
side of it: such lines stand in single rows, so only lines count that differ together with their neighbours both ways.
Of the three sets the one with the largest difference counts: a thin layer may lie between the lines along it, and is
met by all lines across it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from schemas.base import Vec3
from worker.field.field import Field, Mesh, fill
from worker.field.lattice import Lattice
from worker.field.lines import Floats, Lines, Mask


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
    own = fill(field.lattice, [Mesh(solid)])
    more = [_volume(s.lines(), field.lattice, a, stairs[a]) for a, s in enumerate(field.without([own]).stocks)]
    left = [_volume(s.lines(), field.lattice, a, stairs[a]) for a, s in enumerate(own.without([field]).stocks)]
    field_only, solid_only = max(more, key=lambda v: v[0]), max(left, key=lambda v: v[0])
    most = field_only if field_only[0] >= solid_only[0] else solid_only
    return Apart(field_only[0], solid_only[0], most[1])


def _volume(lines: Lines, lattice: Lattice, axis: int, stairs: float) -> tuple[float, Vec3 | None]:
    """Volume of stretches that do not stand alone, less the stairs, and the middle of the one that holds most."""
    first, second = lattice.others(axis)
    shape = len(lattice.middles[first]), len(lattice.middles[second])
    lines = lines.where(_in_company(lines, shape)[lines.line])
    if not len(lines):
        return 0.0, None
    each = (lines.stop - lines.start) * lattice.weights(axis)[lines.line]
    top = int(np.argmax(each))
    row, column = divmod(int(lines.line[top]), shape[1])
    at = [0.0, 0.0, 0.0]
    at[axis] = float(lines.start[top] + lines.stop[top]) / 2
    at[first], at[second] = float(lattice.middles[first][row]), float(lattice.middles[second][column])
    return max(float(each.sum()) - stairs, 0.0), (at[0], at[1], at[2])


def _in_company(lines: Lines, shape: tuple[int, int]) -> Mask:
    """Which lines of the lattice are one of four neighbours in a square that all have stretches."""
    has = np.zeros(shape[0] * shape[1], bool)
    has[lines.line] = True
    has = has.reshape(shape)
    four = has[1:, 1:] & has[1:, :-1] & has[:-1, 1:] & has[:-1, :-1]
    kept = np.zeros(shape, bool)
    for a in (slice(1, None), slice(None, -1)):
        for b in (slice(1, None), slice(None, -1)):
            kept[a, b] |= four
    return kept.ravel()
