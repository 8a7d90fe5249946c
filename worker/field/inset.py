"""Outlines moved aside: the border of what lies further than an amount from an outline, on its left (mm).

What a cutter that goes past walls keeps off is the part less a strip along its walls. Where walls meet in a corner that
is hollow seen from the metal, the new border is an arc about it; where they meet in an edge, two of its sides cross.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from worker.field.lines import Floats, Ints, Mask

SAGITTA = 2e-5
"""How far the chords of arcs stay within them."""
SAME = 1e-5
"""Ends this near to each other are one corner."""
NEARER = 1e-6
"""So much nearer than the amount a side may lie and still be the border: a bit of a side that is too long by it harms
nothing."""
LEAST = 1e-9


def inset(sides: Floats, amount: float, distances: Callable[[Floats, float], Floats]) -> Floats:
    """The border (n, 2, 2) of what lies left of sides (n, 2, 2) and further than an amount from all of them.

    ``distances``: how far points (n, 2) lie off the sides, up to a reach.
    """
    way = sides[:, 1] - sides[:, 0]
    size = np.hypot(*way.T)
    sides, way = sides[size > LEAST], way[size > LEAST] / size[size > LEAST][:, None]
    left = np.stack((-way[:, 1], way[:, 0]), axis=1)
    moved = np.concatenate((sides + amount * left[:, None], _round_corners(sides, left, amount)))
    pieces = _parted(moved)
    return pieces[distances(pieces.mean(axis=1), amount) >= amount - NEARER]


def _round_corners(sides: Floats, left: Floats, amount: float) -> Floats:
    """Arcs about the corners at which the way turns right, as chords; all round where nothing goes on."""
    before, after = _following(sides)
    turn = _turn(left[before], left[after])
    right = turn < 0
    begins = np.setdiff1d(np.arange(len(sides)), after)
    ended = np.setdiff1d(np.arange(len(sides)), before)
    middle = np.concatenate((sides[before[right], 1], sides[begins, 0], sides[ended, 1]))
    first = np.concatenate((left[before[right]], left[begins], left[ended]))
    angle = np.concatenate((turn[right], np.full(len(begins) + len(ended), -math.tau)))
    start = np.arctan2(first[:, 1], first[:, 0])
    count = np.ceil(np.abs(angle) / math.acos(1 - min(SAGITTA / amount, 1.0)) / 2).astype(np.int64)
    which = np.repeat(np.arange(len(count)), count)
    k = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    at = start[which, None] + angle[which, None] * (k[:, None] + (0, 1)) / count[which, None]
    return np.asarray(middle[which, None] + amount * np.stack((np.cos(at), np.sin(at)), axis=2))


def _following(sides: Floats) -> tuple[Ints, Ints]:
    """Pairs of sides of which the second begins where the first ends."""
    named = np.unique(np.round(sides.reshape(-1, 2) / SAME), axis=0, return_inverse=True)[1].reshape(-1, 2)
    order = np.argsort(named[:, 0], kind="stable")
    place = np.minimum(np.searchsorted(named[order, 0], named[:, 1]), len(sides) - 1)
    fits = named[order[place], 0] == named[:, 1]
    return np.flatnonzero(fits), order[place[fits]]


def _turn(a: Floats, b: Floats) -> Floats:
    """The angle from one direction (n, 2) to another."""
    return np.asarray(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], np.sum(a * b, axis=1)))


def _parted(sides: Floats) -> Floats:
    """Sides in pieces that none crosses."""
    i, j = _meeting(sides)
    a, b, da, db = sides[i, 0], sides[j, 0], sides[i, 1] - sides[i, 0], sides[j, 1] - sides[j, 0]
    det = da[:, 0] * db[:, 1] - da[:, 1] * db[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = b - a
        t = (gap[:, 0] * db[:, 1] - gap[:, 1] * db[:, 0]) / det
        s = (gap[:, 0] * da[:, 1] - gap[:, 1] * da[:, 0]) / det
        cross = (t > 0) & (t < 1) & (s > 0) & (s < 1)
    ends = np.arange(len(sides))
    which = np.concatenate((ends, ends, i[cross], j[cross]))
    share = np.concatenate((np.zeros(len(ends)), np.ones(len(ends)), t[cross], s[cross]))
    order = np.lexsort((share, which))
    which, share = which[order], share[order]
    first = np.flatnonzero((which[1:] == which[:-1]) & (share[1:] > share[:-1]))
    way = sides[:, 1] - sides[:, 0]
    own = which[first]
    shares = np.stack((share[first], share[first + 1]), axis=1)
    return np.asarray(sides[own, :1] + shares[..., None] * way[own, None])


def _meeting(sides: Floats) -> tuple[Ints, Ints]:
    """Pairs of sides whose boxes meet, each once."""
    low, high = sides.min(axis=1), sides.max(axis=1)
    order = np.argsort(low[:, 0], kind="stable")
    low, high = low[order], high[order]
    stop = np.searchsorted(low[:, 0], high[:, 0], side="right")
    count = np.maximum(stop - np.arange(len(order)) - 1, 0)
    first = np.repeat(np.arange(len(order)), count)
    second = first + 1 + np.arange(len(first)) - np.repeat(np.cumsum(count) - count, count)
    meet: Mask = (low[first, 1] <= high[second, 1]) & (low[second, 1] <= high[first, 1])
    return order[first[meet]], order[second[meet]]
