"""A closer look at a setup: the field's lines beside the solid's own, line by line (mm, mm3).

Both are seen on the same lines, so the size of the cells cancels: what is left are the chords of the triangles. Metal
that only one of the two has shows as stretches of its own; a lump of some size shows on all three sets of lines, while
a line that happens to run along a wall may fall on either side of it in one set alone. So of the three sets the one
with the least difference counts, for metal that only the solid has and for metal that only the field has.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from schemas.base import Vec3
from worker.field.field import AXES, Field, Mesh
from worker.field.lattice import Lattice
from worker.field.lines import Floats, Lines, subtract


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


def compare(field: Field, solid: Floats) -> Apart:
    """The field beside the solid's triangles (n, 3, 3)."""
    own = Mesh(solid)
    left, more = [], []
    for axis in AXES:
        lines = own.lines(field.lattice, axis)
        more.append(_volume(subtract(field.along[axis], lines), field.lattice, axis))
        left.append(_volume(subtract(lines, field.along[axis]), field.lattice, axis))
    field_only, solid_only = min(more, key=lambda v: v[0]), min(left, key=lambda v: v[0])
    most = field_only if field_only[0] >= solid_only[0] else solid_only
    return Apart(field_only[0], solid_only[0], most[1])


def _volume(lines: Lines, lattice: Lattice, axis: int) -> tuple[float, Vec3 | None]:
    """Volume of stretches, and the middle of the one that holds most."""
    if not len(lines):
        return 0.0, None
    each = (lines.stop - lines.start) * lattice.weights(axis)[lines.line]
    top = int(np.argmax(each))
    first, second = lattice.others(axis)
    row, column = divmod(int(lines.line[top]), len(lattice.middles[second]))
    at = [0.0, 0.0, 0.0]
    at[axis] = float(lines.start[top] + lines.stop[top]) / 2
    at[first], at[second] = float(lattice.middles[first][row]), float(lattice.middles[second][column])
    return float(each.sum()), (at[0], at[1], at[2])
