"""Flat faces that lean, met by a tool that stands upright beside them: closed forms over their borders (mm).

On such a face height grows evenly, so what a cone reaches into it, and how high it rises within a distance, is greatest
on its border or where it is crossed by a height of the tool; a step through heights would need thousands where a path
runs along it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.planar import Region
from worker.kernel.planar_edge import Edge, length, point_at
from worker.kernel.shadow import Shown, Skyline, face_facts
from worker.stage.removal.facets import Facets, facets_of, in_turn, is_bent

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
AT_ONCE = 2**14
"""Distances worked out in one go: what fits into a processor's cache takes a third of the time."""
SAG = 2e-3
"""Chords that stand for arcs of a border stay this close (mm)."""


@dataclass(frozen=True)
class Flank:
    """A pointed tool below its neck: ``blunt`` radius at the tip, ``rise`` of radius per height, largest ``radius``."""

    blunt: float
    rise: float
    radius: float

    @property
    def height(self) -> float:
        """Height of the flank."""
        return (self.radius - self.blunt) / self.rise

    def at(self, heights: Floats | float) -> Floats:
        """The radius at heights above the tip; nothing below it."""
        h = np.asarray(heights, float)
        return np.where(h < 0, -np.inf, np.minimum(self.blunt + h * self.rise, self.radius))


@dataclass(frozen=True, eq=False)
class Slant:
    """A leaning flat face: its ``region``, height ``base`` at the origin and ``slope`` (2,) there; its border as
    segments from ``start`` (m, 2) along unit vectors ``along`` (m, 2) over ``size`` (m,); see ``Facets`` too."""

    region: Region
    base: float
    slope: Floats
    start: Floats
    along: Floats
    size: Floats

    @property
    def steepness(self) -> float:
        """Height gained per length, straight uphill."""
        return float(np.hypot(*self.slope))

    @property
    def height(self) -> Floats:
        """Height of each segment's start."""
        return self.heights(self.start)

    @property
    def gain(self) -> Floats:
        """How much each segment rises over its length."""
        return np.asarray(self.along @ self.slope)

    def heights(self, points: Floats) -> Floats:
        """Height of the face's plane at points (..., 2)."""
        return np.asarray(self.base + points @ self.slope)

    def uphill(self, radii: Floats, points: Floats) -> Floats:
        """Height of the place straight uphill on a circle round each point (n,); -inf where the face is not there."""
        at = points + radii[:, None] * self.slope / max(self.steepness, COINCIDENT)
        return np.where(self.region.holds(at), self.heights(at), -np.inf)


def leaning(sky: Skyline, shown: Shown, points: Floats, margin: float) -> Slant | Facets | None:
    """A flat face as a slant, a bent one as its triangles near some points; None for all others."""
    return facets_of(sky, shown, points, margin) if is_bent(sky, shown) else slant_of(sky, shown)


def slant_of(sky: Skyline, shown: Shown) -> Slant | None:
    """The face as a slant; None for one that is not flat, or shows nothing."""
    facts, region = face_facts(sky.body)[shown.index], sky.region(shown.index)
    if facts.kind != "plane" or shown.flat or not region:
        return None
    nx, ny, nz = sky.view.direction_to_local(facts.normals[0])
    spot = facts.adaptor.Plane().Location()
    x, y, z = sky.view.to_local((spot.X(), spot.Y(), spot.Z()))
    slope = np.array([-nx / nz, -ny / nz])
    ends = np.array([pair for e in region.edges for pair in _chords(e)]).reshape(-1, 2, 2)
    across = ends[:, 1] - ends[:, 0]
    size = np.hypot(*across.T)
    kept = size > COINCIDENT
    along = across[kept] / size[kept, None]
    return Slant(region, float(z - slope @ (x, y)), slope, ends[kept, 0], along, size[kept])


def _chords(edge: Edge) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    count = 1
    if edge.centre is not None:
        count = max(1, math.ceil(length(edge) / math.sqrt(8 * edge.radius * SAG)))
    points = [point_at(edge, k / count) for k in range(count + 1)]
    return list(pairwise(points))


def deepest(slant: Slant | Facets, flank: Flank, points: Floats, tips: Floats, above: float) -> tuple[Floats, Floats]:
    """How far a flank with its tip at each point reaches into what the face's border holds higher than ``above`` over
    it (n,), and the height where (n,); nothing positive where it holds nothing so high, or so near.

    Along a segment the tool's radius grows evenly, up to its largest, and the distance is that of a hyperbola: their
    difference has one summit on each side of the height of the full radius.
    """
    tops = slant.height + np.maximum(slant.gain * slant.size, 0.0)
    held = np.flatnonzero(tops > tips.min(initial=np.inf) + above - LENGTH)
    turns = [few for few in in_turn(len(points), len(held), AT_ONCE) if len(few)]
    beside = (held[_within_reach(slant, held, points[few], flank.radius)] for few in turns)
    found_at = zip(turns, beside, strict=True)
    parts = [_deepest(slant, near, flank, points[few], tips[few], above) for few, near in found_at]
    into, heights = zip(*parts, strict=True)
    found = np.concatenate(into), np.concatenate(heights)
    if isinstance(slant, Facets) or slant.steepness * flank.rise <= 1:
        return found
    return _deeper(found, _uphill(slant, flank, points, tips, above))


def _within_reach(slant: Slant | Facets, held: Ints, points: Floats, radius: float) -> NDArray[np.bool_]:
    """Which of the border's segments (m,) have boxes that come so near the points' box: all others are too far off."""
    start = slant.start[held]
    end = start + slant.along[held] * slant.size[held, None]
    low, high = points.min(axis=0) - radius - LENGTH, points.max(axis=0) + radius + LENGTH
    return np.asarray(np.all((np.maximum(start, end) >= low) & (np.minimum(start, end) <= high), axis=1))


def _uphill(slant: Slant, flank: Flank, points: Floats, tips: Floats, above: float) -> tuple[Floats, Floats]:
    """The same within a face steeper than the flank: it is met the deeper the higher, up to where the flank reaches its
    full radius, straight uphill from the axis."""
    full = tips + max(flank.height, above)
    away = np.maximum(full - slant.heights(points), 0.0) / slant.steepness
    return np.where(slant.uphill(away, points) > -np.inf, flank.radius - away, -np.inf), full


def _deeper(one: tuple[Floats, Floats], other: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """At each point the one that reaches deeper."""
    more = other[0] > one[0]
    return np.where(more, other[0], one[0]), np.where(more, other[1], one[1])


def _deepest(
    slant: Slant | Facets, held: Ints, flank: Flank, points: Floats, tips: Floats, above: float
) -> tuple[Floats, Floats]:
    """The same by some of the border's segments."""
    start, along, size = slant.start[held], slant.along[held], slant.size[held]
    rel = start[None] - points[:, None]
    foot = -np.einsum("nmk,mk->nm", rel, along)
    off = np.abs(rel[..., 0] * along[:, 1] - rel[..., 1] * along[:, 0])
    gain = np.broadcast_to(slant.gain[held], foot.shape)
    first = slant.height[held] - tips[:, None]  # over the tip, where the segment begins
    into, height = np.full(foot.shape, -np.inf), np.zeros(foot.shape)
    if not len(held):
        return np.full(len(points), -np.inf), np.zeros(len(points))
    for low, high, rise in ((above, flank.height, flank.rise), (max(flank.height, above), np.inf, 0.0)):
        near, far = _stretch(first, gain, size, low, high)
        lean = np.clip(gain * rise, -1 + 1e-9, 1 - 1e-9)
        there = near <= far
        at = np.where(there, np.clip(foot + off * lean / np.sqrt(1 - lean**2), near, far), 0.0)
        up = first + gain * at
        reach = np.minimum(flank.blunt + flank.rise * up, flank.radius) - np.hypot(off, at - foot)
        better = there & (reach > into)
        into[better], height[better] = reach[better], up[better]
    worst = np.argmax(into, axis=1)
    row = np.arange(len(points))
    return into[row, worst], height[row, worst] + tips


def _stretch(first: Floats, gain: Floats, size: Floats, low: float, high: float) -> tuple[Floats, Floats]:
    """Where segments that begin at heights ``first`` run between two heights: from, to; from is past to where none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = np.stack([(low - first) / gain, (high - first) / gain])
    level = np.abs(gain) < 1e-12
    held = (first >= low - COINCIDENT) & (first <= high + COINCIDENT)
    near = np.where(level, np.where(held, 0.0, np.inf), np.fmin(ends[0], ends[1]))
    far = np.where(level, np.where(held, size, -np.inf), np.fmax(ends[0], ends[1]))
    return np.maximum(near, 0.0), np.minimum(far, size)


def highest_near(slant: Slant | Facets, radii: Floats, points: Floats) -> Floats:
    """The greatest height of the face within less than a radius (n,) of each point (n,); -inf where none is so near.

    It is straight uphill on the circle, where that is on the face, else on the border.
    """
    beside = np.flatnonzero(_within_reach(slant, np.arange(len(slant.size)), points, float(radii.max(initial=0.0))))
    start, along, size = slant.start[beside], slant.along[beside], slant.size[beside]
    first, gain = slant.height[beside], slant.gain[beside]
    rel = start[None] - points[:, None]
    foot = -np.einsum("nmk,mk->nm", rel, along)
    off = np.abs(rel[..., 0] * along[:, 1] - rel[..., 1] * along[:, 0])
    half = np.sqrt(np.maximum(radii[:, None] ** 2 - off**2, 0.0))
    near, far = np.maximum(foot - half, 0.0), np.minimum(foot + half, size)
    top = np.where((off < radii[:, None]) & (near <= far), first + np.maximum(gain * near, gain * far), -np.inf)
    found = top.max(axis=1, initial=-np.inf)
    return np.asarray(np.maximum(found, slant.uphill(radii, points)))
