"""How far round an axis patches go, and whether they turn about it."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, add, any_frame, cross, dot, norm, sub
from schemas.tolerances import COAXIAL, COINCIDENT, ON_AXIS, SAME_LENGTH
from worker.recognise.patches import Patch


def turn_of(patches: Iterable[Patch], origin: Vec3, axis: Vec3) -> float:
    """How far round the axis the patches go (rad), gaps not counted."""
    patches = tuple(patches)
    if any(_goes_round(patch, origin, axis) for patch in patches):
        return math.tau
    starts, ends = _arcs(patches, origin, axis)
    return _covered(starts, ends) if len(starts) else 0.0


def widest_gap(patches: Iterable[Patch], origin: Vec3, axis: Vec3) -> float:
    """The widest angle (rad) about the axis in which none of the patches lies; a whole turn where there are none."""
    low, high, before = _in_order(*_arcs(patches, origin, axis))
    if not len(low):
        return math.tau
    return max(float((low[1:] - before[1:]).max(initial=0.0)), float(low[0] + math.tau - high.max()))


def _arcs(patches: Iterable[Patch], origin: Vec3, axis: Vec3) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the triangles of some patches begin and end, seen from an axis (radians); what lies on the axis itself, as
    the tip of a cone does, is seen nowhere."""
    frame = any_frame(origin, axis)
    basis = np.array([frame.x, frame.y])
    starts, ends = [np.zeros(0)], [np.zeros(0)]
    for patch in patches:
        flat = (patch.corners - np.array(origin)) @ basis.T
        angles, away = np.arctan2(flat[..., 1], flat[..., 0]), np.hypot(flat[..., 0], flat[..., 1])
        farthest = np.take_along_axis(angles, away.argmax(axis=1)[:, None], axis=1)
        angles = np.where(away < SAME_LENGTH, farthest, angles)
        rest = (angles - angles[:, :1] + math.pi) % (2 * math.pi) - math.pi
        starts.append(angles[:, 0] + rest.min(axis=1))
        ends.append(angles[:, 0] + rest.max(axis=1))
    return np.concatenate(starts), np.concatenate(ends)


def _goes_round(patch: Patch, origin: Vec3, axis: Vec3) -> bool:
    """True where a whole circle about the axis bounds the patch."""
    return patch.surface.kind in ("cylinder", "cone", "plane") and any(
        abs(dot(square, axis)) > 1 - 1e-9 and max(map(abs, cross(sub(middle, origin), axis))) < COINCIDENT
        for middle, square in patch.border.circles
    )


def _covered(starts: NDArray[np.float64], ends: NDArray[np.float64]) -> float:
    """How much of a circle (rad) some arcs cover together; none is longer than half of it."""
    low, high, before = _in_order(starts, ends)
    return float(np.maximum(high - np.maximum(low, before), 0.0).sum())


def _in_order(starts: NDArray[np.float64], ends: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Arcs by where they begin on one circle, where they end, and how far those before them reach."""
    whole = 2 * math.pi
    turns = np.floor(starts / whole) * whole
    starts, ends = starts - turns, ends - turns
    over = ends > whole
    low = np.concatenate([starts, np.zeros(int(over.sum()))])
    high = np.concatenate([np.minimum(ends, whole), ends[over] - whole])
    order = np.argsort(low, kind="stable")
    low, high = low[order], high[order]
    return low, high, np.concatenate([[0.0], np.maximum.accumulate(high)[:-1]])


def coaxial(patch: Patch, origin: Vec3, axis: Vec3) -> bool:
    """True when a round patch turns about the axis (a sphere: has its centre on it)."""
    surface = patch.surface
    gap = sub(surface.origin, origin)
    off = norm(add(gap, axis, -dot(gap, axis)))
    if surface.kind == "sphere":
        return off < ON_AXIS
    return surface.kind in ("cylinder", "cone", "torus") and off < ON_AXIS and norm(cross(surface.axis, axis)) < COAXIAL
