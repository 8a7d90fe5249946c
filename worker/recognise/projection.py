"""A part's triangles as they lie in the plane square to a direction, with the boxes that find who is near whom."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, cross, dot, unit
from schemas.tolerances import SIGHT_CURVED
from worker.recognise.patches import PartShape

Array = NDArray[np.float64]
Index = NDArray[np.intp]

BLOCK = 16
"""So many covering triangles, one after the other as the mesh has them, share a box to be asked first."""


@dataclass(eq=False)
class View:
    """The triangles of a part in the plane square to a direction; what it takes to see that is made when asked for."""

    shape: PartShape
    direction: Vec3

    @cached_property
    def frame(self) -> tuple[Vec3, Vec3]:
        """Two directions that span the plane."""
        return _basis(self.direction)

    @cached_property
    def facing(self) -> Array:
        """Cosine between each triangle's normal and the direction."""
        return np.asarray(self.shape.normals @ np.array(self.direction))

    @cached_property
    def least(self) -> Array:
        """The least of these cosines of each patch; 1 for one without triangles."""
        return self.shape.of_patches(np.minimum, self.facing, 1.0)

    @cached_property
    def cover(self) -> Index:
        """The triangles that look away: what stands in the way meets the line of sight with one of them."""
        return np.flatnonzero(self.facing < -SIGHT_CURVED)

    @cached_property
    def _flat(self) -> tuple[Array, Array]:
        return self.shape.along(self.frame[0]), self.shape.along(self.frame[1])

    def flat(self, triangles: Index | int) -> Array:
        """Corners of some triangles in the plane, (n, 3, 2)."""
        x, y = self._flat
        return np.stack([x[triangles], y[triangles]], axis=-1)

    def outward(self, triangles: Index) -> Array:
        """Their normals in the plane, (n, 2)."""
        return np.asarray(self.shape.normals[triangles] @ np.array(self.frame).T)

    @cached_property
    def heights(self) -> Array:
        """Heights of the corners along the direction, (n, 3)."""
        return self.shape.along(self.direction)

    @cached_property
    def low(self) -> Array:
        """Lower corner of each triangle's box in the plane, (n, 2)."""
        return np.stack([across(np.minimum, c) for c in self._flat], axis=1)

    @cached_property
    def high(self) -> Array:
        """Upper corner of each triangle's box in the plane, (n, 2)."""
        return np.stack([across(np.maximum, c) for c in self._flat], axis=1)

    @cached_property
    def bottom(self) -> Array:
        """Least height of each triangle."""
        return across(np.minimum, self.heights)

    @cached_property
    def top(self) -> Array:
        """Greatest height of each triangle."""
        return across(np.maximum, self.heights)

    @cached_property
    def _blocks(self) -> tuple[Array, Array, Array]:
        """Boxes of the covering triangles, BLOCK by BLOCK: lower and upper corner (m, 2), greatest height."""
        starts = np.arange(0, len(self.cover), BLOCK)
        return (
            np.minimum.reduceat(self.low[self.cover], starts),
            np.maximum.reduceat(self.high[self.cover], starts),
            np.maximum.reduceat(self.top[self.cover], starts),
        )

    @cached_property
    def _boxes(self) -> tuple[Array, Array]:
        """What a box must reach over to be near: of all blocks, and BLOCK blocks by BLOCK blocks, (5, m)."""
        least, most, top = self._blocks
        rows = np.stack([-least[:, 0], -least[:, 1], most[:, 0], most[:, 1], top])
        return rows, np.maximum.reduceat(rows, np.arange(0, rows.shape[1], BLOCK), axis=1)

    def near(self, low: Array, high: Array, bottom: float) -> Index:
        """Covering triangles, among them all that reach over a height within a box of the plane."""
        rows, coarse = self._boxes
        limits = np.array([[-high[0]], [-high[1]], [low[0]], [low[1]], [bottom]])
        blocks = _within(np.flatnonzero((coarse > limits).all(axis=0)), rows.shape[1])
        return np.asarray(self.cover[_within(blocks[(rows[:, blocks] > limits).all(axis=0)], len(self.cover))])


def _within(blocks: Index, count: int) -> Index:
    """Places of what stands in some blocks of BLOCK, of ``count`` in all."""
    places = (blocks[:, None] * BLOCK + np.arange(BLOCK)).ravel()
    return np.asarray(places[places < count])


def across(best: np.ufunc, corners: Array) -> Array:
    """The least or greatest of the three corners of each triangle."""
    return np.asarray(best(best(corners[:, 0], corners[:, 1]), corners[:, 2]))


def _basis(direction: Vec3) -> tuple[Vec3, Vec3]:
    ref = min(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), key=lambda c: abs(dot(c, direction)))
    x = unit(cross(ref, direction))
    return x, cross(direction, x)
