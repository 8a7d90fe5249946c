"""Where a cutter's axis runs and stands beside points of a border: circles about them, corners, sharp bends (mm)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from worker.field.lines import Floats, Ints, Lines, Mask, spread, subtract, union
from worker.field.plane import Region, discs, sorted_lines
from worker.field.rows import covered

PER_RADIUS = 48
"""Scan lines within one radius where a place is looked at closely."""
CUSP = 1 / (4 * PER_RADIUS**2)
"""Share of the radius by which discs about points along a straight border fall short between two of them, doubled."""
APART = 0.866
"""Cosine between the directions to two points of the border that touch the cutter at once, in a corner."""
CORNER_DECIMALS = 7
FINER = 33
"""Lines to two steps where the axis goes round a bend much narrower than the cutter."""
BARELY = 1e-6
"""A share of a length that counts nowhere."""
SQUARES = 2
"""So many squares to a radius points are sorted into, where each is held to what is near."""
NO_POINTS = np.zeros((0, 2))


def ends(lines: Lines, along: int, at: Floats) -> Floats:
    """Both ends of all stretches as points (n, 2)."""
    places, across = np.concatenate((lines.start, lines.stop)), np.concatenate((at[lines.line], at[lines.line]))
    return np.stack((places, across) if along == 0 else (across, places), axis=1)


def axis_lines(inside: Lines, border: Floats, radius: float, along: int, at: Floats) -> Lines:
    """Where the axis can be: inside, and no nearer than the radius to the border."""
    return sorted_lines(subtract(inside, covered(border[:, along], border[:, 1 - along], radius, at)))


def axis_near(
    inside: Lines, border: Floats, radius: float, along: int, at: Floats, within: tuple[Floats, Floats]
) -> Lines:
    """The same from one place to another along each line: of all the chords few reach there."""
    low, high = within
    inside = Lines(inside.line, np.maximum(inside.start, low[inside.line]), np.minimum(inside.stop, high[inside.line]))
    first = np.array((low.min(initial=np.inf), at.min(initial=np.inf)))
    last = np.array((high.max(initial=-np.inf), at.max(initial=-np.inf)))
    here = border[:, (along, 1 - along)]
    here = here[np.all((here > first - radius) & (here < last + radius), axis=1)]
    chords = discs(here[:, 0], here[:, 1], radius, at)
    chords = chords.where((chords.start < high[chords.line]) & (chords.stop > low[chords.line]))
    open_ = np.ones(len(at), bool)
    open_[chords.line[(chords.start <= low[chords.line]) & (chords.stop >= high[chords.line])]] = False
    inside = inside.where((inside.stop > inside.start) & open_[inside.line])
    return sorted_lines(subtract(inside, union(chords.where(open_[chords.line]))))


def bends(region: Region, axis: Floats, border: Floats, radius: float, step: float) -> Floats:
    """More points of the axis' border where it bends so sharply (in a corner a little wider than the cutter) that discs
    about the known ones fall short between them by more than ``CUSP``: its radius there is less than half the cutter's.
    What a point's nearest one on the border is off its foot turns its direction by as much as ``1 / PER_RADIUS``."""
    first, _, tight = nearest_two(axis, border, radius + step / 16)
    axis, first = axis[~tight], first[~tight]
    toward = (border[first] - axis) / radius
    short = np.zeros(len(axis), bool)
    for some, near in _side_by_side(axis, axis, 2 * step, 8 * step):
        apart = np.hypot(*(axis[some, None] - axis[None, near]).transpose(2, 0, 1))
        turns = np.hypot(*(toward[some, None] - toward[None, near]).transpose(2, 0, 1))
        sharp = (apart > step) & (apart < 2 * step) & (turns > 2 * apart / radius + 1 / PER_RADIUS)
        short[some] = sharp.any(axis=1)
    spots = axis[short]
    if not len(spots):
        return NO_POINTS
    found = []
    for along in (0, 1):
        at = _beside(spots[:, 1 - along], 2 * step / (FINER - 1))
        within = _about(spots[:, along], spots[:, 1 - along], 2 * step, at)
        found.append(ends(axis_near(region.scan(along, at), border, radius, along, at, within), along, at))
    points = np.concatenate(found)
    return np.asarray(points[_away(points, spots, 2 * step, 8 * step) < 2 * step])


def _side_by_side(points: Floats, others: Floats, reach: float, size: float) -> Iterator[tuple[Ints, Ints]]:
    """Points (n, 2) by squares of a size, each with the others that come within a reach of them, in their order."""
    if not len(points):
        return
    _, square = np.unique(np.floor(points / size), axis=0, return_inverse=True)
    order = np.argsort(square.ravel(), kind="stable")
    for some in np.split(order, np.flatnonzero(np.diff(square.ravel()[order])) + 1):
        low, high = points[some].min(axis=0) - reach, points[some].max(axis=0) + reach
        yield some, np.flatnonzero(np.all((others >= low) & (others <= high), axis=1))


def _away(points: Floats, others: Floats, reach: float, size: float) -> Floats:
    """Distance of each point from the nearest of the others that come within a reach of it; inf where none does."""
    found = np.full(len(points), np.inf)
    for some, near in _side_by_side(points, others, reach, size):
        gap = (points[some, None] - others[None, near]).transpose(2, 0, 1)
        found[some] = np.hypot(*gap).min(axis=1, initial=np.inf)
    return found


def _about(places: Floats, across: Floats, far: float, at: Floats) -> tuple[Floats, Floats]:
    """From where to where along each line some of the places, which lie so far across, are nearer than that."""
    far *= 1 + BARELY  # so that where a stretch is cut short is no place near one
    which, line = spread(np.searchsorted(at, across - far), np.searchsorted(at, across + far))
    low, high = np.full(len(at), np.inf), np.full(len(at), -np.inf)
    np.minimum.at(low, line, places[which] - far)
    np.maximum.at(high, line, places[which] + far)
    return low, high


def _beside(places: Floats, fine: float) -> Floats:
    """Scan lines so far from each other, ``FINER`` of them about each place: near places have theirs in common."""
    near = np.round(places / fine - 1 / 3).astype(np.int64)
    each = np.unique(near[:, None] + np.arange(FINER) - FINER // 2)
    return np.asarray((each + 1 / 3) * fine)


def corners(axis: Floats, border: Floats, radius: float, step: float, apart: float = APART) -> Floats:
    """Where a cutter's axis stands when it touches two walls at once: the corners between known points of its border.

    Of each axis point the nearest border point, and the nearest one in another direction: where the circles about
    both cross, and once more from there; if no border point is nearer then.
    """
    for slack in (3 * step, step):
        axis = _crossing(*_touching(axis, border, radius + slack, apart), radius)
    far = _away(axis, border, radius, radius / SQUARES)
    return np.unique(np.round(axis[far > radius * (1 - CUSP / 2)], CORNER_DECIMALS), axis=0)


def _touching(axis: Floats, border: Floats, most: float, apart: float) -> tuple[Floats, Floats, Floats]:
    """The two border points in different directions nearest to each axis point, where both are near; and the latter."""
    first, second, tight = nearest_two(axis, border, most, apart)
    return border[first[tight]], border[second[tight]], axis[tight]


def touched_twice(axis: Floats, border: Floats, most: float) -> Mask:
    """Which axis points have border points near them in two different directions."""
    return nearest_two(axis, border, most)[2]


def nearest_two(axis: Floats, border: Floats, most: float, apart: float = APART) -> tuple[Ints, Ints, Mask]:
    """The border point nearest to each axis point, the nearest in another direction, and whether that is near."""
    first, second = np.zeros((2, len(axis)), np.int64)
    tight = np.zeros(len(axis), bool)
    if not len(border):
        return first, second, tight
    for some, near in _side_by_side(axis, border, most, most / SQUARES):
        if len(near):
            first[some], second[some], away = _nearest_two(axis[some], border, near, apart)
            tight[some] = away[1] < most
            some = some[away[0] > most]
        if len(some):
            first[some], second[some], _ = _nearest_two(axis[some], border, np.arange(len(border)), apart)
    return first, second, tight


def _nearest_two(axis: Floats, border: Floats, among: Ints, apart: float) -> tuple[Ints, Ints, Floats]:
    """The same among some of the border's points; and how far away both are (2, n)."""
    gap = border[None, among] - axis[:, None]
    away = np.hypot(gap[..., 0], gap[..., 1])
    every, first = np.arange(len(axis)), away.argmin(axis=1)
    toward = gap / np.maximum(away, 1e-12)[..., None]
    nearest = away[every, first]
    away[np.einsum("ijk,ik->ij", toward, toward[every, first]) > apart] = np.inf
    second = away.argmin(axis=1)
    return among[first], among[second], np.stack((nearest, away[every, second]))


def _crossing(p: Floats, q: Floats, near: Floats, radius: float) -> Floats:
    """Where circles about ``p`` and ``q`` cross, on the side of ``near``; pairs too far apart are left out."""
    half = (q - p) / 2
    size = np.hypot(*half.T)
    meet = size < radius
    p, half, size, near = p[meet], half[meet], size[meet], near[meet]
    square = np.stack((-half[:, 1], half[:, 0]), axis=1) / size[:, None]
    side = np.sign(np.sum(square * (near - p - half), axis=1))
    return np.asarray(p + half + square * (side * np.sqrt(radius**2 - size**2))[:, None])
