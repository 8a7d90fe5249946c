"""A closer look at a setup: the field's lines beside the solid's own, line by line (mm, mm3).

Both are seen on the same lines, so the size of the cells cancels: what is left are the chords of the triangles. Metal
that only one of the two has shows as stretches of its own. A line that happens to run along a wall may fall on either
side of it: such lines stand in single rows, so only lines count that differ together with their neighbours both ways,
and none for much more than these do: about a round edge all lines differ by the chords.
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
from worker.field.lines import SHORTEST, Floats, Lines

COMPANY = 4.0
"""A line counts for this many times what the least of its neighbours holds, at most."""


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


def has_gaps(solid: Floats, sure: float) -> bool:
    """Whether lines may see more wrong metal than ``sure`` (mm3) through what a solid's triangles (n, 3, 3) leave out.

    The areas of a closed skin, each along its normal, add up to nothing (Gauss): what they lack is at least as large as
    that sum, and a line through it may see metal across all of the solid. The kernel may leave out a part of a face
    whose border has many edges of no length.
    """
    areas = np.cross(solid[:, 1] - solid[:, 0], solid[:, 2] - solid[:, 0]).sum(axis=0) / 2
    across = np.linalg.norm(np.ptp(solid.reshape(-1, 3), axis=0)) if len(solid) else 0.0
    return bool(np.linalg.norm(areas) * across > sure)


def _volume(lines: Lines, lattice: Lattice, axis: int, stairs: float) -> tuple[float, Vec3 | None]:
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
