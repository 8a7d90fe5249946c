"""Outward normals of simple surfaces at many points."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from worker.kernel.graph_surface import Surface

Array = NDArray[np.float64]


def normals_on(surfaces: Sequence[Surface], owner: NDArray[np.int64], points: Array) -> Array:
    """The outward unit normals (n, 3) at points (n, 3), each on that surface of its owner; null on free forms."""
    kinds: dict[str, list[int]] = defaultdict(list)
    for n, surface in enumerate(surfaces):
        kinds[surface.kind].append(n)
    found, of = np.zeros(points.shape), np.zeros(len(surfaces), np.int64)
    for place, members in enumerate(kinds.values()):
        of[members] = place
    for place, kind in enumerate(kinds):
        own = np.flatnonzero(of[owner] == place)
        if kind == "plane":
            found[own] = np.array([s.axis for s in surfaces])[owner[own]]
        elif kind != "other":
            out = away_from(points[own], kind, surfaces, owner[own])
            size = np.linalg.norm(out, axis=1)
            sides = np.array([-1.0 if s.hollow else 1.0 for s in surfaces])[owner[own]]
            found[own] = out * (sides / np.where(size > 0.0, size, 1.0))[:, None]
    return found


def away_from(points: Array, kind: str, surfaces: Sequence[Surface], owner: NDArray[np.int64]) -> Array:
    """Vectors square to round surfaces, away from the axis, centre or the middle of the tube."""
    axis = np.array([s.axis for s in surfaces])[owner]
    rest: Array = points - np.array([s.origin for s in surfaces])[owner]
    if kind == "sphere":
        return rest
    radial: Array = rest - np.einsum("ij,ij->i", rest, axis)[:, None] * axis
    if kind == "cylinder":
        return radial
    radial_unit = radial / np.maximum(np.linalg.norm(radial, axis=1), 1e-12)[:, None]
    if kind == "torus":
        return np.asarray(rest - radial_unit * np.array([s.radius for s in surfaces])[owner, None])
    slope = np.array([s.half_angle for s in surfaces])[owner, None]
    return np.asarray(radial_unit * np.cos(slope) - np.sin(slope) * axis)
