"""What a straight flank surely takes of a strip that stands at more than one angle: all but what may stay under it."""

from __future__ import annotations

import math

import numpy as np

from schemas.tolerances import LENGTH
from worker.field.lines import Floats

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
    left = _across(float(areas.sum()), _border(faces)) * missed
    if left <= LENGTH:
        return faces
    if low <= 0 or missed > MOST:
        return faces[:0]
    higher: Floats = faces + np.array([0.0, 0.0, left / math.sin(math.radians(low))])
    return higher


def _across(area: float, border: float) -> float:
    """The short side of the rectangle of that area and border (mm2, mm); of a square where none is that long."""
    middle = border / 4
    return middle - math.sqrt(max(middle * middle - area, 0.0))


def _border(faces: Floats) -> float:
    """Length of the edges that one triangle alone has (mm)."""
    ends = np.round(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), 6)
    lower = np.array([sorted(map(tuple, pair)) for pair in ends.tolist()])
    _, first, counts = np.unique(lower.reshape(len(lower), 6), axis=0, return_index=True, return_counts=True)
    own = lower[first[counts == 1]]
    return float(np.linalg.norm(own[:, 1] - own[:, 0], axis=1).sum())
