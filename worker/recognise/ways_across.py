"""Which way an outline runs that says so itself by no longest line: along its narrowest strip, or least rectangle."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, Vec3, add, any_frame, cross, dot, norm, scale, sub, unit
from schemas.tolerances import LEDGE, LENGTH, SAME_LENGTH, SQUARE
from worker.recognise.borders import Border, border_of, circle_of
from worker.recognise.bulges import area_vector
from worker.recognise.patches import PartShape, Rim

BESIDE = 1e-3
"""What an outline's length counts beside its width: where it is as wide one way as another the longer way is chosen."""
WAYS, TURNED = 18, 1e-6
"""So many ways across are tried before the best is looked for, up to an angle (rad) that a metre shows by 1 um."""
NEAR, FEW = 1e-3, 6
"""A round wall's chord is its way when it is better than ways so little beside it (rad) and so many all round."""
LEVEL = 1e-6
"""An arc is square to an axis when no coordinate of the cross product of their directions is larger."""
Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Outline:
    """The boundary of some patches, seen along ``frame.z``: arcs square to that, and all other edges."""

    frame: Frame
    rims: tuple[Rim, ...]

    @cached_property
    def rest(self) -> Border:
        """What is no arc."""
        return border_of([r for r in self.rims if r not in self.round])

    @cached_property
    def round(self) -> set[Rim]:
        """The arcs."""
        return {r for r in self.rims if r.curve == "circle" and r.length > LEDGE and self._is_level(r)}

    def _is_level(self, rim: Rim) -> bool:
        circle = circle_of(rim)
        return circle is not None and max(map(abs, cross(circle[1], self.frame.z))) < LEVEL

    @cached_property
    def arcs(self) -> tuple[Array, Array, Array, Array, Array]:
        """Middles (n, 2), radii, where arcs begin and how far they go (rad), and their ends (2 n, 2)."""
        basis = np.array([self.frame.x, self.frame.y]).T
        rims = [r for r in self.rims if r in self.round]
        found = [c for r in rims if (c := circle_of(r))]
        middles = np.array([c[0] for c in found]).reshape(-1, 3) @ basis
        ends = np.array([(r.points[0], r.points[-1]) for r in rims]).reshape(-1, 2, 3) @ basis
        up = np.array([dot(c[1], self.frame.z) > 0 for c in found], dtype=bool)
        first = np.where(up[:, None], ends[:, 0], ends[:, -1]) - middles
        radii = np.array([c[2] for c in found])
        sweeps = np.array([min(r.length / c[2], math.tau) for r, c in zip(rims, found, strict=True)])
        return middles, radii, np.arctan2(first[:, 1], first[:, 0]), sweeps, ends.reshape(-1, 2)

    def along(self, angle: float) -> Vec3:
        """The direction at an angle."""
        return add(scale(self.frame.x, math.cos(angle)), self.frame.y, math.sin(angle))

    def angle_of(self, line: Vec3) -> float:
        """The angle of a direction."""
        return math.atan2(dot(line, self.frame.y), dot(line, self.frame.x))

    def size(self, angle: float) -> float:
        """How far the outline reaches in a direction (mm)."""
        low, high = self.rest.reach(self.along(angle))
        middles, radii, starts, sweeps, ends = self.arcs
        if not len(radii):
            return high - low
        way = np.array((math.cos(angle), math.sin(angle)))
        heights, tips = middles @ way, ends @ way
        for sign in (1.0, -1.0):
            here = (angle + (0.0 if sign > 0 else math.pi) - starts) % math.tau <= sweeps
            crest = float((sign * heights + radii)[here].max(initial=float((sign * tips).max())))
            low, high = (low, max(high, crest)) if sign > 0 else (min(low, -crest), high)
        return high - low

    def order(self, angle: float) -> float:
        """The less, the narrower the strip along a direction, and of those the longer."""
        return self.size(angle + math.pi / 2) - BESIDE * self.size(angle)

    def is_least(self, angle: float) -> bool:
        """True where nothing is better close by, nor at any of some angles all round."""
        own = self.order(angle)
        others = (angle - NEAR, angle + NEAR, *(angle + k * math.pi / FEW for k in range(1, FEW)))
        return all(self.order(other) > own for other in others)


def _outline(shape: PartShape, patches: Sequence[int], axis: Vec3) -> _Outline:
    members = set(patches)
    rims = (r for p in patches for r in shape.patches[p].rims if r.other not in members)
    return _Outline(any_frame((0.0, 0.0, 0.0), axis), tuple(rims))


def narrow_way(shape: PartShape, patches: Sequence[int], axis: Vec3) -> Vec3:
    """The way square to an axis across which some patches are least wide; ``axis``' own frame for what is round."""
    outline = _outline(shape, patches, axis)
    if not outline.rims or _is_round(shape, patches, axis):
        return outline.frame.x
    chord = _chord(shape, patches, axis)
    if chord and outline.is_least(outline.angle_of(chord)):
        return chord
    orders = [(outline.order(k * math.pi / WAYS), k * math.pi / WAYS) for k in range(WAYS)]
    (_, best), step = min(orders), math.pi / WAYS
    if max(orders)[0] - min(orders)[0] < LENGTH:
        return outline.frame.x
    while step > TURNED:
        step /= 2
        best = min((best, best - step, best + step), key=outline.order)
    return outline.along(best)


def _chord(shape: PartShape, patches: Sequence[int], axis: Vec3) -> Vec3 | None:
    """Square to an axis and to the way that upright patches look on the whole; None for what closes all round."""
    own = [shape.patches[p] for p in patches]
    looks = area_vector(own)
    looks = add(looks, axis, -dot(looks, axis))
    return unit(cross(axis, looks)) if norm(looks) > SQUARE * sum(p.area for p in own) else None


def _is_round(shape: PartShape, patches: Sequence[int], axis: Vec3) -> bool:
    """True for what circles about one line along an axis bound from outside."""
    own = [shape.patches[p] for p in patches]
    rims = [r for p in own for r in (p.loops[0] if p.surface.kind == "plane" and p.loops else p.rims)]
    circles = [circle_of(r) if r.curve == "circle" else None for r in rims if r.length > LEDGE]
    found = [c for c in circles if c]
    gaps = [sub(c[0], found[0][0]) for c in found]
    return len(found) == len(circles) and all(norm(add(g, axis, -dot(g, axis))) < SAME_LENGTH for g in gaps)


def least_rectangle(shape: PartShape, patches: Sequence[int], axis: Vec3, lines: Iterable[Vec3]) -> Vec3:
    """Of some lines square to an axis the one along the least rectangle round some patches.

    Between two that are alike, the legs of a trapezoid, it is half way: their own middle, however they lie.
    Which way the part lies comes last: it decides between lines that nothing else tells apart.
    """
    outline = _outline(shape, patches, axis)

    def area(line: Vec3) -> float:
        angle = outline.angle_of(line)
        return round(outline.size(angle) * outline.size(angle + math.pi / 2), 2)

    ordered = sorted(lines, key=lambda line: (area(line), *(-c for c in line)))
    tied = [line for line in ordered if area(line) == area(ordered[0])]
    if len(tied) == 2:
        a, b = tied
        return unit(add(a, b, 1.0 if dot(a, b) > 0 else -1.0))
    return ordered[0]
