"""How tightly free forms are hollow: by the quadrics through corners of their triangles, which lie on them (mm)."""

from __future__ import annotations

import math

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from worker.field.lines import Floats, Ints

NEAREST, MOST_POINTS = 12, 600
"""Neighbours of a corner through which a quadric is laid, and corners of a face that are asked at most."""
MOSTLY, EVEN = 0.7, 0.05
"""Share of a face's corners at which a quadric must tell something; how evenly their neighbours must lie for that."""
STRAIGHT = 1e-4
"""Curvature (1/mm) below which a face is not hollow."""


def folded(triangles: Floats, share: float) -> float:
    """The radius than which a share of a free form is no tighter, by the angles at which neighbouring triangles meet:
    also where the mesher spanned it by few. Chords of a circle meet at half of what both turn, infinite where it is
    hollow nowhere."""
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(across, axis=1)
    triangles, up, size = (some[size > COINCIDENT**2] for some in (triangles, across, size))
    up = up / size[:, None]
    a, b = _neighbours(triangles)
    one, other, k = a // 3, b // 3, a % 3
    side = triangles[one, (k + 1) % 3] - triangles[one, k]
    beyond = triangles[other, (b % 3 + 2) % 3] - triangles[one, k]
    rises = np.sum(beyond * up[one], axis=1) > 0
    turn = np.arctan2(np.linalg.norm(np.cross(up[one], up[other]), axis=1), np.sum(up[one] * up[other], axis=1))
    wide = (size[one] + size[other]) / np.maximum(np.linalg.norm(side, axis=1), COINCIDENT)
    bend = np.where(rises, 4 * np.sin(turn / 2) / wide, 0.0)
    most = np.zeros(len(triangles))
    np.maximum.at(most, np.concatenate((one, other)), np.concatenate((bend, bend)))
    tightest = float(np.quantile(most, share)) if len(most) else 0.0
    return 1 / tightest if tightest > STRAIGHT else math.inf


def _neighbours(triangles: Floats) -> tuple[Ints, Ints]:
    """Pairs of sides, by three times the triangle's number and the corner that they begin at, that two triangles
    share."""
    name = np.unique(np.round(triangles.reshape(-1, 3) / LENGTH), axis=0, return_inverse=True)[1].reshape(-1, 3)
    first, second = name.reshape(-1), name[:, (1, 2, 0)].reshape(-1)
    key, back = first * (int(name.max(initial=0)) + 1) + second, second * (int(name.max(initial=0)) + 1) + first
    order = np.argsort(key, kind="stable")
    at = order[np.minimum(np.searchsorted(key[order], back), max(len(key) - 1, 0))]
    met = np.flatnonzero((key[at] == back) & (np.arange(len(key)) < at))
    return met, at[met]


def bent(triangles: Floats, share: float) -> float | None:
    """The radius than which a share of a free form is no tighter, to a tenth or so: by the quadric through each
    corner's nearest others. None for faces whose corners are too few, or lie in rows too far apart for that."""
    corners = triangles.reshape(-1, 3)
    _, first, name = np.unique(np.round(corners / LENGTH), axis=0, return_index=True, return_inverse=True)
    points = corners[first]
    if len(points) <= NEAREST:
        return None
    normals = np.zeros_like(points)
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    np.add.at(normals, name.reshape(-1), np.repeat(across, 3, axis=0))
    some = np.arange(0, len(points), -(-len(points) // MOST_POINTS))
    away = np.sum((points[some, None] - points[None]) ** 2, axis=2)
    near = np.argpartition(away, NEAREST, axis=1)[:, : NEAREST + 1]
    found = _curvatures(points[some], normals[some], points[near])
    told = np.isfinite(found)
    if told.mean() < MOSTLY:
        return None
    most = float(np.quantile(found[told], share))
    return 1 / most if most > STRAIGHT else math.inf


def _curvatures(points: Floats, normals: Floats, near: Floats) -> Floats:
    """The largest curvature (1/mm) towards its normal at each point; nan where its neighbours do not tell."""
    up = normals / np.maximum(np.linalg.norm(normals, axis=1), COINCIDENT**2)[:, None]
    first = np.cross(up, np.where(np.abs(up[:, 2:]) < 0.9, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)))
    first /= np.linalg.norm(first, axis=1)[:, None]
    gap = near - points[:, None]
    u, v, w = (np.einsum("ijk,ik->ij", gap, axis) for axis in (first, np.cross(up, first), up))
    reach = np.sqrt(np.max(u * u + v * v, axis=1))[:, None]
    u, v, w = u / reach, v / reach, w / reach
    terms = np.stack((u * u / 2, u * v, v * v / 2, u, v), axis=2)
    a, b, c, d, e = np.einsum("ijk,ik->ji", np.linalg.pinv(terms), w)
    largest = ((a + c) / 2 + np.hypot((a - c) / 2, b)) / np.sqrt(1 + d * d + e * e) / reach[:, 0]
    spread = np.linalg.svd(terms, compute_uv=False)
    return np.where(spread[:, -1] > EVEN * spread[:, 0], largest, np.nan)
