"""Floors that slope, followed by a ball, by triangles (setup's frame, mm).

The lowest place that the ball's middle may take over a spot of the plan lies its radius off every plane that looks up,
and its radius off every upright wall beside it, which counts as if it went on up. So a spot of the floor is touched
where that middle may stand on the plane's normal; over any other the ball comes lowest from one of the lines at which
two of these meet: from a straight piece that rises k a length, s aside of the spot, ``sqrt((r2 - s2) (1 + k2))`` lower
than the middle's line lies over the spot, or from the piece's end. Where none is near enough all of it stays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from schemas.tool import Tool
from worker.field.feet import within
from worker.field.fitted import hollow_radius
from worker.field.foothold import halved, halved_across, off_sides
from worker.field.lines import Floats, Mask
from worker.field.off_faces import rise_of
from worker.field.reached import Nearly, reached
from worker.field.scene import UPRIGHT, Scene
from worker.field.triangles import CHORD

COARSE = 4
"""Pieces within one radius of floors that are looked at."""
FLAT, LEAST, ROUNDS = 4e-3, 0.04, 30
"""Pieces are halved until the middles of their sides lie so near to what is left (mm), or they are so short; so
often at most."""
HALVINGS = 25
"""Steps in which the end of such a line is found."""
STEEP = 0.02
"""Height of the ball's normal where it meets a wall: upright its surface may be farther off by as much more."""
STEP, ROUND = 40, 96
"""Places within one radius along a line of the ball's middle, and on its way round the end of a wall."""
ALONG, BESIDE = np.linspace(0.05, 0.95, 7), 0.01
"""Where along a wall, and how far before it (mm), the floor is looked for."""
CLEAR = 1e-6
"""The middle may be nearer to a wall by so much than the ball's radius (mm)."""
BLOCK = 2_000_000


@dataclass(frozen=True, eq=False)
class _Room:
    """What bounds the ball's middle: ``planes`` (n, 3), heights ``a + b x + c y`` of those that it may be on; ``walls``
    (m, 2, 2), upright ones seen from above."""

    planes: Floats
    walls: Floats
    radius: float

    def heights(self, places: Floats) -> Floats:
        """The lowest that the middle may be over places (n, 2) by the planes."""
        return np.asarray(_over(self.planes, places).max(axis=1))

    def clear(self, places: Floats) -> Mask:
        """Where the walls let it be."""
        if not len(places):
            return np.zeros(0, bool)
        low, high = places.min(axis=0) - self.radius, places.max(axis=0) + self.radius
        walls = self.walls[((self.walls.max(axis=1) >= low) & (self.walls.min(axis=1) <= high)).all(axis=1)]
        found = np.ones(len(places), bool)
        for some in _blocks(len(places), len(walls)):
            found[some] = _away(places[some], walls).min(axis=1, initial=np.inf) >= self.radius - CLEAR
        return found


def over_ramp(scene: Scene, faces: Sequence[int], tool: Tool) -> list[Nearly]:
    """What a ball takes above a floor that slopes and all that rises from it but for level tops; over hollows that may
    be too tight for it as far as it gets down."""
    found = []
    each = {face: scene.up_of([face]) for face in faces}
    each = {face: own for face, own in each.items() if len(own) and np.ptp(own[:, :, 2]) > COINCIDENT}
    whole = {face: scene.part[scene.owner == face] for face in each}  # as meshed: not yet along the arcs of walls
    planes = {face: _plane(own) for face, own in whole.items() if rise_of(own) is not None}
    room = _room_of(scene, list(planes.values()), np.concatenate(list(each.values())), tool.radius)
    lines = _lines(room)
    for face, own in each.items():
        if face in planes:
            found.append(_above(scene, room, planes[face], whole[face], lines, _missed(own, whole[face], scene.top)))
        elif (hollow_radius(own) or 0.0) >= tool.radius - LENGTH:
            found.append(Nearly(scene.view, own, scene.top))
        else:
            found.append(reached(scene.view, scene.top, own, tool))
    return found


def _plane(triangles: Floats) -> Floats:
    """Height at the origin and rise along x and y of the plane through triangles."""
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    nx, ny, nz = across[np.argmax(np.linalg.norm(across, axis=1))]
    x, y, z = triangles[0, 0]
    return np.array([z + (nx * x + ny * y) / nz, -nx / nz, -ny / nz])


def _over(planes: Floats, places: Floats) -> Floats:
    return planes[:, 0] + places @ planes[:, 1:].T


def _room_of(scene: Scene, planes: Sequence[Floats], near: Floats, radius: float) -> _Room:
    """The planes of the floor brought up to the ball's middle, and the walls that stand over them beside it."""
    own = np.array(planes).reshape(-1, 3)
    raised = own + np.column_stack((radius * np.sqrt(1 + (own[:, 1:] ** 2).sum(axis=1)), np.zeros((len(own), 2))))
    upright = scene.part[np.abs(scene.looks) <= UPRIGHT]
    low, high = (end - 2 * way * radius for end, way in ((near.min(axis=(0, 1)), 1), (near.max(axis=(0, 1)), -1)))
    beside = ((upright.max(axis=1) >= low) & (upright.min(axis=1) <= high))[:, :2].all(axis=1)
    walls = [_seen(one, above) for one in upright[beside] if len(above := _above_planes(one, own)) > 1]
    found = np.unique(np.round(np.array(walls).reshape(-1, 4), 9), axis=0).reshape(-1, 2, 2)
    found = found[np.hypot(*(found[:, 1] - found[:, 0]).T) > LENGTH]
    return _Room(raised, found[_has_before(found, near[:, :, :2])], radius)


def _has_before(walls: Floats, floor: Floats) -> Mask:
    """Which walls (m, 2, 2), free on their left, have some of a floor's triangles (n, 3, 2) right before them."""
    side = walls[:, 1] - walls[:, 0]
    left = np.stack((-side[:, 1], side[:, 0]), axis=1) / np.maximum(np.hypot(*side.T), COINCIDENT)[:, None]
    places = (walls[:, None, 0] + ALONG[:, None] * side[:, None] + BESIDE * left[:, None]).reshape(-1, 2)
    found = np.zeros(len(places), bool)
    for some in _blocks(len(places), len(floor)):
        found[some] = within(places[some], floor)
    return np.asarray(found.reshape(-1, len(ALONG)).any(axis=1))


def _above_planes(triangle: Floats, planes: Floats) -> Floats:
    """Corners (n, 3) of what of an upright triangle lies above all planes."""
    found = triangle
    for plane in planes if len(planes) else ():
        over = found[:, 2] - _over(plane[None], found[:, :2])[:, 0] - LENGTH
        after = np.roll(np.arange(len(found)), -1)
        parts = []
        for k in range(len(found)):
            parts += [found[k]] if over[k] > 0 else []
            if (over[k] > 0) != (over[after[k]] > 0):
                share = over[k] / (over[k] - over[after[k]])
                parts.append(found[k] + share * (found[after[k]] - found[k]))
        found = np.array(parts).reshape(-1, 3)
    return found


def _seen(triangle: Floats, corners: Floats) -> Floats:
    """Corners (n, 3) of what is kept of an upright triangle from above: the two that lie farthest apart, so that what
    it looks upon is on their left."""
    a, b = max(combinations(corners[:, :2].tolist(), 2), key=lambda pair: math.dist(*pair))
    across = np.cross(triangle[1] - triangle[0], triangle[2] - triangle[0])
    return np.array((a, b) if across[1] * (b[0] - a[0]) - across[0] * (b[1] - a[1]) > 0 else (b, a))


def _blocks(count: int, width: int) -> list[np.ndarray[tuple[int, ...], np.dtype[np.int64]]]:
    return np.array_split(np.arange(count), count * width // BLOCK + 1)


def _away(places: Floats, walls: Floats) -> Floats:
    """How far places (n, 2) lie off walls (m, 2, 2), seen from above."""
    side = walls[:, 1] - walls[:, 0]
    return off_sides(places[:, None] - walls[:, 0], side)


def _lines(room: _Room) -> Floats:
    """Pieces (n, 2, 3) of the lines along which the ball's middle runs where it touches floor and wall: runs of places
    where it may be, each on to where it may no longer."""
    rows = [*_along_walls(room), *_round_ends(room)]
    if not rows:
        return np.zeros((0, 2, 3))
    places = np.concatenate(rows)
    there = room.clear(places)
    number = np.repeat(np.arange(len(rows)), [len(row) for row in rows])
    at = np.flatnonzero((there[1:] != there[:-1]) & (number[1:] == number[:-1]))
    inside = np.where(there[at], at, at + 1)
    ends = dict(zip(at.tolist(), _ends(room, places[inside], places[2 * at + 1 - inside]), strict=True))
    found = []
    for run in np.split(np.arange(len(places)), np.flatnonzero(np.diff(there) | (np.diff(number) > 0)) + 1):
        if there[run[0]]:
            points = np.column_stack((places[run], room.heights(places[run])))
            before, after = ([ends[k][None]] if k in ends else [] for k in (int(run[0]) - 1, int(run[-1])))
            found.append(_straight(np.concatenate([*before, points, *after])))
    return np.concatenate([np.zeros((0, 2, 3)), *found])


def _ends(room: _Room, inside: Floats, outside: Floats) -> Floats:
    """The last places (n, 3) from such where the middle may be towards others where it may not."""
    for _ in range(HALVINGS):
        half = (inside + outside) / 2
        there = room.clear(half)[:, None]
        inside, outside = np.where(there, half, inside), np.where(there, outside, half)
    return np.column_stack((inside, room.heights(inside)))


def _along_walls(room: _Room) -> list[Floats]:
    """Places (n, 2) in rows: along each wall, to either side."""
    found = []
    for a, b in room.walls:
        size = float(np.hypot(*(b - a)))
        across = np.array([a[1] - b[1], b[0] - a[0]]) / size * room.radius
        row = a + np.linspace(0.0, 1.0, max(math.ceil(size / room.radius * STEP), 2))[:, None] * (b - a)
        found += [row + across, row - across]
    return found


def _round_ends(room: _Room) -> list[Floats]:
    """The same round the ends of walls, about which the ball turns."""
    turn = np.linspace(0.0, math.tau, ROUND + 1)
    around = room.radius * np.column_stack((np.cos(turn), np.sin(turn)))
    ends = np.unique(room.walls.reshape(-1, 2), axis=0) if len(room.walls) else np.zeros((0, 2))
    return [end + around for end in ends]


def _straight(points: Floats) -> Floats:
    """Points (n, 3) end to end as pieces (m, 2, 3): one, where all lie on a line."""
    first, last = points[0], points[-1]
    way = (last - first) / max(float(np.linalg.norm(last - first)), 1e-12)
    off = points - first - ((points - first) @ way)[:, None] * way
    return np.stack((first, last))[None] if np.abs(off).max() <= 1e-9 else np.stack((points[:-1], points[1:]), axis=1)


def _missed(own: Floats, whole: Floats, top: float) -> float:
    """What chords cut off a face along the arcs of walls, up to a height (mm3)."""
    return abs(float(_areas(own).sum() - _areas(whole).sum())) * (top - float(whole[:, :, 2].min()))


def _above(scene: Scene, room: _Room, plane: Floats, own: Floats, lines: Floats, unsure: float) -> Nearly:
    """What the ball takes above one plane's triangles: in pieces as fine as what it leaves asks for."""
    coarse = halved(own, room.radius / COARSE)
    hot = (_left(room, plane, coarse, lines, scene.top) > coarse[:, :, 2] + COINCIDENT).any(axis=1)
    bare, done = coarse[~hot], [coarse[:0]]
    pieces = coarse[hot]
    pieces[:, :, 2] = _left(room, plane, pieces, lines, scene.top)
    for _ in range(ROUNDS):
        if not len(pieces):
            break
        middles = (pieces + pieces[:, (1, 2, 0)]) / 2
        over = _left(room, plane, middles, lines, scene.top)
        off = np.abs(over - middles[:, :, 2])
        upright = (plane[0] + middles[:, :, :2] @ plane[1:] + room.radius - over) / room.radius  # of the ball's normal
        size = np.linalg.norm((pieces[:, (1, 2, 0)] - pieces)[:, :, :2], axis=2)
        split = np.where((off * np.clip(upright, STEEP, 1.0) > FLAT) & (size > LEAST), size, 0.0)
        rest = split.max(axis=1) == 0.0
        done.append(pieces[rest])
        unsure += float((_areas(pieces[rest]) * off[rest].max(axis=1)).sum())
        pieces = halved_across(pieces[~rest], split[~rest].argmax(axis=1))
        pieces[:, :, 2] = _left(room, plane, pieces, lines, scene.top)
    return Nearly(scene.view, np.concatenate((bare, *done, pieces)), scene.top, unsure)


def _areas(triangles: Floats) -> Floats:
    sides = triangles[:, (1, 2), :2] - triangles[:, :1, :2]
    return np.asarray(np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]) / 2)


def _left(room: _Room, plane: Floats, pieces: Floats, lines: Floats, top: float) -> Floats:
    """How low the ball comes over the corners (n, 3) of a plane's pieces."""
    x, y = np.round(pieces[:, :, :2].reshape(-1, 2), 9).T
    once, back = np.unique(x + 1j * y, return_inverse=True)
    places = np.stack((once.real, once.imag), axis=1)
    floor = plane[0] + places @ plane[1:]
    middle = places - room.radius / math.sqrt(1 + float(plane[1:] @ plane[1:])) * plane[1:]
    up = plane[0] + middle @ plane[1:] + room.radius * math.sqrt(1 + float(plane[1:] @ plane[1:]))
    touched = room.clear(middle) & (room.heights(middle) <= up + COINCIDENT)
    found = np.where(touched, floor, top)
    asked = np.flatnonzero(~touched)
    found[asked] = np.minimum(_lowest(places[asked], lines, room.radius), top)
    return np.asarray(np.maximum(found, floor)[back.reshape(-1)].reshape(-1, 3))


def _lowest(places: Floats, lines: Floats, radius: float) -> Floats:
    """How low the ball comes over places (n, 2) from pieces of lines; far up where none is near enough."""
    found = np.full(len(places), np.inf)
    cells = np.floor(places / radius).astype(np.int64)
    low, high = lines[:, :, :2].min(axis=1) - radius, lines[:, :, :2].max(axis=1) + radius
    for cell in np.unique(cells[:, 0] + 1j * cells[:, 1]):
        own = np.flatnonzero((cells[:, 0] == int(cell.real)) & (cells[:, 1] == int(cell.imag)))
        near = ((low <= places[own].max(axis=0)) & (high >= places[own].min(axis=0))).all(axis=1)
        for some in _blocks(len(own), int(near.sum())) if near.any() else ():
            found[own[some]] = _under(places[own[some]], lines[near], radius)
    return found


def _under(places: Floats, lines: Floats, radius: float) -> Floats:
    start, side = lines[:, 0], lines[:, 1] - lines[:, 0]
    size = np.maximum(np.hypot(side[:, 0], side[:, 1]), 1e-12)
    along, rise = side[:, :2] / size[:, None], side[:, 2] / size
    to = places[:, None] - start[:, :2]
    at, off = (to * along).sum(axis=2), to[..., 0] * along[:, 1] - to[..., 1] * along[:, 0]
    room = radius * radius - off * off
    best = np.clip(at - rise * np.sqrt(np.maximum(room, 0.0) / (1 + rise * rise)), 0.0, size)
    under = room - (at - best) ** 2
    low = np.where(under > -2 * CHORD * radius, start[:, 2] + rise * best - np.sqrt(np.maximum(under, 0.0)), np.inf)
    return np.asarray(low.min(axis=1))
