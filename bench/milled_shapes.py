"""What the cutters of generated parts take away: one convex prism a feature, drawn on a face of a block.

A draughtsman's frame lies on a face of the block: x and y along two of its edges, z into the metal. Lengths in mm.
The shapes are those of an open data set of milled cubes: what a class looks like, its least size (a fifth of the cube),
the metal left beside it (a tenth) and how sizes spread were read off 400 of its parts.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, Vec3
from worker.kernel.planar import polygon
from worker.kernel.shape import Body
from worker.kernel.sweep import prism

Point2 = tuple[float, float]
Size = tuple[float, float, float]

BEYOND = 0.4
"""How far a cutter reaches out of the block, as a share of its least edge."""


@dataclass(frozen=True, eq=False)
class Cutter:
    """A convex prism: an outline in the x, y of a frame, between two heights. ``label`` is the feature's.

    ``outline`` and ``span`` end where the block ends; ``grown`` and ``reach`` stand out of it.
    """

    label: int
    frame: Frame
    outline: tuple[Point2, ...]
    span: tuple[float, float]
    grown: tuple[Point2, ...]
    reach: tuple[float, float]
    entry: Vec3
    """Out of the metal, where the cutter comes from."""

    @cached_property
    def corners(self) -> NDArray[np.float64]:
        """The corners inside the block, (n, 3), in the part's frame."""
        return np.array([self.frame.to_world((x, y, z)) for x, y in self.outline for z in self.span])

    @cached_property
    def sides(self) -> NDArray[np.float64]:
        """Directions of the edges, (n, 3)."""
        ends = zip(self.outline, (*self.outline[1:], self.outline[0]), strict=True)
        flat = [self.frame.direction_to_world((b[0] - a[0], b[1] - a[1], 0.0)) for a, b in ends]
        return np.array([self.frame.z, *flat])

    @cached_property
    def normals(self) -> NDArray[np.float64]:
        """Directions square to the faces, (n, 3)."""
        return np.vstack([np.array([self.frame.z]), np.cross(self.sides[1:], np.array(self.frame.z))])

    def body(self) -> Body:
        """The solid that the cutter sweeps."""
        return prism(polygon(self.grown), self.frame, *self.reach)

    def taken(self) -> Body:
        """What it takes of the block when nothing else does."""
        return prism(polygon(self.outline), self.frame, *self.span)

    def mouth(self) -> NDArray[np.float64]:
        """The corners that lie on the side it comes from, (n, 3)."""
        heights = self.corners @ np.array(self.entry)
        return np.asarray(self.corners[heights > heights.max() - 1e-9])


def apart(a: Cutter, b: Cutter, gap: float, of_a: NDArray[np.float64] | None = None) -> bool:
    """True when a plane parts two convex bodies by more than ``gap``; ``of_a``: the corners that stand for ``a``."""
    crossed = np.cross(a.sides[:, None], b.sides[None]).reshape(-1, 3)
    axes = np.vstack([a.normals, b.normals, crossed])
    length = np.linalg.norm(axes, axis=1)
    axes = axes[length > 1e-9] / length[length > 1e-9][:, None]
    p, q = (a.corners if of_a is None else of_a) @ axes.T, b.corners @ axes.T
    gaps = np.maximum(p.min(axis=0) - q.max(axis=0), q.min(axis=0) - p.max(axis=0))
    return bool(gaps.max() > gap)


def face_frame(size: Size, axis: int, far: bool, turned: bool) -> tuple[Frame, Size]:
    """A draughtsman's frame on a face of the block from the origin to ``size``, and the block's size in it."""
    inward = [0.0, 0.0, 0.0]
    inward[axis] = -1.0 if far else 1.0
    first = (axis + (2 if turned else 1)) % 3
    along = [float(i == first) for i in range(3)]
    plain = Frame(axis=_vec(inward), ref_direction=_vec(along))
    corner = [size[axis] if far and i == axis else 0.0 for i in range(3)]
    second = 3 - axis - first
    if plain.y[second] < 0:
        corner[second] = size[second]
    frame = Frame(location=_vec(corner), axis=_vec(inward), ref_direction=_vec(along))
    return frame, (size[first], size[second], size[axis])


def _vec(values: list[float]) -> Vec3:
    return (values[0], values[1], values[2])


@dataclass(frozen=True)
class Sheet:
    """A face to draw on: its frame, the block's size in it, the least size and margin, and the dice."""

    frame: Frame
    size: Size
    least: float
    margin: float
    dice: random.Random
    snap: float
    """How often a size is the least one and a place the outermost one."""

    @property
    def beyond(self) -> float:
        return BEYOND * min(self.size)

    def length(self, most: float) -> float:
        """A length from the least size up."""
        if most <= self.least or self.dice.random() < self.snap:
            return self.least
        return self.dice.uniform(self.least, most)

    def place(self, length: float, room: float) -> float:
        """Where a stretch begins that keeps the margin to both ends."""
        low, high = self.margin, room - self.margin - length
        if self.dice.random() < self.snap / 3:
            return self.dice.choice((low, high))
        return self.dice.uniform(low, high)

    def deep(self, label: int, outline: tuple[Point2, ...], depth: float | None, grown: tuple[Point2, ...]) -> Cutter:
        """An outline on the face, cut to a depth (None: through)."""
        bottom = self.size[2] if depth is None else depth
        end = bottom + self.beyond if depth is None else depth
        out = self.frame.direction_to_world((0.0, 0.0, -1.0))
        return Cutter(label, self.frame, outline, (0.0, bottom), grown, (-self.beyond, end), out)

    def along(self, label: int, outline: tuple[Point2, ...], grown: tuple[Point2, ...]) -> Cutter:
        """A profile of (depth, x) pairs, drawn out along the whole y."""
        frame = Frame(location=self.frame.location, axis=self.frame.y, ref_direction=self.frame.z)
        end = self.size[1]
        out = self.frame.direction_to_world((0.0, 0.0, -1.0))
        return Cutter(label, frame, outline, (0.0, end), grown, (-self.beyond, end + self.beyond), out)


def chamfer(s: Sheet) -> Cutter:
    """An edge broken at 45 degrees."""
    leg, e = s.dice.uniform(s.margin, 2 * s.least), s.beyond
    outline = ((0.0, 0.0), (leg, 0.0), (0.0, leg))
    return s.along(0, outline, ((-e, -e), (leg + e, -e), (-e, leg + e)))


def through_vee(s: Sheet) -> Cutter:
    """A slot with two walls that meet at its bottom."""
    width, depth, e = s.length(0.6 * s.size[0]), s.length(s.size[2] - s.margin), s.beyond
    x = s.place(width, s.size[0])
    wider = width / 2 * e / depth
    middle = x + width / 2
    outline = ((0.0, x), (depth, middle), (0.0, x + width))
    return s.along(4, outline, ((-e, x - wider), (depth, middle), (-e, x + width + wider)))


def through_slot(s: Sheet) -> Cutter:
    """A slot with a flat floor, open at both ends."""
    width, depth, e = s.length(0.5 * s.size[0]), s.length(s.size[2] - s.margin), s.beyond
    x = s.place(width, s.size[0])
    return s.along(5, _box(0.0, x, depth, x + width), _box(-e, x, depth, x + width))


def through_step(s: Sheet) -> Cutter:
    """An edge cut away square."""
    width, depth, e = s.length(s.size[0] - s.margin), s.length(s.size[2] - s.margin), s.beyond
    return s.along(6, _box(0.0, 0.0, depth, width), _box(-e, -e, depth, width))


def two_sided_step(s: Sheet) -> Cutter:
    """An edge cut away up to two walls that meet in the middle."""
    most, depth, e = s.length(0.8 * s.size[0]), s.length(s.size[2] - s.margin), s.beyond
    ends, middle = most * s.dice.uniform(0.35, 0.92), s.size[1] / 2
    lean = (most - ends) / middle
    low = ends - lean * e
    outline = ((0.0, 0.0), (ends, 0.0), (most, middle), (ends, s.size[1]), (0.0, s.size[1]))
    grown = ((-e, -e), (low, -e), (most, middle), (low, s.size[1] + e), (-e, s.size[1] + e))
    return s.deep(7, outline, depth, grown)


def slanted_step(s: Sheet) -> Cutter:
    """An edge cut away up to a wall that is not square to its ends."""
    one, depth, e = s.length(s.size[0] - s.margin), s.length(s.size[2] - s.margin), s.beyond
    other = max(one * s.dice.uniform(0.3, 0.95), s.margin / 2)
    lean = (other - one) / s.size[1]
    outline = ((0.0, 0.0), (one, 0.0), (other, s.size[1]), (0.0, s.size[1]))
    grown = ((-e, -e), (one - lean * e, -e), (other + lean * e, s.size[1] + e), (-e, s.size[1] + e))
    return s.deep(8, outline, depth, grown)


def triangle(s: Sheet) -> tuple[Point2, ...]:
    """Three corners on a circle, at angles not far from a third of a turn."""
    radius, centre, turn = _on_circle(s)
    angles = [turn + k * math.tau / 3 + s.dice.gauss(0.0, 0.12) for k in range(3)]
    return tuple((centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles)


def hexagon(s: Sheet) -> tuple[Point2, ...]:
    """Six corners on a circle, evenly."""
    radius, centre, turn = _on_circle(s)
    angles = [turn + k * math.tau / 6 for k in range(6)]
    return tuple((centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles)


def rectangle(s: Sheet) -> tuple[Point2, ...]:
    """A rectangle along the edges, seldom turned."""
    if s.dice.random() < 0.06:
        radius, (x, y), turn = _on_circle(s)
        tilt = s.dice.choice((math.pi / 4, s.dice.uniform(0.5, 1.0)))
        angles = [turn - tilt, turn + tilt, turn + math.pi - tilt, turn + math.pi + tilt]
        return tuple((x + radius * math.cos(a), y + radius * math.sin(a)) for a in angles)
    a, b = s.length(0.7 * s.size[0]), s.length(0.7 * s.size[1])
    x, y = s.place(a, s.size[0]), s.place(b, s.size[1])
    return _box(x, y, x + a, y + b)


def _on_circle(s: Sheet) -> tuple[float, Point2, float]:
    most = min(s.size[:2]) / 2 - s.margin
    radius = min(s.length(2 * most * 0.7) / 2, most)
    centre = (s.place(2 * radius, s.size[0]) + radius, s.place(2 * radius, s.size[1]) + radius)
    return radius, centre, s.dice.uniform(0.0, math.tau)


def passage(label: int, draw: Callable[[Sheet], tuple[Point2, ...]]) -> Callable[[Sheet], Cutter]:
    """An outline cut right through."""

    def drawn(s: Sheet) -> Cutter:
        outline = draw(s)
        return s.deep(label, outline, None, outline)

    return drawn


def pocket(label: int, draw: Callable[[Sheet], tuple[Point2, ...]]) -> Callable[[Sheet], Cutter]:
    """An outline cut to a depth."""

    def drawn(s: Sheet) -> Cutter:
        outline = draw(s)
        return s.deep(label, outline, s.length(s.size[2] - s.margin), outline)

    return drawn


def blind_slot(s: Sheet) -> Cutter:
    """A flat-floored slot, open at one end."""
    width, long, e = s.length(0.4 * s.size[1]), s.length(s.size[0] - s.margin), s.beyond
    y = s.place(width, s.size[1])
    depth = s.length(s.size[2] - s.margin)
    return s.deep(12, _box(0.0, y, long, y + width), depth, _box(-e, y, long, y + width))


def corner_vee(s: Sheet) -> Cutter:
    """A corner cut off by an upright wall, down to a floor."""
    a, b, e = s.length(0.8 * s.size[0]), s.length(0.8 * s.size[1]), s.beyond
    outline = ((0.0, 0.0), (a, 0.0), (0.0, b))
    grown = ((-e, -e), (a + e * a / b, -e), (-e, b + e * b / a))
    return s.deep(13, outline, s.length(s.size[2] - s.margin), grown)


def corner_step(s: Sheet) -> Cutter:
    """A corner cut away square."""
    a, b, e = s.length(s.size[0] - s.margin), s.length(s.size[1] - s.margin), s.beyond
    return s.deep(14, _box(0.0, 0.0, a, b), s.length(s.size[2] - s.margin), _box(-e, -e, a, b))


def _box(x0: float, y0: float, x1: float, y1: float) -> tuple[Point2, ...]:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


SHAPES: tuple[Callable[[Sheet], Cutter], ...] = (
    chamfer, passage(1, triangle), passage(2, rectangle), passage(3, hexagon), through_vee, through_slot, through_step,
    two_sided_step, slanted_step, pocket(9, triangle), pocket(10, rectangle), pocket(11, hexagon), blind_slot,
    corner_vee, corner_step,
)  # fmt: skip
"""One a label, in the order of the labels."""
