"""Round upright walls made rounder: triangles that end on one follow its arc, no longer the mesher's chord (mm)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from worker.field.lines import Floats, Ints, Mask
from worker.field.outlines import section

SAGITTA = 2e-5
"""How far the finer chords stay within the arc: a fifth of what a cutter is taken smaller by."""
ON_CIRCLE = 1e-5
"""Corners of a round wall lie on one circle within this."""
FLAT = 2
"""Triangles of a plain wall."""
STEEP = 1e-3
GRID = 1e-5
"""Corners this near to each other are one."""


NOTHING = np.zeros((0, 3, 3))
NOBODY = np.zeros(0, np.int32)


@dataclass(frozen=True, eq=False)
class Chords:
    """Chords (n) of round upright walls: both ends' numbers as one rising key, and each one's circle (x, y, r)."""

    points: Ints
    keys: Ints
    circles: Floats


def chords_of(
    walls: Floats, owner: NDArray[np.int32], leaning: Floats = NOTHING, leaning_owner: NDArray[np.int32] = NOBODY
) -> Chords:
    """The chords of those upright triangles (n, 3, 3) whose face (``owner``) stands on one circle, and of the level
    circles in which ``leaning`` ones end, as cones about an upright axis do."""
    ends, circles = _rims(leaning, leaning_owner)
    for mine in _by_face(walls, owner):
        corners = mine[:, :, :2]
        circle = None if _on_one_line(corners) else circle_through(corners.reshape(-1, 2))
        if circle is not None:
            sides = np.concatenate([corners[:, (k, (k + 1) % 3)] for k in range(3)])
            ends.append(sides[np.hypot(*(sides[:, 1] - sides[:, 0]).T) > GRID])
            circles.append(np.broadcast_to(circle, (len(ends[-1]), 3)))
    if not ends:
        return Chords(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros((0, 3)))
    named = _named(np.concatenate(ends))
    points = np.unique(named)
    keys, first = np.unique(_keys(points, named), return_index=True)
    return Chords(points, keys, np.concatenate(circles)[first])


def _rims(leaning: Floats, owner: NDArray[np.int32]) -> tuple[list[Floats], list[Floats]]:
    """Level sides (n, 2, 2) at the ends of each face, where they lie on one circle, and that circle for each."""
    ends: list[Floats] = []
    circles: list[Floats] = []
    for mine in _by_face(leaning, owner):
        for level, circle in _round_ends(mine):
            ends.append(level)
            circles.append(np.broadcast_to(circle, (len(level), 3)))
    return ends, circles


def _on_one_line(corners: Floats) -> bool:
    """True of two upright triangles (2, 3, 2) over one line, as most flat walls have: no circle is looked for."""
    return len(corners) <= FLAT and len(np.unique(_named(corners))) <= 2


def _by_face(triangles: Floats, owner: NDArray[np.int32]) -> list[Floats]:
    """The triangles of each face, by its number."""
    order = np.argsort(owner, kind="stable")
    begins = np.flatnonzero(np.diff(owner[order])) + 1
    return np.split(triangles[order], begins) if len(owner) else []


def level_rims(face: Floats) -> list[Floats]:
    """The circles (x, y, r) on which the lowest and the highest level sides of a face's triangles lie."""
    return [circle for _, circle in _round_ends(face)]


def _round_ends(face: Floats) -> Iterator[tuple[Floats, Floats]]:
    """Level sides (n, 2, 2) at each end of a face that lie on one circle, and the circle."""
    sides = np.concatenate([face[:, (k, (k + 1) % 3)] for k in range(3)])
    for z in (face[:, :, 2].min(), face[:, :, 2].max()):
        level = sides[np.all(np.abs(sides[:, :, 2] - z) < GRID, axis=1)][:, :, :2]
        points = level.reshape(-1, 2)
        round_end = len(np.unique(_named(points))) > 4  # two level lines of a lying bore have four
        circle = circle_through(points) if round_end else None
        if circle is not None:
            yield level, circle


def circle_through(points: Floats, within: float = ON_CIRCLE) -> Floats | None:
    """Centre and radius (x, y, r) of the circle on which all points (n, 2) lie within a length; None if they do not."""
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    along = np.stack((2 * x, 2 * y, np.ones(len(x))), axis=1)
    (a, b, c), _, rank, _ = np.linalg.lstsq(along, x * x + y * y, rcond=1e-9)
    if rank < 3:
        return None  # on one straight line
    radius = float(np.sqrt(max(c + a * a + b * b, 0.0)))
    off = np.abs(np.hypot(x - a, y - b) - radius).max()
    return None if off > within else np.array([a + middle[0], b + middle[1], radius])


def followed(triangles: Floats, owner: NDArray[np.int32], chords: Chords) -> tuple[Floats, NDArray[np.int32]]:
    """Triangles (n, 3, 3) with each side on a chord broken up along its arc, and the face of each."""
    for _ in range(3):
        triangles, owner = _first_side(triangles, owner, chords)
        triangles = triangles[:, (1, 2, 0)]
    return triangles, owner


def left_level(triangles: Floats, chords: Chords) -> Mask:
    """Level triangles that share no chord with a slanting one: the outline can follow their chords by itself."""
    at = np.full((len(triangles), 3), -1)
    for k in range(3):
        found, chord = _matched(triangles[:, (k, (k + 1) % 3), :2], chords)
        at[found, k] = chord
    level = np.ptp(triangles[:, :, 2], axis=1) == 0.0
    shared = np.zeros(len(chords.keys) + 1, bool)
    shared[at[~level]] = True
    shared[-1] = False  # what is no chord
    return np.asarray(level & ~shared[at].any(axis=1))


def broken(sides: Floats, chords: Chords) -> tuple[Floats, Ints]:
    """Sides (n, 2, 2) as pieces (m, 2, 2), more than one where a side is a chord; where those of each begin (n + 1)."""
    found, at = _matched(sides, chords)
    mine, start, stop, _ = _arcs(sides[found, 0], sides[found, 1], chords.circles[at])
    counts = np.ones(len(sides), np.int64)
    counts[found] = np.bincount(mine, minlength=len(found))
    pieces = np.repeat(sides, counts, axis=0)
    bent = np.zeros(len(sides), bool)
    bent[found] = True
    pieces[np.repeat(bent, counts)] = np.stack((start, stop), axis=1)
    return pieces, np.concatenate(([0], np.cumsum(counts)))


def followed_section(walls: Floats, owner: NDArray[np.int32], z: float) -> Floats:
    """Where faces cross a height (n, 2, 2), metal on the left, round upright walls along their circle."""
    found = [np.zeros((0, 2, 2))]
    for mine in _by_face(walls, owner):
        sides = section(mine, z)
        circle = circle_through(mine[:, :, :2].reshape(-1, 2)) if len(sides) and _upright(mine) else None
        if circle is not None:
            _, start, stop, _ = _arcs(sides[:, 0], sides[:, 1], np.broadcast_to(circle, (len(sides), 3)))
            sides = np.stack((start, stop), axis=1)
        found.append(sides)
    return np.concatenate(found)


def _upright(triangles: Floats) -> bool:
    """True when all run along z."""
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return bool(np.all(np.abs(normal[:, 2]) <= STEEP * np.linalg.norm(normal, axis=1) + GRID**2))


def _first_side(triangles: Floats, owner: NDArray[np.int32], chords: Chords) -> tuple[Floats, NDArray[np.int32]]:
    which, start, stop, share = _broken(triangles, chords)
    if not len(which):
        return triangles, owner
    kept = np.ones(len(triangles), bool)
    kept[which] = False
    low, rise = triangles[which, 0, 2], triangles[which, 1, 2] - triangles[which, 0, 2]
    a, b = (np.concatenate((p, (low + s * rise)[:, None]), axis=1) for p, s in ((start, share[0]), (stop, share[1])))
    fan = np.stack((a, b, triangles[which, 2]), axis=1)
    return np.concatenate((triangles[kept], fan)), np.concatenate((owner[kept], owner[which]))


def _broken(shapes: Floats, chords: Chords) -> tuple[Ints, Floats, Floats, tuple[Floats, Floats]]:
    """The pieces of each first side that is a chord: whose, from where to where (x, y), and at what share of it."""
    found, at = _matched(shapes[:, :2, :2], chords)
    mine, start, stop, shares = _arcs(shapes[found, 0, :2], shapes[found, 1, :2], chords.circles[at])
    return found[mine], start, stop, shares


def _arcs(p: Floats, q: Floats, circle: Floats) -> tuple[Ints, Floats, Floats, tuple[Floats, Floats]]:
    """Sides from ``p`` to ``q`` (n, 2) broken up along their circles (n, 3); ends on the circle stay what they are."""
    centre, radius = circle[:, :2], circle[:, 2]
    first, last = (np.arctan2(*(e - centre).T[::-1]) for e in (p, q))
    turn = last - first
    turn -= 2 * np.pi * np.round(turn / (2 * np.pi))
    pieces = np.maximum(np.ceil(np.sqrt(radius * (1 - np.cos(turn / 2)) / SAGITTA)).astype(np.int64), 1)
    mine = np.repeat(np.arange(len(p)), pieces)
    step = np.arange(len(mine)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    shares = step / pieces[mine], (step + 1) / pieces[mine]
    ends = []
    for share in shares:
        angle = first[mine] + share * turn[mine]
        place = centre[mine] + radius[mine, None] * np.stack((np.cos(angle), np.sin(angle)), axis=1)
        for end, given in ((0.0, p), (1.0, q)):
            exact = (share == end) & (np.abs(np.hypot(*(given - centre).T) - radius) < ON_CIRCLE)[mine]
            place = np.where(exact[:, None], given[mine], place)
        ends.append(place)
    return mine, ends[0], ends[1], shares


def _matched(sides: Floats, chords: Chords) -> tuple[Ints, Ints]:
    """Which sides (n, 2, 2) are chords, and which chord each of them is."""
    if not len(chords.keys) or not len(sides):
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    named = _named(sides)
    known = np.flatnonzero(np.isin(named, chords.points).all(axis=1))
    keys = _keys(chords.points, named[known])
    at = np.minimum(np.searchsorted(chords.keys, keys), len(chords.keys) - 1)
    hit = chords.keys[at] == keys
    return known[hit], at[hit]


def _named(sides: Floats) -> Ints:
    """A number for each end (..., 2), the same for the same place."""
    cells = np.round(sides / GRID).astype(np.int64)
    return np.asarray(cells[..., 0] * 3_000_000_019 + cells[..., 1], dtype=np.int64)


def _keys(points: Ints, named: Ints) -> Ints:
    places = np.sort(np.searchsorted(points, named), axis=1)
    return np.asarray(places[:, 0] * len(points) + places[:, 1], dtype=np.int64)
