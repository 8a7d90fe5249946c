"""Triangles cut off at feet: of a wall that goes on down into something else only what lies above its foot counts."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3
from schemas.tolerances import SIGHT_MARGIN

Feet = tuple[tuple[Vec3, float], ...]
"""Directions (unit), each with the height along it (mm) above which something counts."""
Corners = NDArray[np.float64]
Polygon = list[NDArray[np.float64]]


def above(corners: Corners, feet: Feet) -> tuple[Corners, NDArray[np.intp]]:
    """What of triangles (n, 3, 3) lies above all feet, as triangles, and the number of the one that each is of.

    Those that reach below a foot by less than half the margin of sight stay whole: what stands there covers nothing.
    """
    of = np.arange(len(corners))
    for axis, height in feet:
        corners, which = _above_one(corners, np.array(axis), height - SIGHT_MARGIN / 2)
        of = of[which]
    return corners, of


def _above_one(corners: Corners, axis: NDArray[np.float64], height: float) -> tuple[Corners, NDArray[np.intp]]:
    places = corners @ axis
    whole = places.min(axis=1) >= height
    cut = np.flatnonzero(~whole & (places.max(axis=1) > height))
    pieces = [(int(n), piece) for n in cut for piece in _fan(_clipped(list(corners[n]), axis, height))]
    of = np.array([*np.flatnonzero(whole), *(n for n, _ in pieces)], dtype=np.intp)
    return np.concatenate([corners[whole], *(piece[None] for _, piece in pieces)]), of


def _clipped(polygon: Polygon, axis: NDArray[np.float64], height: float) -> Polygon:
    found: Polygon = []
    for p, q in zip(polygon, polygon[1:] + polygon[:1], strict=True):
        a, b = float(p @ axis) - height, float(q @ axis) - height
        found += [p] if a >= 0 else []
        found += [p + (q - p) * (a / (a - b))] if (a >= 0) != (b >= 0) else []
    return found


def _fan(polygon: Polygon) -> list[Corners]:
    return [np.stack([polygon[0], p, q]) for p, q in pairwise(polygon[1:])]
