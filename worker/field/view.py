"""A setup's axes on the lattice: which axis of the part each one is, which way it runs, and the way back (mm)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from schemas.base import Frame, Vec3
from worker.field.lattice import Lattice
from worker.field.lines import Floats
from worker.field.windows import Window

ALIGNED = 1e-9


@dataclass(frozen=True)
class View:
    """Axis ``a`` of the setup runs along axis ``axes[a]`` of the part, ``signs[a]`` tells which way; origin in mm."""

    axes: tuple[int, int, int]
    signs: tuple[int, int, int]
    origin: Vec3

    def middles(self, lattice: Lattice, axis: int) -> Floats:
        """The lattice's cell middles along an axis of the setup, rising."""
        part_axis = self.axes[axis]
        at = self.signs[axis] * (lattice.middles[part_axis] - self.origin[part_axis])
        return at if self.signs[axis] > 0 else at[::-1]

    def top_of(self, lattice: Lattice) -> float:
        """The setup's height of the lattice's upper end."""
        part_axis = self.axes[2]
        ends = lattice.borders[part_axis][[0, -1]]
        return float((self.signs[2] * (ends - self.origin[part_axis])).max())

    def to_setup(self, points: Floats) -> Floats:
        """Points (..., 3) of the part's frame, in the setup's."""
        moved = points - np.array(self.origin)
        return np.stack([self.signs[a] * moved[..., self.axes[a]] for a in range(3)], axis=-1)

    def to_part(self, points: Floats) -> Floats:
        """Points (..., 3) of the setup's frame, in the part's."""
        found = np.empty_like(points)
        for a in range(3):
            found[..., self.axes[a]] = self.signs[a] * points[..., a]
        return np.asarray(found + np.array(self.origin), dtype=np.float64)

    def window(self, lattice: Lattice, axis: int, ib: slice, ic: slice, start: Floats, stop: Floats) -> Window:
        """Intervals along an axis of the setup as the lattice numbers them; none where ``stop`` is not above ``start``.

        ``ib`` and ``ic`` count the rising middles of the setup's two other axes, in rising order of those axes;
        ``start`` and ``stop`` have two dimensions and broadcast over both.
        """
        (b, c), sign, origin = [a for a in range(3) if a != axis], self.signs[axis], self.origin[self.axes[axis]]
        ends = (start, stop) if sign > 0 else (-stop, -start)
        turned = (end[:: self.signs[b], :: self.signs[c]] for end in ends)
        low, high = (end + origin if origin else end for end in turned)
        first, second = self._back(lattice, b, ib), self._back(lattice, c, ic)
        if self.axes[b] < self.axes[c]:
            return Window((first, second), low, high)
        return Window((second, first), low.T, high.T)

    def _back(self, lattice: Lattice, axis: int, places: slice) -> slice:
        if self.signs[axis] > 0:
            return places
        count = len(lattice.middles[self.axes[axis]])
        return slice(count - places.stop, count - places.start)


def view_of(frame: Frame) -> View | None:
    """The view of a setup whose axes run along the part's; None for a tilted one."""
    axes, signs = [], []
    for direction in (frame.x, frame.y, frame.z):
        axis = max(range(3), key=lambda a: abs(direction[a]))
        if abs(direction[axis]) < 1 - ALIGNED:
            return None
        axes.append(axis)
        signs.append(1 if direction[axis] > 0 else -1)
    return View(tuple(axes), tuple(signs), frame.location)  # type: ignore[arg-type]
