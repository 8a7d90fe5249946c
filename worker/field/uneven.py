"""What a straight flank surely takes of a strip that stands at more than one angle: all but what may stay under it."""

from __future__ import annotations

import math

import numpy as np

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
    order = np.argsort(slopes)
    share = np.cumsum(areas[order]) / areas.sum()
    low, high = (float(slopes[order][np.searchsorted(share, at)]) for at in (SURE, 1 - SURE))
    missed = math.sin(math.radians(max(abs(low - half), abs(high - half))))
    left = _across(float(areas.sum()), bare_sides(faces)) * missed
    if left <= LENGTH:
        return faces
    if low <= 0 or missed > MOST:
        return faces[:0]
    higher: Floats = faces + np.array([0.0, 0.0, left / math.sin(math.radians(low))])
    return higher


def _across(area: float, sides: Floats) -> float:
    """How wide a strip of that area (mm2) is whose border's sides are (n, 2, 3): a ring, whose border is two loops, or
    the short side of the rectangle of that area and border; of a square where none is that long."""
    middle = float(np.linalg.norm(sides[:, 1] - sides[:, 0], axis=1).sum()) / 4
    if _loops(sides) == 2:
        return area / (2 * middle)
    return middle - math.sqrt(max(middle * middle - area, 0.0))


def _loops(sides: Floats) -> int:
    """How many closed chains sides (n, 2, 3) make: each gets the least number of what it hangs together with."""
    _, ends = np.unique(np.round(sides, 6).reshape(-1, 3), axis=0, return_inverse=True)
    ends = ends.reshape(-1, 2)
    chain = np.arange(ends.max(initial=-1) + 1)
    while True:
        least = chain[ends].min(axis=1)
        found = chain.copy()
        np.minimum.at(found, ends.ravel(), np.repeat(least, 2))
        found = np.minimum(found, found[found])
        if np.array_equal(found, chain):
            return len(np.unique(chain))
        chain = found
