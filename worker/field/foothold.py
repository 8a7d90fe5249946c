"""What a round corner leaves at the foot of faces that it follows, by triangles (setup's frame, mm).

Set down on each place of a face that leans or bulges, the cutter may come down upon something level beside it. Where it
just does its axis runs along a line: over places that it does not touch the lowest that it comes from there is left.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from schemas.tool import Tool
from worker.field.arcs import ball_through, circle_through, level_rims
from worker.field.lines import Floats, Ints, Mask
from worker.field.scene import UPRIGHT, Scene

COARSE, FINE = 4, 10
"""Pieces within one radius of the corner: of a face that is looked at, and of what is left over it."""
MOST = 15_000
"""Pieces of a face, about."""
HALVINGS = 30
ENTERED = 4e-3
"""What comes no deeper (mm) into the cutter only touches it."""
GAP = 1e-5
"""Pieces of one line that are no further apart (mm) are one."""
LEVEL = 1 - 1e-9
WITHIN = 1e-3
"""Corners of triangles lie so near to the form that they tell (mm)."""
BLOCK = 2_000_000

Form = Callable[[Floats], tuple[Floats, Floats]]
"""Heights (n,) and unit normals (n, 3) of a face over places (n, 2)."""


@dataclass(frozen=True, eq=False)
class Line:
    """Where the axis runs when the cutter rests on a floor and touches a face: pieces (n, 2, 2), the level part of the
    unit normals of the face there (n, 2), and the height of the tip."""

    pieces: Floats
    ways: Floats
    tip: float


def over_feet(scene: Scene, faces: Sequence[int], tool: Tool) -> dict[int, Floats]:
    """Triangles of each of the faces, brought up to what the cutter leaves at their feet."""
    each = {face: scene.up_of([face]) for face in faces}
    lines: list[Line] = []
    found = {}
    for face in sorted(each, key=lambda face: _is_level(each[face])):
        triangles = each[face]
        low = _is_level(triangles)
        own = [] if low else _lines(scene, face, triangles, tool)
        lines += own
        near = [line for line in lines if low and abs(line.tip - float(triangles[0, 0, 2])) <= LENGTH] if low else own
        found[face] = _brought_up(triangles, near, tool) if near else triangles
    return found


def _is_level(triangles: Floats) -> bool:
    return bool(np.ptp(triangles[:, :, 2]) <= COINCIDENT)


def _lines(scene: Scene, face: int, triangles: Floats, tool: Tool) -> list[Line]:
    form = form_of(triangles)
    if form is None:
        return []
    pieces = halved(triangles, _size(triangles, tool.corner_radius / COARSE))
    found = []
    for level, floor in _floors(scene, triangles, tool):
        rests = _rests(form, pieces, level, floor, tool)
        if rests.any():
            line = _line(form, pieces, level, rests, tool)
            found += [line] if len(line.pieces) else []
    return found


def _size(triangles: Floats, wanted: float) -> float:
    sides = triangles[:, (1, 2, 0), :2] - triangles[:, :, :2]
    area = float(np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]).sum()) / 2
    return max(wanted, 2 * math.sqrt(area / MOST))


def _floors(scene: Scene, triangles: Floats, tool: Tool) -> list[tuple[float, Floats]]:
    """Level places by their height, as triangles (n, 3, 2), that the cutter may come down upon from a face."""
    part = scene.part[scene.looks > LEVEL]
    held = scene.held_up
    held = held[np.ptp(held[:, :, 2], axis=1) <= COINCIDENT] if len(held) else held
    level = np.concatenate([part, held]) if len(held) else part
    reach = 2 * tool.diameter
    low, high = triangles[:, :, :2].min(axis=(0, 1)) - reach, triangles[:, :, :2].max(axis=(0, 1)) + reach
    near = ((level[:, :, :2].max(axis=1) >= low) & (level[:, :, :2].min(axis=1) <= high)).all(axis=1)
    z = level[:, 0, 2]
    near &= (z > triangles[:, :, 2].min() - tool.corner_radius) & (z < triangles[:, :, 2].max() - LENGTH)
    heights = np.unique(np.round(z[near], 6))
    return [(float(h), level[near & (np.abs(z - h) <= COINCIDENT)][:, :, :2]) for h in heights]


def _placed(form: Form, places: Floats, tool: Tool) -> tuple[Floats, Floats, Floats]:
    """Axis (n, 2) and tips (n,) of the cutter set down on the face over places (n, 2); the normals there."""
    heights, normals = form(places)
    lean = np.maximum(np.hypot(*normals[:, :2].T), COINCIDENT)
    out = tool.corner_radius + (tool.radius - tool.corner_radius) / lean
    axis = places + normals[:, :2] * out[:, None]
    return axis, heights + tool.corner_radius * (normals[:, 2] - 1), normals


def _rests(form: Form, pieces: Floats, level: float, floor: Floats, tool: Tool) -> Mask:
    """Corners (n, 3) of pieces on which the cutter would enter the floor."""
    places, back = _once(pieces)
    axis, tips, normals = _placed(form, places, tool)
    deep, r = level - tips - ENTERED, tool.corner_radius
    wide = tool.radius - r + np.sqrt(np.maximum(r * r - np.clip(r - deep, 0.0, r) ** 2, 0.0))
    found = np.zeros(len(places), bool)
    asked = np.flatnonzero((deep > 0.0) & (normals[:, 2] < LEVEL))
    for some in np.array_split(asked, len(asked) * len(floor) // BLOCK + 1) if len(asked) else ():
        found[some] = _away(axis[some], floor) < wide[some]
    return found[back]


def _away(points: Floats, triangles: Floats) -> Floats:
    """How far points (n, 2) lie off the nearest of triangles (m, 3, 2) that are wound to the left; 0 within them."""
    inside = np.ones((len(points), len(triangles)), bool)
    least = np.full((len(points), len(triangles)), np.inf)
    for k in range(3):
        a, side = triangles[:, k], triangles[:, (k + 1) % 3] - triangles[:, k]
        to = points[:, None] - a
        inside &= side[:, 0] * to[..., 1] - side[:, 1] * to[..., 0] >= 0
        least = np.minimum(least, off_sides(to, side))
    return np.asarray(np.where(inside, 0.0, least).min(axis=1))


def off_sides(to: Floats, sides: Floats) -> Floats:
    """How far points lie off line segments (m, 2), ``to`` (n, m, 2) from where each of these begins: (n, m)."""
    share = np.clip((to * sides).sum(axis=2) / np.maximum((sides * sides).sum(axis=1), 1e-18), 0.0, 1.0)
    return np.asarray(np.linalg.norm(to - share[..., None] * sides, axis=2))


def _line(form: Form, pieces: Floats, level: float, rests: Mask, tool: Tool) -> Line:
    """The axis's line between places on which the cutter rests on the floor and such on which it does not."""
    mixed = rests.any(axis=1) & ~rests.all(axis=1)
    rows = np.repeat(np.flatnonzero(mixed), 3).reshape(-1, 3)
    side = np.broadcast_to(np.arange(3), rows.shape)
    crossed = rests[rows, side] != rests[rows, (side + 1) % 3]  # two sides of each
    rows, side = rows[crossed], side[crossed]
    a, b = pieces[rows, side, :2], pieces[rows, (side + 1) % 3, :2]
    axis, _, normals = _placed(form, _between(form, a, b, level, tool), tool)
    return Line(*_joined(axis.reshape(-1, 2, 2), normals[:, :2].reshape(-1, 2, 2).mean(axis=1)), level)


def _joined(pieces: Floats, ways: Floats) -> tuple[Floats, Floats]:
    """Pieces (n, 2, 2) of one line, where the face looks one way (n, 2), end to end as few of them."""
    named = np.round(ways, 6)
    found, looks = [], []
    for way in np.unique(named, axis=0):
        own = pieces[(named == way).all(axis=1)]
        along = np.array([-way[1], way[0]]) / max(float(np.hypot(*way)), COINCIDENT)
        across = way / max(float(np.hypot(*way)), COINCIDENT)
        ends = np.sort(own @ along, axis=1)
        off = float((own @ across).mean())
        for start, stop in _runs(ends[np.argsort(ends[:, 0])]):
            found.append((off * across + start * along, off * across + stop * along))
            looks.append(way)
    return np.array(found).reshape(-1, 2, 2), np.array(looks).reshape(-1, 2)


def _runs(ends: Floats) -> Iterator[tuple[float, float]]:
    """Stretches (n, 2) by their rising starts, such as touch made one."""
    start, stop = ends[0].tolist()
    for low, high in ends[1:].tolist():
        if low > stop + GAP:
            yield start, stop
            start = low
        stop = max(stop, high)
    yield start, stop


def _between(form: Form, a: Floats, b: Floats, level: float, tool: Tool) -> Floats:
    """The places (n, 2) between others at which the tip stands as high as the floor, or the higher ones of those."""
    first, second = (_placed(form, end, tool)[1] - level for end in (a, b))
    higher = np.where((first > second)[:, None], a, b)
    apart = first * second < 0
    for _ in range(HALVINGS):
        middle = (a + b) / 2
        at = _placed(form, middle, tool)[1] - level
        left = (at * first > 0)[:, None]
        a, b = np.where(left, middle, a), np.where(left, b, middle)
    return np.where(apart[:, None], (a + b) / 2, higher)


def _brought_up(triangles: Floats, lines: Sequence[Line], tool: Tool) -> Floats:
    """Triangles in pieces as fine as what is left asks for, their corners no lower than the cutter comes."""
    coarse = halved(triangles, _size(triangles, tool.corner_radius / COARSE))
    bare = (_lifts(coarse, lines, tool) <= 0).all(axis=1)
    hot = coarse[~bare]
    if not len(hot):
        return triangles
    fine = halved(hot, _size(hot, tool.corner_radius / FINE))
    fine[:, :, 2] += np.maximum(_lifts(fine, lines, tool), 0.0)
    return np.concatenate([coarse[bare], fine])


def _lifts(pieces: Floats, lines: Sequence[Line], tool: Tool) -> Floats:
    """How far the cutter stays above the corners (n, 3) of pieces."""
    places, back = _once(pieces)
    low = np.full(len(places), -np.inf)
    for line in lines:
        low = np.maximum(low, _left(places, line, tool))
    return np.asarray(low[back] - pieces[:, :, 2])


def _once(pieces: Floats) -> tuple[Floats, Ints]:
    """Where corners of pieces lie, seen along z, each place (n, 2) once; and the number of each corner's place."""
    x, y = np.round(pieces[:, :, :2].reshape(-1, 2), 9).T
    found, back = np.unique(x + 1j * y, return_inverse=True)
    return np.stack((found.real, found.imag), axis=1), back.reshape(-1, 3)


def _left(places: Floats, line: Line, tool: Tool) -> Floats:
    """How low the cutter comes over places (n, 2) between the line and the face; far below elsewhere."""
    found = np.full(len(places), -np.inf)
    reach = tool.radius + float(np.linalg.norm(line.pieces[:, 1] - line.pieces[:, 0], axis=1).max())
    cells = np.floor(places / reach).astype(np.int64)
    for cell in np.unique(cells[:, 0] + 1j * cells[:, 1]) if len(places) else ():
        own = np.flatnonzero((cells[:, 0] == int(cell.real)) & (cells[:, 1] == int(cell.imag)))
        low, high = places[own].min(axis=0) - reach, places[own].max(axis=0) + reach
        near = ((line.pieces.max(axis=1) >= low) & (line.pieces.min(axis=1) <= high)).all(axis=1)
        if near.any():
            found[own] = _near(places[own], Line(line.pieces[near], line.ways[near], line.tip), tool)
    return found


def _near(places: Floats, line: Line, tool: Tool) -> Floats:
    flat, r = tool.radius - tool.corner_radius, tool.corner_radius
    a, side = line.pieces[:, 0], line.pieces[:, 1] - line.pieces[:, 0]
    x, y = (places[:, None, k] - a[:, k] for k in (0, 1))
    share = np.clip((x * side[:, 0] + y * side[:, 1]) / np.maximum((side * side).sum(axis=1), 1e-18), 0.0, 1.0)
    x, y = x - share * side[:, 0], y - share * side[:, 1]
    rows, nearest = np.arange(len(places)), (x * x + y * y).argmin(axis=1)
    x, y, ways = x[rows, nearest], y[rows, nearest], line.ways[nearest]
    bent = np.hypot(x, y) - flat
    beyond = (x * ways[:, 0] + y * ways[:, 1] < 0) & (bent < r * np.linalg.norm(ways, axis=1))  # then it touches
    height = line.tip + r - np.sqrt(np.maximum(r * r - np.clip(bent, 0.0, r) ** 2, 0.0))
    return np.where(beyond & (bent > 0), height, -np.inf)


def halved(triangles: Floats, size: float) -> Floats:
    """Triangles (n, 3, 3) halved across their longest sides, seen along z, until none is longer than a size."""
    done = [triangles[:0]]
    while len(triangles):
        sides = np.linalg.norm((triangles[:, (1, 2, 0)] - triangles)[:, :, :2], axis=2)
        small = sides.max(axis=1) <= size
        done.append(triangles[small])
        triangles, first = triangles[~small], sides[~small].argmax(axis=1)
        triangles = halved_across(triangles, first)
    return np.concatenate(done)


def halved_across(triangles: Floats, side: Ints) -> Floats:
    """Triangles (n, 3, 3) halved across one of their sides (n) each: two that share one are halved there alike."""
    turned = np.take_along_axis(triangles, ((side[:, None] + np.arange(3)) % 3)[..., None], axis=1)
    a, b, c = turned.transpose(1, 0, 2)
    middle = (a + b) / 2
    return np.concatenate((np.stack((a, middle, c), axis=1), np.stack((middle, b, c), axis=1)))


def form_of(triangles: Floats) -> Form | None:
    """The plane, or the lying cylinder, ball, upright cone or ring that bulges, through a face's triangles that look
    up; None for others."""
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(across, axis=1)
    sound = size > COINCIDENT**1.5
    triangles, normals = triangles[sound], across[sound] / size[sound][:, None]
    if not len(triangles):
        return None
    if np.ptp(normals, axis=0).max() < COINCIDENT:
        return _plane(triangles, normals[0])
    for shape in (_cylinder, _ball, _turned):
        form = shape(triangles, normals)
        if form is not None:
            return form
    return None


def _plane(triangles: Floats, normal: Floats) -> Form:
    def form(places: Floats) -> tuple[Floats, Floats]:
        off = (places - triangles[0, 0, :2]) @ normal[:2]
        return triangles[0, 0, 2] - off / normal[2], np.broadcast_to(normal, (len(places), 3))

    return form


def _cylinder(triangles: Floats, normals: Floats) -> Form | None:
    axis = np.linalg.svd(normals, full_matrices=False)[2][2]
    if np.abs(normals @ axis).max() > UPRIGHT or abs(axis[2]) > UPRIGHT:
        return None
    way = np.array([-axis[1], axis[0]]) / np.hypot(axis[0], axis[1])
    points = triangles.reshape(-1, 3)
    circle = circle_through(np.stack((points[:, :2] @ way, points[:, 2]), axis=1), WITHIN)
    if circle is None:
        return None
    w0, z0, radius = (float(c) for c in circle)
    if ((triangles.mean(axis=1)[:, 2] - z0) * normals[:, 2]).sum() < 0:
        return None

    def form(places: Floats) -> tuple[Floats, Floats]:
        w = np.clip(places @ way - w0, -radius, radius)
        up = np.sqrt(radius * radius - w * w)
        return z0 + up, np.concatenate((w[:, None] * way, up[:, None]), axis=1) / radius

    return form


def _ball(triangles: Floats, normals: Floats) -> Form | None:
    found = ball_through(triangles.reshape(-1, 3), WITHIN)
    if found is None:
        return None
    centre, radius = found
    if np.any(((triangles.mean(axis=1) - centre) * normals).sum(axis=1) < radius / 2):
        return None  # two level circles lie on one ball as well

    def form(places: Floats) -> tuple[Floats, Floats]:
        off = places - centre[:2]
        up = np.sqrt(np.maximum(radius * radius - (off * off).sum(axis=1), 0.0))
        out = np.concatenate((off, up[:, None]), axis=1)
        return centre[2] + up, out / np.maximum(np.linalg.norm(out, axis=1), COINCIDENT)[:, None]

    return form


def _turned(triangles: Floats, normals: Floats) -> Form | None:
    """A cone or the outside of a ring about an upright axis, which the level circles at its ends tell."""
    rims = level_rims(triangles)
    if not rims:
        return None
    centre = rims[0][:2]
    points = triangles.reshape(-1, 3)
    rho = np.hypot(*(points[:, :2] - centre).T)
    line, heights = np.polyfit(rho, points[:, 2], 1), points[:, 2]
    if np.abs(np.polyval(line, rho) - heights).max() <= WITHIN:
        if line[0] > 0:
            return None
        slope = np.array([-line[0], 1.0]) / math.hypot(line[0], 1.0)

        def section(r: Floats) -> tuple[Floats, Floats]:
            return line[0] * r + line[1], np.broadcast_to(slope, (len(r), 2))

    else:
        circle = circle_through(np.stack((rho, heights), axis=1), WITHIN)
        if circle is None or float((normals[:, 2] * (triangles.mean(axis=1)[:, 2] - circle[1])).sum()) < 0:
            return None
        r0, z0, radius = (float(c) for c in circle)

        def section(r: Floats) -> tuple[Floats, Floats]:
            w = np.clip(r - r0, -radius, radius)
            up = np.sqrt(radius * radius - w * w)
            return z0 + up, np.stack((w, up), axis=1) / radius

    def form(places: Floats) -> tuple[Floats, Floats]:
        off = places - centre
        r = np.hypot(*off.T)
        z, lean = section(r)
        out = off / np.maximum(r, COINCIDENT)[:, None] * lean[:, :1]
        return z, np.concatenate((out, lean[:, 1:]), axis=1)

    return form
