"""What holes as deep as a recess take of its walls, from the sides of its floor: where a hole took a wall, the wall
goes on, and what lies behind it there is the hole's own step's to take (mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from worker.field.arcs import SAGITTA
from worker.field.lines import Floats, Mask
from worker.field.plane import Join, Outline, Region
from worker.field.triangles import CHORD

FLAT = 8 * SAGITTA
"""How far the middle of a chord of a recess's own round wall lies off its circle at most (mm): a flat wall from one
place of the circle to another lies farther off."""
PARALLEL = 1e-9
Point = tuple[float, float]
Border = tuple[list[Point], Mask]
"""A closed chain of corners, the ground on its left, and at which of the sides from them a wall stands."""


@dataclass(frozen=True)
class Holes:
    """Holes that end level with a floor, and the part's round upright walls, as circles (n, 3: x, y, r). ``onward``:
    the recess goes on in a hole that ends it, as a slot does; others end where it begins."""

    circles: Floats
    rounds: Floats
    onward: bool


@dataclass(frozen=True, eq=False)
class _Wall:
    """A wall carried on from ``at`` in the direction ``way``, straight or along a circle (x, y, r); the ground lies on
    its left (``side`` 1) or right (-1)."""

    at: Floats
    way: Floats
    circle: Floats | None
    side: float

    @property
    def turns(self) -> float:
        """1 where its circle turns left, -1 where it turns right."""
        assert self.circle is not None
        return math.copysign(1.0, _cross(self.at - self.circle[:2], self.way))

    def ahead(self, point: Floats) -> float:
        """How far on a point of its line (mm) or circle (rad) lies; less than nothing for what lies behind."""
        if self.circle is None:
            return float((point - self.at) @ self.way)
        a, b = self.at - self.circle[:2], point - self.circle[:2]
        turn = self.turns * math.atan2(_cross(a, b), float(a @ b))
        return turn if turn > -PARALLEL - LENGTH / float(self.circle[2]) else turn + math.tau

    def before(self, points: Floats) -> Floats:
        """How far points (n, 2) lie before it, on the ground's side (mm)."""
        if self.circle is None:
            off = points - self.at
            return np.asarray(self.side * (self.way[0] * off[:, 1] - self.way[1] * off[:, 0]))
        inside = self.circle[2] - np.hypot(*(points - self.circle[:2]).T)
        return np.asarray(self.side * self.turns * inside)

    def to(self, point: Floats) -> list[Point]:
        """Corners along it, from where it begins up to a point."""
        if self.circle is None:
            return [_pair(self.at), _pair(point)]
        x, y, radius = self.circle.tolist()
        turn = self.ahead(point)
        steps = max(math.ceil(abs(turn) / (2 * math.acos(1 - min(SAGITTA / radius, 1.0)))), 1)
        start = math.atan2(self.at[1] - y, self.at[0] - x)
        angles = start + self.turns * turn * np.arange(1, steps) / steps
        between = np.stack((x + radius * np.cos(angles), y + radius * np.sin(angles)), axis=1)
        return [_pair(self.at), *map(_pair, between), _pair(point)]


@dataclass(frozen=True)
class _Bay:
    """What a border has in place of some of its sides: ``first`` of them and how many; what lies behind that;
    ``closed``: walls stand all along them, before and after."""

    first: int
    count: int
    border: Border
    behind: list[list[Point]]
    closed: bool


def bays(border: Border, holes: Holes) -> Region | None:
    """What lies behind the walls beside a border's runs along holes; None for nothing."""
    found = [polygon for bay in _bays(border, holes) for polygon in bay.behind]
    return Join(tuple(Outline(_sides(polygon)) for polygon in found)) if found else None


def without_bays(border: Border, holes: Holes) -> Border:
    """The border with its walls carried on to its open sides where holes took their ends."""
    for _ in range(len(border[0])):  # each run once: a way along another hole's circle is no end of work
        bay = next((bay for bay in _bays(border, holes) if not bay.closed), None)
        if bay is None:
            break
        loop, walled = border
        end, count = bay.first + bay.count, len(loop)
        places = [loop[k % count] for k in range(end + 1, bay.first + count)]
        flags = [walled[k % count] for k in range(end, bay.first + count)]
        border = [*bay.border[0], *places], np.array([*bay.border[1], *flags], bool)
    return border


def _bays(border: Border, holes: Holes) -> list[_Bay]:
    """The runs of sides along holes, in order, each with what is there in its place."""
    a, walled = np.array(border[0]), border[1]
    along = np.any([_along(a, circle, CHORD + LENGTH) for circle in holes.circles], axis=0)
    inside = along | ~walled & np.any([_inside(a, circle) for circle in holes.circles], axis=0)
    runs = [_run(along, inside, first) for first in np.flatnonzero(inside & ~np.roll(inside, 1)).tolist()]
    return [bay for run in runs if run[1] and (bay := _bay(a, walled, run, holes)) is not None]


def _run(along: Mask, inside: Mask, first: int) -> tuple[int, int]:
    """Of a run of sides inside holes the first one along a hole, and how many there are up to the last such."""
    size = int(np.argmin(np.roll(inside, -first)))
    arcs = np.flatnonzero(np.roll(along, -first)[:size])
    return (first + int(arcs[0]), int(arcs[-1] - arcs[0]) + 1) if len(arcs) else (first, 0)


def _along(loop: Floats, circle: Floats, off: float) -> Mask:
    """Which sides of a loop begin and end on a circle, and lie no more than that far off it between."""
    ends = np.abs(np.hypot(*(loop - circle[:2]).T) - circle[2]) <= LENGTH
    middle = np.abs(np.hypot(*((loop + np.roll(loop, -1, axis=0)) / 2 - circle[:2]).T) - circle[2]) <= off
    return np.asarray(ends & np.roll(ends, -1) & middle)


def _inside(loop: Floats, circle: Floats) -> Mask:
    """Which sides of a loop a circle goes round: the part's own, where a hole breaks out of it."""
    ends = np.hypot(*(loop - circle[:2]).T) <= circle[2] + LENGTH
    return np.asarray(ends & np.roll(ends, -1))


def _wall(loop: Floats, side: int, holes: Holes, *, back: bool = False) -> _Wall:
    """A side of a loop carried on at its end, or the other way at its beginning."""
    ends = loop[side], loop[(side + 1) % len(loop)]
    start, at = ends[::-1] if back else ends
    way = (at - start) / np.linalg.norm(at - start)
    places = np.array([start, (start + at) / 2, at])
    off = np.abs(np.hypot(*(places[:, None] - holes.rounds[:, :2]).T) - holes.rounds[:, 2:])
    along = np.flatnonzero(np.all(off <= (LENGTH, FLAT, LENGTH), axis=1))
    if not len(along):
        return _Wall(at, way, None, -1.0 if back else 1.0)
    circle = holes.rounds[along[0]]
    square = np.array([circle[1] - at[1], at[0] - circle[0]]) / math.dist(at, circle[:2])
    return _Wall(at, square * math.copysign(1.0, float(square @ way)), circle, -1.0 if back else 1.0)


def _bay(loop: Floats, walled: Mask, run: tuple[int, int], holes: Holes) -> _Bay | None:
    """Both walls carried on until they meet, or to the open side that the run comes out at; None between two of those.

    Where they do not meet, those of what goes ``onward`` do so until the hole ends, others are joined straight.
    """
    first, size = run
    before, after = (first - 1) % len(loop), (first + size) % len(loop)
    shut = bool(walled[before]), bool(walled[after])
    walls = _wall(loop, before, holes), _wall(loop, after, holes, back=True)
    places = loop[np.arange(first, first + size + 1) % len(loop)]
    closed = bool(walled[np.arange(first - 1, first + size + 1) % len(loop)].all())
    if not any(shut):
        return None
    met = [p for p in _meetings(*walls) if _holds(holes, p) and min(w.ahead(p) for w in walls) > -LENGTH]
    if met:
        at = min(met, key=walls[0].ahead)
        return _put(run, places, (walls[0].to(at), walls[1].to(at)[::-1]), shut, closed)
    if all(shut) and not (holes.onward and walls[0].before(walls[1].at[None])[0] > COINCIDENT):
        return _put(run, places, ([_pair(places[0]), _pair(places[-1])], [_pair(places[-1])]), shut, closed)
    return _until_it_ends(loop, walled, run, walls, closed)


def _put(
    run: tuple[int, int], places: Floats, ways: tuple[list[Point], list[Point]], shut: tuple[bool, bool], closed: bool
) -> _Bay:
    """A run with other ways from its beginning to where they meet, and on to its end: walls where those are walls."""
    way = [*ways[0], *ways[1][1:]]
    flags = np.repeat(shut, [len(ways[0]) - 1, len(ways[1]) - 1])
    return _Bay(*run, (way, flags), [[*map(_pair, places), *way[-2:0:-1]]], closed)


def _until_it_ends(loop: Floats, walled: Mask, run: tuple[int, int], walls: tuple[_Wall, _Wall], closed: bool) -> _Bay:
    """A run, with the open sides beside it, where each wall at its ends goes on until it comes to it again."""
    first, size = run
    count = len(loop)
    shut = bool(walled[first - 1]), bool(walled[(first + size) % count])
    more = [
        0 if shut[k] else _open(walled, side, step)
        for k, (side, step) in enumerate(((first - 1, -1), (first + size, 1)))
    ]
    first, size = first - more[0], size + sum(more)
    places = loop[np.arange(first, first + size + 1) % count]
    flags = walled[np.arange(first, first + size) % count]
    behind = []
    for wall, is_shut in zip(walls, shut, strict=True):
        if is_shut:
            k, at = _past(wall, places)
            way = wall.to(at)
            behind.append([*map(_pair, places[:k]), *way[:0:-1]])
            places = np.concatenate((np.array(way), places[k:]))
            flags = np.concatenate((np.ones(len(way) - 1, bool), flags[k - 1 :]))
        places, flags = places[::-1], flags[::-1]
    return _Bay(first % count, size, ([_pair(place) for place in places], flags), behind, closed)


def _open(walled: Mask, side: int, step: int) -> int:
    """How many sides from one on, that way, have no wall."""
    turned = np.roll(walled, -side)
    return int(np.argmax(turned if step > 0 else np.roll(turned[::-1], 1)))


def _past(wall: _Wall, places: Floats) -> tuple[int, Floats]:
    """How many corners of a run lie behind a wall that it begins at, and where the run comes back to its line."""
    off = wall.before(places)
    back = np.flatnonzero((off[1:] > 0) & (np.arange(1, len(off)) > 1))
    k = int(back[0]) + 1 if len(back) else len(off) - 1
    share = off[k - 1] / (off[k - 1] - off[k]) if off[k] != off[k - 1] else 1.0
    return k, places[k - 1] + min(max(float(share), 0.0), 1.0) * (places[k] - places[k - 1])


def _meetings(a: _Wall, b: _Wall) -> list[Floats]:
    """Where two walls' lines or circles meet, or touch; of one that goes on as the other where it begins."""
    if a.circle is None and b.circle is None:
        det = _cross(a.way, b.way)
        if abs(det) > PARALLEL:
            return [a.at + _cross(b.at - a.at, b.way) / det * a.way]
        return [a.at] if abs(_cross(a.way, b.at - a.at)) <= COINCIDENT + LENGTH * 1e-2 else []
    if a.circle is None or b.circle is None:
        straight, circle = (a, b.circle) if a.circle is None else (b, a.circle)
        assert circle is not None
        foot = straight.at + float((circle[:2] - straight.at) @ straight.way) * straight.way
        return _about(foot, straight.way, float(circle[2]), float(np.linalg.norm(foot - circle[:2])))
    gap = b.circle[:2] - a.circle[:2]
    apart = float(np.linalg.norm(gap))
    if apart <= LENGTH:
        return [a.at] if abs(a.circle[2] - b.circle[2]) <= LENGTH else []
    along = (apart**2 + float(a.circle[2]) ** 2 - float(b.circle[2]) ** 2) / (2 * apart)
    square = np.array([-gap[1], gap[0]]) / apart
    return _about(a.circle[:2] + along * gap / apart, square, float(a.circle[2]), abs(along))


def _about(foot: Floats, way: Floats, radius: float, off: float) -> list[Floats]:
    """The two points of a circle on a line that passes so far off its middle; the foot alone where it touches it."""
    if off > radius - 1e-2 * LENGTH:
        return [foot] if off <= radius + LENGTH else []
    half = math.sqrt(radius**2 - off**2)
    return [foot - half * way, foot + half * way]


def _holds(holes: Holes, point: Floats) -> bool:
    return bool(np.any(np.hypot(*(holes.circles[:, :2] - point).T) <= holes.circles[:, 2] + LENGTH))


def _cross(a: Floats, b: Floats) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _pair(point: Floats) -> Point:
    return float(point[0]), float(point[1])


def _sides(polygon: Sequence[Point]) -> Floats:
    points = np.array(polygon)
    return np.stack((points, np.roll(points, -1, axis=0)), axis=1)
