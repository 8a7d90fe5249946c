"""Round upright walls made rounder: triangles that end on one follow its arc, no longer the mesher's chord (mm)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from worker.field.lines import Floats, Ints, Mask, spread
from worker.field.outlines import Sides, section

SAGITTA = 2e-5
"""How far the finer chords stay within the arc: a fifth of what a cutter is taken smaller by."""
ON_CIRCLE = 1e-5
"""Corners of a round wall lie on one circle within this."""
STRAIGHT = 1e-14
"""Share of their spread along a line, squared, by which points are less spread across it, where they lie on it."""
LYING = 4
"""Corners of the two level lines in which a lying bore ends."""
STEEP = 1e-3
GRID = 1e-5
"""Corners this near to each other are one."""


WIDEST = 2 * np.sin(np.radians(15.0))
"""In radii: chords of an arc are shorter, as the mesher turns 20 degrees at most; a longer side crosses the circle."""
NO_CHORD = -1
RIGHT = np.pi / 2
AXES = np.array(((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)))
Ints32 = NDArray[np.int32]
NOTHING = np.zeros((0, 3, 3))
NOBODY = np.zeros(0, np.int32)


@dataclass(frozen=True, eq=False)
class Chords:
    """Chords (n) of round upright walls: both ends' numbers as one rising key, and each one's circle (x, y, r)."""

    points: Ints
    keys: Ints
    circles: Floats

    def on(self, triangles: Floats) -> Ints:
        """The chord that each side of triangles (n, 3, 3) is, seen along z (n, 3); -1 where it is none."""
        if not len(self.keys) or not len(triangles):
            return np.full((len(triangles), 3), NO_CHORD)
        named = _named(triangles[:, :, :2])
        at = np.minimum(np.searchsorted(self.points, named), len(self.points) - 1)
        at[self.points[at] != named] = -1
        following = at[:, (1, 2, 0)]
        keys = np.minimum(at, following) * len(self.points) + np.maximum(at, following)
        found = np.minimum(np.searchsorted(self.keys, keys), len(self.keys) - 1)
        return np.where((self.keys[found] == keys) & (at >= 0) & (following >= 0), found, NO_CHORD)


def chords_of(
    walls: Floats, owner: NDArray[np.int32], leaning: Floats = NOTHING, leaning_owner: NDArray[np.int32] = NOBODY
) -> Chords:
    """The chords of those upright triangles (n, 3, 3) whose face (``owner``) stands on one circle, and of the level
    circles in which ``leaning`` ones end, as cones about an upright axis do."""
    both = _rims(leaning, leaning_owner), _walls(walls, owner)
    ends, circles = (np.concatenate(some) for some in zip(*both, strict=True))
    near = np.hypot(*(ends[:, 1] - ends[:, 0]).T) < WIDEST * circles[:, 2]
    ends, circles = ends[near], circles[near]
    named = _named(ends)
    points = np.unique(named)
    keys, first = np.unique(_keys(points, named), return_index=True)
    return Chords(points, keys, circles[first])


def _walls(walls: Floats, owner: NDArray[np.int32]) -> tuple[Floats, Floats]:
    """The sides (n, 2, 2) of upright triangles whose face stands on one circle, but for upright ones, and that circle
    for each."""
    corners = walls[:, :, :2]
    _, face = np.unique(owner, return_inverse=True)
    circles = circles_through(corners.reshape(-1, 2), np.repeat(face, 3))[face]
    round_ = np.isfinite(circles[:, 2])
    sides = np.concatenate([corners[round_][:, (k, (k + 1) % 3)] for k in range(3)])
    level = np.hypot(*(sides[:, 1] - sides[:, 0]).T) > GRID
    return sides[level], np.tile(circles[round_], (3, 1))[level]


def _rims(leaning: Floats, owner: NDArray[np.int32]) -> tuple[Floats, Floats]:
    """Level sides (n, 2, 2) at the ends of each face, where they lie on one circle, and that circle for each."""
    _, face = np.unique(owner, return_inverse=True)
    low, high = np.full(len(face), np.inf), np.full(len(face), -np.inf)
    np.minimum.at(low, face, leaning[:, :, 2].min(axis=1))
    np.maximum.at(high, face, leaning[:, :, 2].max(axis=1))
    sides = np.concatenate([leaning[:, (k, (k + 1) % 3)] for k in range(3)])
    face, found, circles = np.tile(face, 3), [np.zeros((0, 2, 2))], [np.zeros((0, 3))]
    for end in (low, high):
        level = np.flatnonzero(np.all(np.abs(sides[:, :, 2] - end[face][:, None]) < GRID, axis=1))
        mine, ends = face[level], sides[level][:, :, :2]
        many = _places(np.repeat(mine, 2), _named(ends).ravel(), len(low))[mine] > LYING
        circle = circles_through(ends[many].reshape(-1, 2), np.repeat(mine[many], 2))[mine[many]]
        round_ = np.isfinite(circle[:, 2])
        found.append(ends[many][round_])
        circles.append(circle[round_])
    return np.concatenate(found), np.concatenate(circles)


def _places(group: Ints, named: Ints, count: int) -> Ints:
    """How many places each of ``count`` groups has, of named ones."""
    order = np.lexsort((named, group))
    group, named = group[order], named[order]
    new = np.ones(len(group), bool)
    new[1:] = (group[1:] != group[:-1]) | (named[1:] != named[:-1])
    return np.bincount(group[new], minlength=count)


def circles_through(points: Floats, group: Ints, within: float = ON_CIRCLE) -> Floats:
    """Centre and radius (k, 3) of the circle on which the points (n, 2) of each group lie within a length; nan for a
    group of which they do not, or lie on one line. Least squares, by the normal equations of all groups at once.
    """
    count = int(group.max(initial=-1)) + 1
    size = np.maximum(np.bincount(group, minlength=count), 1)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.bincount(group, values, count) / size)

    middle = np.stack([mean(axis) for axis in points.T], axis=1)
    x, y = (points - middle[group]).T
    square = x * x + y * y
    xx, xy, yy, xq, yq = (mean(v) for v in (x * x, x * y, y * y, x * square, y * square))
    det = xx * yy - xy * xy
    bent = det > STRAIGHT * (xx + yy) ** 2
    det = np.where(bent, 2 * det, 1.0)
    a, b = (xq * yy - yq * xy) / det, (yq * xx - xq * xy) / det
    radius = np.sqrt(xx + yy + a * a + b * b)
    off = np.zeros(count)
    np.maximum.at(off, group, np.abs(np.hypot(x - a[group], y - b[group]) - radius[group]))
    found = np.stack((a + middle[:, 0], b + middle[:, 1], radius), axis=1)
    return np.where((bent & (off <= within))[:, None], found, np.nan)


def _by_face(triangles: Floats, owner: NDArray[np.int32]) -> list[Floats]:
    """The triangles of each face, by its number."""
    order = np.argsort(owner, kind="stable")
    begins = np.flatnonzero(np.diff(owner[order])) + 1
    return np.split(triangles[order], begins) if len(owner) else []


def level_rims(face: Floats) -> list[Floats]:
    """The circles (x, y, r) on which the lowest and the highest level sides of a face's triangles lie."""
    sides = np.concatenate([face[:, (k, (k + 1) % 3)] for k in range(3)])
    found = []
    for z in (face[:, :, 2].min(), face[:, :, 2].max()):
        points = sides[np.all(np.abs(sides[:, :, 2] - z) < GRID, axis=1)][:, :, :2].reshape(-1, 2)
        circle = circle_through(points) if len(np.unique(_named(points))) > LYING else None
        found += [] if circle is None else [circle]
    return found


def circle_through(points: Floats, within: float = ON_CIRCLE) -> Floats | None:
    """Centre and radius (x, y, r) of the circle on which all points (n, 2) lie within a length; None if they do not."""
    (circle,) = circles_through(points, np.zeros(len(points), np.int64), within)
    return circle if np.isfinite(circle[2]) else None


def ball_through(points: Floats, within: float) -> tuple[Floats, float] | None:
    """Centre and radius of the ball on which all points (n, 3) lie within a length, by least squares; else None."""
    middle = points.mean(axis=0)
    away = points - middle
    known = np.concatenate((2 * away, np.ones((len(away), 1))), axis=1)
    found, _, rank, _ = np.linalg.lstsq(known, np.sum(away * away, axis=1), rcond=1e-9)
    radius = float(np.sqrt(max(found[3] + found[:3] @ found[:3], 0.0)))
    if rank < 4 or np.abs(np.linalg.norm(away - found[:3], axis=1) - radius).max() > within:
        return None
    return middle + found[:3], radius


def followed(triangles: Floats, owner: Ints32, on: Ints, circles: Floats) -> tuple[Floats, Ints32]:
    """Triangles (n, 3, 3) with each side broken up along the arc whose chord it is (``on``), and the face of each."""
    for _ in range(3):
        triangles, owner, on = _first_side(triangles, owner, on, circles)
        triangles, on = triangles[:, (1, 2, 0)], on[:, (1, 2, 0)]
    return triangles, owner


def left_level(triangles: Floats, on: Ints) -> Mask:
    """Level triangles that share no chord with a slanting one: the outline can follow their chords by itself."""
    level = np.ptp(triangles[:, :, 2], axis=1) == 0.0
    shared = np.zeros(int(on.max(initial=NO_CHORD)) + 2, bool)
    shared[on[~level]] = True
    shared[NO_CHORD] = False
    return np.asarray(level & ~shared[on].any(axis=1))


def broken(sides: Sides) -> Floats:
    """Sides (n, 2, 2), of arcs their pieces."""
    bent = sides.circles[:, 2] > 0
    if not bent.any():
        return sides.ends
    _, start, stop, _ = _arcs(sides.ends[bent, 0], sides.ends[bent, 1], sides.circles[bent])
    return np.concatenate((sides.ends[~bent], np.stack((start, stop), axis=1)))


def parted(sides: Sides) -> Sides:
    """The same, with arcs parted where they turn in x or in y."""
    bent = sides.circles[:, 2] > 0
    if not bent.any():
        return sides
    ends, circles = _quarters(sides.ends[bent], sides.circles[bent])
    return Sides(np.concatenate((sides.ends[~bent], ends)), np.concatenate((sides.circles[~bent], circles)))


def _quarters(sides: Floats, circles: Floats) -> tuple[Floats, Floats]:
    """Arcs (n, 2, 2) parted where they turn in x or in y, and the circle of each piece."""
    turn, first = _turns(sides[:, 0], sides[:, 1], circles)
    low, high = np.minimum(first, first + turn) / RIGHT, np.maximum(first, first + turn) / RIGHT
    begin = np.floor(low).astype(np.int64) + 1
    count = np.maximum(np.ceil(high).astype(np.int64) - begin, 0)
    which, k = spread(np.zeros(len(count), np.int64), count)
    way = AXES[np.where(turn[which] > 0, begin[which] + k, (begin + count)[which] - 1 - k) % 4]
    between = circles[which, :2] + circles[which, 2:] * way
    begins = np.cumsum(count) - count
    starts = np.insert(between, begins, sides[:, 0], axis=0)
    stops = np.insert(between, begins + count, sides[:, 1], axis=0)
    return np.stack((starts, stops), axis=1), np.repeat(circles, count + 1, axis=0)


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


def _first_side(triangles: Floats, owner: Ints32, on: Ints, circles: Floats) -> tuple[Floats, Ints32, Ints]:
    """The first side of each that is a chord broken up, as a fan about the third corner."""
    chord = on[:, 0] != NO_CHORD
    which = np.flatnonzero(chord)
    if not len(which):
        return triangles, owner, on
    corners = triangles[which]
    mine, start, stop, (share, next_share) = _arcs(corners[:, 0, :2], corners[:, 1, :2], circles[on[which, 0]])
    low, rise = corners[mine, 0, 2], (corners[:, 1, 2] - corners[:, 0, 2])[mine]
    fan, fan_on = np.empty((len(mine), 3, 3)), np.full((len(mine), 3), NO_CHORD)
    fan[:, 0, :2], fan[:, 0, 2] = start, low + share * rise
    fan[:, 1, :2], fan[:, 1, 2] = stop, low + next_share * rise
    fan[:, 2] = corners[mine, 2]
    begins = np.flatnonzero(np.diff(mine, prepend=-1))
    fan_on[np.append(begins[1:], len(mine)) - 1, 1], fan_on[begins, 2] = on[which, 1], on[which, 2]
    kept = ~chord
    triangles, owner = np.concatenate((triangles[kept], fan)), np.concatenate((owner[kept], owner[which][mine]))
    return triangles, owner, np.concatenate((on[kept], fan_on))


def _turns(p: Floats, q: Floats, circle: Floats) -> tuple[Floats, Floats]:
    """How far each arc from ``p`` to ``q`` (n, 2) turns, the short way (radians), and where it begins."""
    first, last = (np.arctan2(*(e - circle[:, :2]).T[::-1]) for e in (p, q))
    turn = last - first
    return turn - 2 * np.pi * np.round(turn / (2 * np.pi)), first


def _arcs(p: Floats, q: Floats, circle: Floats) -> tuple[Ints, Floats, Floats, tuple[Floats, Floats]]:
    """Sides from ``p`` to ``q`` (n, 2) broken up along their circles (n, 3); ends on the circle stay what they are."""
    centre, radius = circle[:, :2], circle[:, 2]
    turn, first = _turns(p, q, circle)
    pieces = np.maximum(np.ceil(np.sqrt(radius * (1 - np.cos(turn / 2)) / SAGITTA)).astype(np.int64), 1)
    mine = np.repeat(np.arange(len(p)), pieces + 1)
    begins = np.cumsum(pieces + 1) - pieces - 1
    share = (np.arange(len(mine)) - begins[mine]) / pieces[mine]
    angle = first[mine] + share * turn[mine]
    place = centre[mine] + radius[mine, None] * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    for at, given in ((begins, p), (begins + pieces, q)):
        exact = np.abs(np.hypot(*(given - centre).T) - radius) < ON_CIRCLE
        place[at[exact]] = given[exact]
    start, stop = np.ones((2, len(mine)), bool)
    start[begins + pieces] = stop[begins] = False
    return mine[start], place[start], place[stop], (share[start], share[stop])


def _named(sides: Floats) -> Ints:
    """A number for each end (..., 2), the same for the same place."""
    cells = np.round(sides / GRID).astype(np.int64)
    return np.asarray(cells[..., 0] * 3_000_000_019 + cells[..., 1], dtype=np.int64)


def _keys(points: Ints, named: Ints) -> Ints:
    places = np.sort(np.searchsorted(points, named), axis=1)
    return np.asarray(places[:, 0] * len(points) + places[:, 1], dtype=np.int64)
