"""Walls that run on past a closed ring of walls: a sill level with the floor of what a window leads into (mm)."""

from __future__ import annotations

import numpy as np

from worker.field.lines import Floats, Ints, Mask


def without_spurs(sides: Floats, decimals: int) -> Floats:
    """The sides (n, 2, 2) without those that hang on a closed ring of others and lead nowhere.

    Ends are the same to so many decimals (mm); what hangs together without any ring stays as it is.
    """
    _, name = np.unique(np.round(sides.reshape(-1, 2), decimals), axis=0, return_inverse=True)
    ends: Ints = name.reshape(-1, 2)
    if not len(ends) or np.bincount(ends.ravel()).max() <= 2:  # nothing hangs on anything
        return sides
    ring = _in_rings(ends)
    together = _together(ends)
    return np.asarray(sides[ring | ~np.isin(together, together[ring])])


def _in_rings(ends: Ints) -> Mask:
    """Which of the sides, each from one numbered point to another, do not lead out of nowhere or nowhere."""
    kept, before = np.ones(len(ends), bool), len(ends) + 1
    while before > kept.sum():
        before = int(kept.sum())
        kept &= np.isin(ends[:, 0], ends[kept, 1]) & np.isin(ends[:, 1], ends[kept, 0])
    return kept


def _together(ends: Ints) -> Ints:
    """A number for each side, the same for those that hang together."""
    points = np.arange(int(ends.max(initial=-1)) + 1)
    while True:
        found = points.copy()
        least = points[ends].min(axis=1)
        for k in (0, 1):
            np.minimum.at(found, ends[:, k], least)
        if np.array_equal(found, points):
            return np.asarray(least, dtype=np.int64)
        points = found


def without_nicks(walled: Mask, size: Floats, least: float) -> Mask:
    """Sides of a closed border (n,) at which a wall stands, with those between two such that are no longer together
    than ``least`` (mm): no cutter gets out there, and beside a sharp edge of metal one looks past it."""
    found, count = walled.copy(), len(walled)
    for first in np.flatnonzero(~walled & np.roll(walled, 1)).tolist():
        run = first + np.arange(int(np.argmax(np.roll(walled, -first))))
        found[run % count] = size[run % count].sum() <= least
    return found
