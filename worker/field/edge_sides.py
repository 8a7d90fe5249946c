"""What lies past upright faces that break an edge: where a cutter's side goes that makes them."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from worker.field.arcs import Ints32, circles_through
from worker.field.ground import beyond, bounded
from worker.field.lines import Floats
from worker.field.plane import Disc, Join, Minus, Region

FAR = 1e4
"""Further than any metal (mm)."""
SAME = 1e-3
"""Walls whose axes and radii differ by less (mm) are one round."""


def past_edge(walls: Floats, owner: Ints32, radius: float) -> Region:
    """Past the planes of flat walls, and straight out of round ones, past their ends as far as a cutter of this radius
    goes on along the tangents: twice its radius. ``walls`` (n, 3, 3): their triangles,
    seen from outside counter-clockwise; ``owner`` the face of each."""
    faces = np.unique(owner)
    circles = circles_through(walls[:, :, :2].reshape(-1, 2), np.repeat(np.searchsorted(faces, owner), 3))
    parts: list[Region] = []
    for k in np.flatnonzero(~np.isfinite(circles[:, 2])).tolist():
        flat = owner == faces[k]
        way = np.cross(walls[flat][:, 1] - walls[flat][:, 0], walls[flat][:, 2] - walls[flat][:, 0]).sum(axis=0)
        x, y, _ = walls[flat][0, 0].tolist()
        parts.append(beyond((x, y), (float(way[0]), float(way[1]))))
    for circle, corners in _rounds(walls, owner, circles):
        parts.append(_past_round(circle, corners, 2 * radius))
    return Join(tuple(parts))


def _rounds(walls: Floats, owner: Ints32, circles: Floats) -> Iterator[tuple[Floats, Floats]]:
    """Each circle once, with the corners (n, 2) of all walls on it."""
    faces = np.unique(owner)
    left = np.flatnonzero(np.isfinite(circles[:, 2]))
    while len(left):
        one = circles[left[0]]
        alike = np.abs(circles[left] - one).max(axis=1) < SAME
        yield one, walls[np.isin(owner, faces[left[alike]])][:, :, :2].reshape(-1, 2)
        left = left[~alike]


def _past_round(circle: Floats, corners: Floats, onward: float) -> Region:
    centre, radius = circle[:2], float(circle[2])
    out = corners - centre
    middle = out.mean(axis=0) / np.linalg.norm(out.mean(axis=0))
    turned = np.arctan2(middle[0] * out[:, 1] - middle[1] * out[:, 0], out @ middle)
    if np.ptp(turned) > math.pi + SAME:
        return Join(())
    ways = [_turned(middle, float(angle)) for angle in (turned.min(), turned.max())]
    feet = [centre + radius * way for way in ways]
    gone = [
        foot + sign * onward * _turned(way, math.pi / 2) for foot, way, sign in zip(feet, ways, (-1, 1), strict=True)
    ]
    far = [gone[0] + FAR * ways[0], centre + 3 * FAR * middle, gone[1] + FAR * ways[1]]
    ring = [centre, feet[0], gone[0], *far, gone[1], feet[1]]
    return Minus(bounded([(float(x), float(y)) for x, y in ring]), Disc(float(centre[0]), float(centre[1]), radius))


def _turned(way: Floats, angle: float) -> Floats:
    c, s = math.cos(angle), math.sin(angle)
    return np.array([c * way[0] - s * way[1], s * way[0] + c * way[1]])
