"""Bent faces by their triangles, for a tool that stands upright beside them (setup's frame, mm).

The lines of one height on such a face are fitted arcs, which a border that is fitted too may cross anywhere; its
triangles are all flat, and what is asked of each is a closed form.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from worker.kernel.mesh import triangles_of
from worker.kernel.planar import Region
from worker.kernel.shadow import Shown, Skyline, face_facts, flank_of
from worker.kernel.shape import Body, pick
from worker.kernel.view import View

Floats = NDArray[np.float64]
CHORD = 4e-3
"""How far (mm) triangles may lie off their face: a fifth of what a least stick-out is told to."""
AT_ONCE = 2**17
"""Distances worked out in one go."""
KEPT = 512
"""Faces whose triangles are kept: a path is held to each face of a part in turn, again and again."""


@dataclass(frozen=True, eq=False)
class Facets:
    """Corners (k, 3, 3) of the triangles of a face that look up, counter-clockwise from above; their sides as segments
    from ``start`` (m, 2) at ``height`` (m,) along unit vectors ``along`` (m, 2) over ``size`` (m,), which rise by
    ``gain``."""

    corners: Floats
    start: Floats
    height: Floats
    along: Floats
    size: Floats
    gain: Floats

    def uphill(self, radii: Floats, points: Floats) -> Floats:
        """The greatest height on the circle round each point (n,) that lies straight uphill on any triangle."""
        a, slope, steep = self._planes
        found = np.full(len(points), -np.inf)
        for few in in_turn(len(points), len(a)):
            at = points[few][:, None] + (radii[few][:, None] / steep)[..., None] * slope
            heights = a[:, 2] + ((at - a[:, :2]) * slope).sum(axis=2)
            shares = _shares(self.corners, at)
            found[few] = np.where((shares >= 0).all(axis=0), heights, -np.inf).max(axis=1, initial=-np.inf)
        return found

    @property
    def _planes(self) -> tuple[Floats, Floats, Floats]:
        a, b, c = (self.corners[:, k] for k in range(3))
        normal = np.cross(b - a, c - a)
        slope = -normal[:, :2] / normal[:, 2:]
        return a, slope, np.maximum(np.hypot(*slope.T), 1e-9)

    def away(self, z: float, points: Floats, margin: float) -> Floats:
        """Distance of each point (n,) from what stands above ``z``, 0 within; +inf beyond the margin."""
        away = np.full(len(points), np.inf)
        high = self.corners[self.corners[..., 2].max(axis=1) > z]
        if not len(high):
            return away
        sides = _sides_above(high, z)
        for few in (some for some in in_turn(len(points), len(sides)) if len(some)):
            over, beside = _near(high[..., :2], points[few], 0.0), _near(sides, points[few], margin)
            away[few] = np.where(_within(high[over], z, points[few]), 0.0, _gaps(sides[beside], points[few]))
        return np.where(away <= margin, away, np.inf)


def _near(plan: Floats, points: Floats, margin: float) -> NDArray[np.bool_]:
    """Of figures with corners (k, c, 2) those whose boxes come within a margin of the points' box."""
    low, high = points.min(axis=0) - margin, points.max(axis=0) + margin
    return np.asarray(np.all((plan.max(axis=1) >= low) & (plan.min(axis=1) <= high), axis=1))


def is_bent(sky: Skyline, shown: Shown) -> bool:
    """Whether a face is neither flat nor an upright cone nor upright."""
    flat = face_facts(sky.body)[shown.index].kind == "plane"
    return not flat and shown.look != "upright" and flank_of(sky.body, shown.index, sky.frame) is None


def facets_of(sky: Skyline, shown: Shown, points: Floats, margin: float) -> Facets:
    """The triangles of a face whose box comes within a margin of the points' box."""
    corners = _corners(sky.body, shown.index, sky.view)
    whole, owners = _facets(sky.body, shown.index, sky.view)
    near = _near(corners[..., :2], points, margin)
    if near.all():
        return whole
    held = np.isin(np.arange(len(whole.size)), owners[near])
    return Facets(corners[near], whole.start[held], whole.height[held], whole.along[held], whole.size[held],
                  whole.gain[held])  # fmt: skip


@lru_cache(maxsize=KEPT)
def _facets(body: Body, index: int, view: View) -> tuple[Facets, NDArray[np.intp]]:
    """All of the face, and the numbers of its segments that are the sides of each triangle (k, 3); -1 for those that
    stand upright."""
    corners = _corners(body, index, view)
    ends = np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2, 3)
    ends, owners = np.unique(np.where(_later(ends)[:, None, None], ends[:, ::-1], ends), axis=0, return_inverse=True)
    across = ends[:, 1] - ends[:, 0]
    size = np.hypot(across[:, 0], across[:, 1])
    kept = size > 1e-9
    ends, across, size = ends[kept], across[kept], size[kept]
    numbers = np.where(kept, np.cumsum(kept) - 1, -1)[owners.reshape(-1, 3)]
    found = Facets(corners, ends[:, 0, :2], ends[:, 0, 2], across[:, :2] / size[:, None], size, across[:, 2] / size)
    return found, numbers


def _later(ends: Floats) -> NDArray[np.bool_]:
    """Which segments begin at the later one of their ends, by x, then y, then z."""
    a, b = ends[:, 0], ends[:, 1]
    return np.asarray(
        (a[:, 0] > b[:, 0])
        | ((a[:, 0] == b[:, 0]) & ((a[:, 1] > b[:, 1]) | ((a[:, 1] == b[:, 1]) & (a[:, 2] > b[:, 2]))))
    )


@lru_cache(maxsize=KEPT)
def _corners(body: Body, index: int, view: View) -> Floats:
    vertices, triangles, _ = triangles_of(pick(body, [index]), CHORD)
    axes = np.array([view.x, view.y, view.z])
    found = ((vertices - np.array(view.origin)) @ axes.T)[triangles]
    return np.asarray(found[_turn(found[:, 0], found[:, 1], found[:, 2]) > 1e-12])


def in_turn(count: int, width: int, at_once: int = AT_ONCE) -> list[NDArray[np.intp]]:
    """Numbers of points in so many groups that none is held to more than ``at_once`` of ``width`` things."""
    return np.array_split(np.arange(count), count * width // at_once + 1)


def _turn(a: Floats, b: Floats, c: Floats) -> Floats:
    """Twice the area of triangles in plan, positive counter-clockwise."""
    u, v = b[..., :2] - a[..., :2], c[..., :2] - a[..., :2]
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])


def _shares(corners: Floats, at: Floats) -> Floats:
    """Of places (n, k or 1, 2) in plan the shares (3, n, k) of the triangles' corners: none negative within."""
    a, b, c = (corners[None, :, k] for k in range(3))
    return np.stack([_turn(b, c, at), _turn(c, a, at), _turn(a, b, at)]) / _turn(a, b, c)


def _within(corners: Floats, z: float, points: Floats) -> NDArray[np.bool_]:
    """Whether each point lies under what of any triangle is above a height."""
    shares = _shares(corners, points[:, None])
    height = (shares * corners[..., 2].T[:, None]).sum(axis=0)
    return np.asarray(((shares >= 0).all(axis=0) & (height > z)).any(axis=1))


def _sides_above(corners: Floats, z: float) -> Floats:
    """Segments (k, 2, 2) that bound what of each triangle lies above a height."""
    ends = np.stack([corners, np.roll(corners, -1, axis=1)], axis=2)  # triangle, side, end, coordinate
    over = ends[..., 2] - z
    crosses = (over[..., 0] > 0) != (over[..., 1] > 0)
    share = np.where(crosses, over[..., 0] / np.where(crosses, over[..., 0] - over[..., 1], 1.0), 0.0)
    at = ends[..., 0, :2] + share[..., None] * (ends[..., 1, :2] - ends[..., 0, :2])
    plan = ends[..., :2].copy()
    for k in (0, 1):
        plan[..., k, :] = np.where((crosses & (over[..., k] <= 0))[..., None], at, plan[..., k, :])
    across = at[crosses].reshape(-1, 2, 2)  # a triangle that a height cuts has two such sides
    return np.concatenate([plan[(over > 0).any(axis=2)], across])


def _gaps(sides: Floats, points: Floats) -> Floats:
    """The least distance of each point from any of the segments."""
    along = sides[:, 1] - sides[:, 0]
    size = np.maximum((along**2).sum(axis=1), 1e-30)
    rel = points[:, None] - sides[None, :, 0]
    off = rel - np.clip((rel * along).sum(axis=2) / size, 0.0, 1.0)[..., None] * along
    return np.asarray(np.sqrt((off**2).sum(axis=2).min(axis=1, initial=np.inf)))


def away_from(region: Region, points: Floats, margin: float) -> Floats:
    """Distances from a region, negative inside; +inf where it is surely farther than the margin, or nothing."""
    away = np.full(len(points), np.inf)
    if region:
        low, high = np.array(region.bounds[:2]) - margin, np.array(region.bounds[2:]) + margin
        near = np.all((points >= low) & (points <= high), axis=1)
        if near.any():
            away[near] = -region.signed_distance(points[near])
    return away


def away_above(sky: Skyline, shown: Shown, z: float, points: Floats, margin: float) -> Floats:
    """The same from the metal of a face above a height."""
    if is_bent(sky, shown):
        return facets_of(sky, shown, points, margin).away(z, points, margin)
    return away_from(sky.part_above(shown, z), points, margin)
