"""How the flanks of a modelled thread lie on their screw axis: how many starts they make, and how steep they are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from worker.kernel.graph_helix import Helix

Array = NDArray[np.float64]

MOST_STARTS = 12
"""More starts than this are no thread but a gear or a spline."""
EVEN = 0.05
"""Starts stand evenly round the axis, each within this share of the pitch of its place."""
CRUMB = 0.05
"""A piece of a flank with less than this share of the largest one's area says nothing of the form."""
SLIM = 0.2
"""... nor one that reaches over less than this share of the largest one's width."""


@dataclass(frozen=True, slots=True)
class Form:
    """``starts``: threads that run side by side, 0 where they do not stand evenly. ``flank``: angle of the flanks
    against a plane square to the axis (rad), as the section along the axis shows it.
    """

    starts: int
    flank: float


@dataclass(frozen=True, eq=False)
class Flank:
    """A piece of a flank: its points (n, 3), its area (mm2), and whether it looks along the screw's axis."""

    points: Array
    area: float
    ahead: bool


@dataclass(frozen=True, slots=True)
class _Line:
    """A flank in a section along the axis: where it stands at the middle radius, its slope, its width (mm)."""

    at: float
    slope: float
    width: float


def from_axis(points: Array, helix: Helix) -> tuple[Array, Array]:
    """Distance from the screw's axis, less what a taper adds to it above its origin, and height along it (mm)."""
    rest = points - np.array(helix.origin)
    along = rest @ np.array(helix.axis)
    radial = np.linalg.norm(rest - np.outer(along, helix.axis), axis=1)
    return radial - helix.taper * along, along


def form_of(flanks: Sequence[Flank], helix: Helix) -> Form:
    """The form of flanks that one screw motion maps onto themselves."""
    large = [f for f in flanks if f.area >= CRUMB * max(g.area for g in flanks)]
    middle = float(np.mean([from_axis(f.points, helix)[0].mean() for f in large]))
    lines = [(f.ahead, _line(f.points, helix, middle)) for f in large]
    widest = max(line.width for _, line in lines)
    lines = [(ahead, line) for ahead, line in lines if line.width > SLIM * widest]
    counts = [_evenly([line.at for ahead, line in lines if ahead is side], abs(helix.lead)) for side in (False, True)]
    known = [count for count in counts if count is not None]
    slope = float(np.median([abs(line.slope) for _, line in lines]))
    return Form(0 if 0 in known else max(known), math.atan(slope))


def slope_of(points: Array, helix: Helix) -> float:
    """Rise of a flank for each mm away from the axis."""
    return _line(points, helix, 0.0).slope


def _line(points: Array, helix: Helix, middle: float) -> _Line:
    radii, along = from_axis(points, helix)
    rest = points - np.array(helix.origin)
    side = np.array(_square(helix))
    turn = np.arctan2(rest @ np.cross(helix.axis, side), rest @ side)
    lead = abs(helix.lead)
    at = along - helix.lead * turn / (2 * math.pi)
    at = at[0] + (at - at[0] + lead / 2) % lead - lead / 2
    width = float(np.ptp(radii))
    slope = float(np.polyfit(radii - middle, at, 1)[0]) if width > 1e-6 * lead else 0.0
    return _Line(float((at - slope * (radii - middle)).mean()), slope, width)


def _square(helix: Helix) -> Array:
    """A unit vector square to the axis."""
    axis = np.array(helix.axis)
    found = np.cross(axis, np.eye(3)[int(np.abs(axis).argmin())])
    return np.asarray(found / np.linalg.norm(found))


def _evenly(places: Sequence[float], lead: float) -> int | None:
    """How many different places there are on one lead, 0 where they do not stand evenly; None of none."""
    if not places:
        return None
    turns = np.sort(np.array(places) / lead % 1)
    gaps = np.diff(np.append(turns, turns[0] + 1))
    count = max(1, int((gaps > 0.5 / MOST_STARTS).sum()))
    off = (turns - turns[0]) * count
    return count if np.abs(off - np.round(off)).max() <= EVEN else 0
