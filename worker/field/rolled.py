"""What a pointed cutter takes whose tip runs round a circle, or part of one (setup's frame, mm)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from worker.field.cones import Cone
from worker.field.lattice import Lattice
from worker.field.lines import Floats, Mask
from worker.field.view import View
from worker.field.windows import Window

PIECE = 2 * math.pi / 3
"""A bend is taken in pieces that turn no further (rad): less than half a turn lies on one side of both its ends."""


@dataclass(frozen=True, eq=False)
class Rolled:
    """The cone, and all over it up to ``top``, at all radii from ``near`` to ``far`` about (x, y), from the angle
    ``start`` on, counter-clockwise over ``turn`` (rad)."""

    view: View
    x: float
    y: float
    near: float
    far: float
    start: float
    turn: float
    cone: Cone
    tip: float
    top: float

    def windows(self, lattice: Lattice, axis: int) -> Iterator[Window]:
        """Upright an interval on each line over a piece; across one on either side of the middle."""
        count = max(math.ceil(self.turn / PIECE - 1e-9), 1)
        stops = np.linspace(self.start, self.start + self.turn, count + 1).tolist()
        local = self.view.axes.index(axis)
        for a, b in pairwise(stops):
            sides = ((-math.sin(a), math.cos(a)), (math.sin(b), -math.cos(b)))  # ahead of the one, before the other
            if local == 2:
                yield self._upright(lattice, sides)
            else:
                yield from self._across(lattice, local, sides)

    def _upright(self, lattice: Lattice, sides: tuple[tuple[float, float], ...]) -> Window:
        xs, ys = (self._middles(lattice, axis) for axis in (0, 1))
        (i, x), (j, y) = (self._within(at) for at in (xs, ys))
        r = np.hypot(x[:, None], y[None, :])
        off = np.maximum(np.maximum(self.near - r, r - self.far), 0.0)
        inside: Mask = off < self.cone.radius
        for a, b in sides:
            inside = inside & (a * x[:, None] + b * y[None, :] >= 0)
        low = self.tip + np.maximum(off - self.cone.blunt, 0.0) / self.cone.rise
        return self.view.window(lattice, 2, i, j, np.where(inside, low, self.top), np.full((1, 1), self.top))

    def _across(self, lattice: Lattice, local: int, sides: tuple[tuple[float, float], ...]) -> Iterator[Window]:
        zs = self.view.middles(lattice, 2)
        k = slice(int(np.searchsorted(zs, self.tip, side="right")), int(np.searchsorted(zs, self.top)))
        i, u = self._within(self._middles(lattice, 1 - local))
        wide = np.minimum(self.cone.blunt + (zs[k] - self.tip) * self.cone.rise, self.cone.radius)
        far, near = ((wide + self.far) ** 2, np.maximum(self.near - wide, 0.0) ** 2)
        outer, inner = (np.sqrt(np.maximum(square[None] - u[:, None] ** 2, 0.0)) for square in (far, near))
        least, most = self._between(local, u, sides)
        middle = (self.x, self.y)[local]
        for low, high in ((-outer, -inner), (inner, outer)):
            start, stop = np.maximum(low, least[:, None]), np.minimum(high, most[:, None])
            yield self.view.window(lattice, local, i, k, middle + start, middle + np.maximum(stop, start))

    def _between(self, local: int, u: Floats, sides: tuple[tuple[float, float], ...]) -> tuple[Floats, Floats]:
        """From where to where along lines so far beside the middle the piece goes."""
        least, most = np.full(len(u), -np.inf), np.full(len(u), np.inf)
        for side in sides:
            along, aside = side[local], side[1 - local]
            if along == 0:
                most = np.where(aside * u >= 0, most, -np.inf)
            elif along > 0:
                least = np.maximum(least, -aside * u / along)
            else:
                most = np.minimum(most, -aside * u / along)
        reach = 2 * (self.far + self.cone.radius)
        return np.clip(least, -reach, reach), np.clip(most, -reach, reach)

    def _middles(self, lattice: Lattice, axis: int) -> Floats:
        return self.view.middles(lattice, axis) - (self.x, self.y)[axis]

    def _within(self, at: Floats) -> tuple[slice, Floats]:
        """The places within reach of the middle."""
        reach = self.far + self.cone.radius
        own = slice(int(np.searchsorted(at, -reach, side="right")), int(np.searchsorted(at, reach)))
        return own, at[own]
