"""The screw axis of a helical face: what a thread's flank turns and rises about."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, unit
from schemas.tolerances import SCREW_NORMAL
from worker.kernel.graph_surface import LEAST, moments, size_of, spread

Array = NDArray[np.float64]

CLEAR = 20.0
"""Every other motion must fit worse by this factor, or the face is no screw but a piece of something simpler."""


@dataclass(frozen=True, slots=True)
class Helix:
    """A screw motion that maps a surface onto itself: a point of its axis (mm), its direction, its lead.

    ``lead``: rise a turn along the axis (mm), positive for a right-hand screw; the axis' sense does not matter.
    ``inward``: the outward normals look towards the axis on average, as in a nut. ``taper``: what the thread moves
    away from the axis for each mm along it, from ``origin`` on; one flank alone does not tell it from its lead.
    """

    origin: Vec3
    axis: Vec3
    lead: float
    inward: bool
    taper: float = 0.0


def helix_of(points: Array, normals: Array, values: Array | None = None) -> Helix | None:
    """The screw motion of sampled points (n, 3) with unit normals (n, 3); None where none fits.

    ``values``: their ``spread``, where that is known.

    A surface that a screw motion about axis ``a`` through ``c`` maps onto itself has n . (a x (p - c) + h a) = 0
    with h the lead over 2 pi: linear in ``a`` and ``h a - a x c``. A lead of zero is a surface of revolution, a
    vanishing ``a`` an extrusion; both are no screw.
    """
    if len(points) < LEAST:
        return None
    values = spread(points, normals) if values is None else values
    if values[4] < CLEAR * values[5]:
        return None
    shift, size = points.mean(axis=0), size_of(points)
    vectors = np.linalg.svd(moments(points, normals), full_matrices=False)[2]
    turn, slide = vectors[5][:3], vectors[5][3:] * size
    length = float(np.linalg.norm(turn))
    if length < 1e-6:
        return None
    axis, about = turn / length, slide / length
    rise = float(axis @ about)
    foot = np.cross(axis, about) + shift
    if abs(rise) < 1e-6 * size or not _swept(points, normals, axis, foot, rise):
        return None
    radial = points - foot - np.outer((points - foot) @ axis, axis)
    inward = bool((normals * radial).sum() < 0)
    return Helix(_vec(foot), unit(_vec(axis)), 2 * math.pi * rise, inward)


def _swept(points: Array, normals: Array, axis: Array, foot: Array, rise: float) -> bool:
    motion = np.cross(axis, points - foot) + rise * axis
    sines = np.abs((motion * normals).sum(axis=1)) / np.linalg.norm(motion, axis=1)
    return bool(sines.max() < SCREW_NORMAL)


def _vec(a: Array) -> Vec3:
    return (float(a[0]), float(a[1]), float(a[2]))
