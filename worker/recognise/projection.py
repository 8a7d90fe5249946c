"""A part's triangles as they lie in the plane square to a direction, with the boxes that find who is near whom."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, cross, dot, norm, unit
from schemas.tolerances import SIGHT_CURVED, SIGHT_MARGIN, SIGHT_WALL
from worker.recognise.feet import Feet, above
from worker.recognise.patches import PartShape

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Mask = NDArray[np.bool_]

BLOCK = 16
"""So many triangles of a patch at most, one after the other as the mesh has them, share a box to be asked first."""
OFTEN = 64
"""After so many questions along one direction all triangles are projected at once."""
LARGE, BESIDE = 4096, 64
"""Where more blocks than that lie over a patch so many on both sides of its own are asked before all."""
SETS, WAYS, SIDES = 4, 32, 16
"""After so many sets of ways, or for so many in one, the corners inside a polygon of so many sides are left out."""
SLACK = 1e-9
"""Boxes of blocks are wider by this (mm) than what rounding may make of their triangles."""


@dataclass(frozen=True, eq=False)
class Blocks:
    """Runs of triangles of one patch each: where they start, how many, their boxes (m, 3), bounds of their normals.

    ``ends``: how many there are up to each patch and with it.
    """

    ends: Index
    starts: Index
    sizes: Index
    low: Array
    high: Array
    least: Array
    most: Array


def blocks_of(shape: PartShape) -> Blocks:
    """The triangles of a part as blocks."""
    counts = np.array([s.stop - s.start for s in shape.slices])
    per = -(-counts // BLOCK)
    first = np.repeat(np.cumsum(counts) - counts, per)
    nth = np.arange(len(first)) - np.repeat(np.cumsum(per) - per, per)
    starts = first + BLOCK * nth
    sizes = np.minimum(np.repeat(counts, per) - BLOCK * nth, BLOCK)
    low, high = shape.bounds
    least, most = (best.reduceat(shape.normals, starts) for best in (np.minimum, np.maximum))
    return Blocks(
        np.cumsum(per), starts, sizes, np.minimum.reduceat(low, starts), np.maximum.reduceat(high, starts), least, most
    )


@dataclass(eq=False)
class View:
    """A part in the plane square to a direction; its triangles are kept as boxes of blocks until many are asked."""

    shape: PartShape
    blocks: Blocks
    direction: Vec3
    asked: int = 0
    reaches: dict[bytes, Array] = field(default_factory=dict)
    """How far the part reaches along sets of ways that were asked for."""
    few_reaches: dict[bytes, Array] = field(default_factory=dict)
    """How far some corners of it do."""

    @cached_property
    def frame(self) -> tuple[Vec3, Vec3]:
        """Two directions that span the plane."""
        return _basis(self.direction)

    def facing(self, triangles: Index | slice) -> Array:
        """Cosine between triangles' normals and the direction."""
        if self.asked > OFTEN:
            return np.asarray(self._all_facing[triangles])
        return np.asarray(self.shape.normals[triangles] @ np.array(self.direction))

    @cached_property
    def _all_facing(self) -> Array:
        return np.asarray(self.shape.normals @ np.array(self.direction))

    @cached_property
    def _extents(self) -> tuple[Array, Array]:
        """Least and greatest coordinates of the blocks in the plane and along the direction, (3, m) each."""
        blocks, axes = self.blocks, np.array([*self.frame, self.direction])
        up, down = np.maximum(axes, 0.0), np.minimum(axes, 0.0)
        return up @ blocks.low.T + down @ blocks.high.T, up @ blocks.high.T + down @ blocks.low.T

    def is_crowded(self, patch: int) -> bool:
        """True for a patch over which so much lies, roughly, that it takes long to ask all of it."""
        if len(self.blocks.starts) <= LARGE:
            return False
        return bool((self._boxes[1] > self._limits(patch)).all(axis=0).sum() > LARGE // BLOCK)

    def _own(self, patch: int) -> slice:
        return slice(int(self.blocks.ends[patch - 1]) if patch else 0, int(self.blocks.ends[patch]))

    def beside(self, patch: int) -> Index:
        """Numbers of the blocks next to a patch's: mostly what covers a patch was made with it."""
        own = self._own(patch)
        return np.arange(max(own.start - BESIDE, 0), min(own.stop + BESIDE, len(self.blocks.starts)))

    def over(self, patch: int, among: Index | None = None) -> Index:
        """Numbers of the blocks (of some) that may stand over a patch."""
        return self._over(self._limits(patch), among)

    def is_clear(self, patch: int) -> bool:
        """True when nothing that looks away reaches over the lowest place of a patch."""
        return bool(self._bottoms[patch] + SIGHT_MARGIN >= self._highest)

    @cached_property
    def _bottoms(self) -> Array:
        """The lowest place of each patch; of one without triangles: infinite."""
        ends, found = self.blocks.ends, np.full(len(self.blocks.ends), np.inf)
        filled = np.diff(ends, prepend=0) > 0
        found[filled] = np.minimum.reduceat(self._extents[0][2], np.concatenate([[0], ends[:-1]])[filled])
        return found

    @cached_property
    def _highest(self) -> float:
        """Highest place of all blocks that look away."""
        rows = self._boxes[0]
        return float(rows[4, rows[5] > SIGHT_CURVED].max(initial=-math.inf))

    def _limits(self, patch: int) -> Array:
        """What a box must reach over to be near a patch, (6, 1)."""
        least, most = (e[:, self._own(patch)] for e in self._extents)
        low, high = least.min(axis=1) - SIGHT_MARGIN, most.max(axis=1) + SIGHT_MARGIN
        return _reaching(low[:2], high[:2], float(least[2].min()) + SIGHT_MARGIN)

    def reach(self, ways: Array) -> Array:
        """How far the part reaches along ways in the plane, (n, 2), of which many may be one; remembered."""
        key = ways.tobytes()
        if key not in self.reaches:
            single, which = np.unique(ways, axis=0, return_inverse=True)
            self.reaches[key] = self._reach(single)[which.ravel()]
        return self.reaches[key]

    def _reach(self, ways: Array) -> Array:
        if len(self.reaches) >= SETS or len(ways) > WAYS:
            return np.asarray((self._outline @ ways.T).max(axis=0))
        lines = map(tuple, (ways @ np.array(self.frame)).tolist())
        return np.array([self.shape.support(line) for line in lines])

    @cached_property
    def _outline(self) -> Array:
        """The corners that may reach farthest some way in the plane, (n, 2): none inside a polygon of such."""
        flat = self._all.flat.reshape(-1, 2)
        turns = np.arange(SIDES) * (math.tau / SIDES)
        ends = flat[[int((flat @ way).argmax()) for way in np.stack([np.cos(turns), np.sin(turns)], axis=1)]]
        inside = np.ones(len(flat), dtype=bool)
        for (x, y), (u, v) in zip(ends.tolist(), (np.roll(ends, -1, axis=0) - ends).tolist(), strict=True):
            if u or v:
                inside &= u * (flat[:, 1] - y) - v * (flat[:, 0] - x) > SLACK
        left = flat[~inside]
        places = np.unique(left[:, 0] + 1j * left[:, 1])
        return np.stack([places.real, places.imag], axis=1)

    def some_reach(self, ways: Array) -> Array:
        """How far some corners from all over the part reach along ways in the plane, (n, 2); remembered."""
        key = ways.tobytes()
        if key not in self.few_reaches:
            self.few_reaches[key] = np.asarray((self._few @ ways.T).max(axis=0))
        return self.few_reaches[key]

    @cached_property
    def _few(self) -> Array:
        return np.asarray(self.shape.few @ np.array(self.frame).T)

    @cached_property
    def _boxes(self) -> tuple[Array, Array]:
        """What a box must reach over to be near: of all blocks, and BLOCK blocks by BLOCK blocks, (6, m).

        The last row: how far a block's triangles look away at most. What stands in the way meets the line of sight
        with a triangle that does.
        """
        (least, most), way = self._extents, np.array(self.direction)
        away = -(self.blocks.least @ np.maximum(way, 0.0) + self.blocks.most @ np.minimum(way, 0.0))
        rows = np.stack([-least[0], -least[1], *most, away]) + SLACK
        return rows, np.maximum.reduceat(rows, np.arange(0, rows.shape[1], BLOCK), axis=1)

    def near(self, low: Array, high: Array, bottom: float, among: Index | None = None) -> Index:
        """Numbers of the blocks (of some) that may stand over a box of the plane and reach over a height."""
        return self._over(_reaching(low, high, bottom), among)

    def _over(self, limits: Array, among: Index | None) -> Index:
        rows, coarse = self._boxes
        if among is None:
            among = _within(np.flatnonzero((coarse > limits).all(axis=0)), rows.shape[1])
        return np.asarray(among[(rows[:, among] > limits).all(axis=0)])

    def covering(self, blocks: Index) -> Index:
        """The triangles of some blocks that look away."""
        starts, sizes = self.blocks.starts[blocks], self.blocks.sizes[blocks]
        places = np.repeat(starts - np.cumsum(sizes) + sizes, sizes) + np.arange(int(sizes.sum()))
        return np.asarray(places[self.facing(places) < -SIGHT_CURVED])

    def seen(self, triangles: Index) -> Seen:
        """Some triangles as they lie in the plane."""
        self.asked += 1
        return self._all.taken(triangles) if self.asked > OFTEN else self._projected(triangles)

    def seen_above(self, triangles: Index, feet: Feet) -> tuple[Seen, Index]:
        """What of some triangles lies above some feet, cut off there, and which triangle each piece is of."""
        pieces, of = above(self.shape.corners[triangles], feet)
        return Seen(pieces @ np.array(self.frame).T, pieces @ np.array(self.direction)), triangles[of]

    @cached_property
    def _all(self) -> Seen:
        return self._projected(slice(None))

    def _projected(self, triangles: Index | slice) -> Seen:
        x, y = (self.shape.along(axis, triangles) for axis in self.frame)
        return Seen(np.stack([x, y], axis=-1), self.shape.along(self.direction, triangles))

    def barrel(self, triangles: Index) -> float:
        """Radius (mm) of a cylinder seen along its axis of which triangles of one patch are chords; else infinite.

        Of a bore the chords lie in the air.
        """
        surface = self.shape.patches[int(self.shape.owner[triangles[0]])].surface if len(triangles) else None
        if surface is None or surface.kind != "cylinder" or surface.hollow:
            return math.inf
        return surface.radius if norm(cross(surface.axis, self.direction)) < SIGHT_WALL else math.inf

    def outward(self, triangles: Index) -> Array:
        """Normals of triangles in the plane, (n, 2)."""
        return np.asarray(self.shape.normals[triangles] @ np.array(self.frame).T)


@dataclass(eq=False)
class Seen:
    """Triangles in the plane square to a direction: corners (n, 3, 2), and their heights along it (n, 3)."""

    flat: Array
    heights: Array
    OF_EACH: ClassVar[tuple[str, ...]] = ("low", "high", "bottom", "top")

    def __len__(self) -> int:
        return len(self.flat)

    def taken(self, which: Index | Mask) -> Self:
        """Some of them."""
        return type(self)(self.flat[which], self.heights[which])

    def parted(self, which: Index | Mask) -> Self:
        """Some of them, with what was worked out before of each: for those that are asked once more."""
        found = self.taken(which)
        found.__dict__.update({name: self.__dict__[name][which] for name in self.OF_EACH if name in self.__dict__})
        return found

    @cached_property
    def overlap(self) -> Array:
        """Boxes in the plane that overlap by no more (mm), one way or the other, are not near, (2,)."""
        return np.full(2, SIGHT_MARGIN)

    @cached_property
    def low(self) -> Array:
        """Lower corner of each triangle's box in the plane, (n, 2)."""
        return across(np.minimum, self.flat)

    @cached_property
    def high(self) -> Array:
        """Upper corner of each triangle's box in the plane, (n, 2)."""
        return across(np.maximum, self.flat)

    @cached_property
    def bounds(self) -> tuple[Array, Array]:
        """Lower and upper corner of the box round all of them, (2,) each."""
        return np.asarray(self.low.min(axis=0)), np.asarray(self.high.max(axis=0))

    @cached_property
    def bottom(self) -> Array:
        """Least height of each triangle."""
        return across(np.minimum, self.heights)

    @cached_property
    def top(self) -> Array:
        """Greatest height of each triangle."""
        return across(np.maximum, self.heights)


def _reaching(low: Array, high: Array, bottom: float) -> Array:
    """What a box must reach over to be near a box of the plane, over a height, (6, 1)."""
    return np.array([[-high[0]], [-high[1]], [low[0]], [low[1]], [bottom], [SIGHT_CURVED]])


def _within(blocks: Index, count: int) -> Index:
    """Places of what stands in some blocks of BLOCK, of ``count`` in all."""
    places = (blocks[:, None] * BLOCK + np.arange(BLOCK)).ravel()
    return np.asarray(places[places < count])


def across(best: np.ufunc, corners: Array) -> Array:
    """The least or greatest of the three corners of each triangle, (n, 3, ...)."""
    return np.asarray(best(best(corners[:, 0], corners[:, 1]), corners[:, 2]))


def _basis(direction: Vec3) -> tuple[Vec3, Vec3]:
    ref = min(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), key=lambda c: abs(dot(c, direction)))
    x = unit(cross(ref, direction))
    return x, cross(direction, x)
