"""How far curved faces reach inside their boundary: balls, rings and points of cones, exactly; free forms by mesh."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from schemas.base import Vec3, add, dot, norm, scale, unit
from schemas.tolerances import COINCIDENT
from worker.kernel.graph_surface import crossed
from worker.recognise.patches import Patch

BULGING = frozenset({"sphere", "torus", "cone", "other"})
"""Carriers that can reach further than their boundary; planes and cylinders cannot."""


def bulge_extent(patch: Patch, direction: Vec3) -> tuple[float, float]:
    """Least and greatest height along a direction of the patch's inner extremes (mm).

    Those of the carrier itself where they lie on the patch, else of its triangles' corners, which lie on the carrier.
    """
    low, high = patch.span(direction)
    heights = [dot(p, direction) for p in _extremes(patch, direction)]
    return min([low, *heights]), max([high, *heights])


def _extremes(patch: Patch, direction: Vec3) -> list[Vec3]:
    """Places on the patch whose normal runs along the direction."""
    surface = patch.surface
    if surface.kind == "sphere":
        poles = [scale(direction, way * surface.radius) for way in (1.0, -1.0)]
        return [add(surface.origin, p) for p in poles if _hit(patch, surface.origin, p)]
    return _ring_extremes(patch, direction) if surface.kind == "torus" else []


def _ring_extremes(patch: Patch, direction: Vec3) -> list[Vec3]:
    surface = patch.surface
    along = dot(direction, surface.axis)
    sideways = add(direction, surface.axis, -along)
    if norm(sideways) < COINCIDENT:
        return [add(surface.origin, scale(surface.axis, w * surface.minor)) for w in (1.0, -1.0) if _crest(patch, w)]
    middles = [scale(unit(sideways), way * surface.radius) for way in (1.0, -1.0)]
    tries = [(add(surface.origin, m), scale(direction, w * surface.minor)) for m in middles for w in (1.0, -1.0)]
    return [add(start, reach) for start, reach in tries if _hit(patch, start, reach)]


def _crest(patch: Patch, way: float) -> bool:
    """True when the patch lies on both sides of its ring's highest (or lowest) circle."""
    surface = patch.surface
    rest = patch.vertices - np.array(surface.origin)
    along = rest @ np.array(surface.axis)
    radial = np.linalg.norm(rest - np.outer(along, surface.axis), axis=1)[way * along > COINCIDENT]
    return bool(len(radial)) and bool(radial.min() < surface.radius - COINCIDENT < radial.max() - 2 * COINCIDENT)


def _hit(patch: Patch, start: Vec3, reach: Vec3) -> bool:
    """True when the line from a centre out to a place of the carrier pierces the patch near that place."""
    corners = patch.corners
    line = np.array(reach)
    e1, e2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    h = crossed(line[None], e2)
    det = np.einsum("ij,ij->i", e1, h)
    safe = np.where(np.abs(det) > 1e-14, det, np.inf)
    s = np.array(start) - corners[:, 0]
    q = crossed(s, e1)
    u, v, t = np.einsum("ij,ij->i", s, h) / safe, (q @ line) / safe, np.einsum("ij,ij->i", e2, q) / safe
    return bool(((u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9) & (t > 0.5) & (t < 1.5)).any())


def mean_normal(patches: Iterable[Patch]) -> Vec3 | None:
    """Unit direction of the patches' area vectors; None where they cancel."""
    total = area_vector(patches)
    return unit(total) if norm(total) > COINCIDENT else None


def area_vector(patches: Iterable[Patch]) -> Vec3:
    """The patches' normals summed over their areas (mm2)."""
    total: Vec3 = (0.0, 0.0, 0.0)
    for patch in patches:
        total = add(total, patch.looks)
    return total
