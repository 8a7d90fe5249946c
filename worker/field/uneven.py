"""What a straight flank surely takes of a strip that stands at more than one angle: all but what may stay under it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import LENGTH
from worker.field.lines import Floats
from worker.field.solids import bare_sides

SURE = 0.01
"""This share of a face's triangles, by area, at either end of their angles may be slivers, which tell none."""

MOST = 0.5
"""A flank that stands off the strip by more of its width takes nothing of it."""


def under_flank(faces: Floats, slopes: Floats, half: float) -> Floats:
    """The triangles of one face, brought up by what a flank of ``half`` degrees off the upright may leave on them.

    ``faces``: (n, 3, 3), mm, spindle along z; ``slopes``: (n,), degrees off the upright. Ours: it leaves at most the
    width of the strip times the sine of what the angles differ.
    """
    areas = np.linalg.norm(np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0]), axis=1) / 2
    sides = bare_sides(faces)
    low, high = _of_cone(sides, float(np.average(slopes, weights=areas))) or _of_most(slopes, areas)
    missed = math.sin(math.radians(max(abs(low - half), abs(high - half))))
    left = _across(float(areas.sum()), sides) * missed
    if left <= LENGTH:
        return faces
    if low <= 0 or missed > MOST:
        return faces[:0]
    higher: Floats = faces + np.array([0.0, 0.0, left / math.sin(math.radians(low))])
    return higher


def _of_most(slopes: Floats, areas: Floats) -> tuple[float, float]:
    """The least and the largest of all but a few slopes (degrees)."""
    order = np.argsort(slopes)
    share = np.cumsum(areas[order]) / areas.sum()
    low, high = (float(slopes[order][np.searchsorted(share, at)]) for at in (SURE, 1 - SURE))
    return low, high


def _of_cone(sides: Floats, middle: float) -> tuple[float, float] | None:
    """The same of a cone between two circles about one axis, whichever way that lies; ``middle`` is a slope of its own.
    None for any other strip. Its triangles lean to either side of it, the more the narrower it is: its rims tell."""
    chain = _chains(sides)
    rims = [_circle(sides[chain == number]) for number in np.unique(chain)]
    if len(rims) != 2:
        return None
    (first, wide, off), (second, narrow, also_off) = rims
    rise = float(np.linalg.norm(second - first))
    if max(off, also_off) > LENGTH or rise < LENGTH:
        return None
    upright, lean = abs(float((second - first)[2])) / rise, math.atan2(abs(wide - narrow), rise)
    along, across = math.sin(lean) * upright, math.cos(lean) * math.sqrt(max(1.0 - upright**2, 0.0))
    along = math.copysign(along, middle)
    low, high = (math.degrees(math.asin(max(-1.0, min(1.0, one)))) for one in (along - across, along + across))
    return low, high


def _circle(sides: Floats) -> tuple[Floats, float, float]:
    """Middle (3,), radius and greatest deviation (mm) of the ends of sides from a circle."""
    points = np.unique(np.round(sides.reshape(-1, 3), 9), axis=0)
    from_ = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - from_, full_matrices=False)
    plan = (points - from_) @ axes[:2].T
    known = np.linalg.lstsq(np.column_stack((2 * plan, np.ones(len(plan)))), (plan**2).sum(axis=1), rcond=None)[0]
    radius = math.sqrt(max(float(known[2] + known[:2] @ known[:2]), 0.0))
    off = np.hypot(np.hypot(*(plan - known[:2]).T) - radius, (points - from_) @ axes[2])
    return from_ + known[:2] @ axes[:2], radius, float(off.max())


def _across(area: float, sides: Floats) -> float:
    """How wide a strip of that area (mm2) is whose border's sides are (n, 2, 3): a ring, whose border is two loops, or
    the short side of the rectangle of that area and border; of a square where none is that long."""
    middle = float(np.linalg.norm(sides[:, 1] - sides[:, 0], axis=1).sum()) / 4
    if len(np.unique(_chains(sides))) == 2:
        return area / (2 * middle)
    return middle - math.sqrt(max(middle * middle - area, 0.0))


def _chains(sides: Floats) -> NDArray[np.intp]:
    """For each of the sides (n, 2, 3) the number of the chain it hangs together with."""
    _, ends = np.unique(np.round(sides, 6).reshape(-1, 3), axis=0, return_inverse=True)
    ends = ends.reshape(-1, 2)
    chain = np.arange(ends.max(initial=-1) + 1)
    while True:
        found = chain.copy()
        np.minimum.at(found, ends.ravel(), np.repeat(chain[ends].min(axis=1), 2))
        found = np.minimum(found, found[found])
        if np.array_equal(found, chain):
            return np.asarray(chain[ends[:, 0]])
        chain = found
