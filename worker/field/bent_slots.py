"""Where a slot that runs in a circle lies, from the triangles of its own walls: between its round ends; where others of
its depth end it as far as its walls go, and as far again as it is wide (mm)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from schemas.feature import Feature
from schemas.tolerances import ON_AXIS, SAME_ANGLE, SAME_LENGTH
from worker.field.arcs import circles_through
from worker.field.lines import Floats
from worker.field.plane import Disc, Everywhere, Join, Minus, Outline, Region

FAN = 17
"""A piece of a ring is seen from its middle within so many directions, no two of which look away from each other."""


def bent_slot(feature: Feature, walls: Floats, owner: NDArray[np.int32]) -> Region | None:
    """The plan of a slot in a circle by its upright walls (n, 3, 3) and the face of each; None without an outer one."""
    middle, half = (feature.diameter or 0.0) / 2, (feature.width or 0.0) / 2
    _, group = np.unique(owner, return_inverse=True)
    circles = circles_through(walls[:, :, :2].reshape(-1, 2), np.repeat(group, 3))
    outer = circles[np.abs(circles[:, 2] - middle - half) <= SAME_LENGTH]
    if not len(outer):
        return None
    centre = outer[0, :2]
    x, y = centre.tolist()
    ring = Minus(Disc(x, y, middle + half), Disc(x, y, middle - half))
    if feature.ends == "loop":
        return ring
    off = np.hypot(*(circles[:, :2] - centre).T)
    sides = np.flatnonzero((off <= ON_AXIS) & (np.abs(np.abs(circles[:, 2] - middle) - half) <= SAME_LENGTH))
    ends = _apart(circles[np.abs(off - middle) <= ON_AXIS, :2])
    start, sweep = _covered(walls[np.isin(group, sides)][:, :, :2] - centre)
    if len(ends) == 2:
        start, sweep = _between(ends - centre, start + sweep / 2)
    else:
        start, sweep = _onward(start, sweep, ends - centre, 2 * half / middle)
    discs = (Disc(u, v, half) for u, v in ends.tolist())
    return Join((_seen(ring, centre, start, sweep), *discs))


def _apart(points: Floats) -> Floats:
    """Points (n, 2) without those that are where another is."""
    kept = [k for k, p in enumerate(points) if np.all(np.hypot(*(points[:k] - p).T) > ON_AXIS)]
    return points[kept]


def _covered(triangles: Floats) -> tuple[float, float]:
    """The angle at which walls (n, 3, 2) seen from the origin begin, and how far they go round (rad), but for the
    widest gap between them."""
    angles = np.arctan2(triangles[:, :, 1], triangles[:, :, 0])
    rest = np.remainder(angles - angles[:, :1] + math.pi, math.tau) - math.pi
    start, size = np.remainder(angles[:, 0] + rest.min(axis=1), math.tau), np.ptp(rest, axis=1)
    order = np.argsort(start, kind="stable")
    start, size = start[order], size[order]
    begins = np.append(start, start[0] + math.tau)
    gaps = begins[1:] - np.maximum.accumulate(start + size)
    widest = int(np.argmax(gaps))
    return float(begins[widest + 1]), math.tau - float(gaps[widest])


def _between(ends: Floats, through: float) -> tuple[float, float]:
    """Angle of one end seen from the origin, and the turn (rad) to the other by way of a direction."""
    start, stop = np.arctan2(ends[:, 1], ends[:, 0]).tolist()
    sweep = (stop - start) % math.tau
    return (start, sweep) if (through - start) % math.tau < sweep else (stop, math.tau - sweep)


def _onward(start: float, sweep: float, ends: Floats, more: float) -> tuple[float, float]:
    """A turn that goes on by so much (rad) at each end at which there is no round one (n, 2)."""
    more = min(more, (math.tau - sweep) / 3)
    round_ = np.arctan2(ends[:, 1], ends[:, 0])
    gaps = [np.abs(np.remainder(round_ - at + math.pi, math.tau) - math.pi) for at in (start, start + sweep)]
    before, after = (0.0 if np.any(gap < SAME_ANGLE) else more for gap in gaps)
    return start - before, sweep + before + after


def _seen(ring: Region, centre: Floats, start: float, sweep: float) -> Region:
    """What of a ring is seen from its middle within a turn."""
    angles = start + sweep * np.linspace(0.0, 1.0, FAN)
    far = centre + 1e3 * np.stack((np.cos(angles), np.sin(angles)), axis=1)
    corners = np.concatenate((centre[None], far))
    wedge = Outline(np.stack((corners, np.roll(corners, -1, axis=0)), axis=1))
    return Minus(ring, Minus(Everywhere(), wedge))
