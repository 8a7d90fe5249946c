"""At which sides of a border walls stand: metal right outside (mm)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from worker.field.lines import Floats, Mask, spread
from worker.field.plane import Region
from worker.field.spurs import without_nicks

OUTSIDE = 0.02
"""How far outside a border a wall is looked for: beyond the chords of the triangles (mm)."""
APART = 0.25
"""Along a border walls are looked for at places so far apart (mm); where they begin or end is then found by halves."""
CLOSE = 1e-3
"""How far outside it is looked for as well beside level floors (mm): metal that runs out to an edge is thinner than
that there. Beside a slope the part itself falls away too little within that to be told from a wall."""
HALVINGS = 20
Point = tuple[float, float]


def parted(loop: Sequence[Point], walls: Region, outside: Sequence[float]) -> list[Point]:
    """The loop with a corner more wherever a wall begins or ends along a side of it: what crosses a recess above its
    floor takes a piece of its wall."""
    a, along, size = _ways(loop)
    counts = np.maximum(np.ceil(size / APART), 1).astype(np.int64)
    side, k = spread(np.zeros(len(loop), np.int64), counts)
    share = (k + 0.5) / counts[side]
    held = _held(a[side] + (share * size[side])[:, None] * along[side], along[side], walls, outside)
    change = np.flatnonzero((side[1:] == side[:-1]) & (held[1:] != held[:-1]))
    if not len(change):
        return list(loop)
    which, low, high, begins = side[change], share[change], share[change + 1], held[change]
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        same = _held(a[which] + (middle * size[which])[:, None] * along[which], along[which], walls, outside) == begins
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    added = a[which] + (high * size[which])[:, None] * along[which]
    places = np.concatenate((np.arange(len(loop), dtype=float), which + high))
    points = np.concatenate((a, added))[np.argsort(places, kind="stable")]
    return [(x, y) for x, y in points.tolist()]


def _ways(loop: Sequence[Point]) -> tuple[Floats, Floats, Floats]:
    """Where each side of a loop begins, which way it goes, and how long it is."""
    a = np.array(loop)
    way = np.roll(a, -1, axis=0) - a
    size = np.linalg.norm(way, axis=1)
    return a, way / size[:, None], size


def walled_sides(loop: Sequence[Point], walls: Region, outside: Sequence[float]) -> Mask:
    """For each side of a loop whether metal stands right outside its middle."""
    a, along, size = _ways(loop)
    return without_nicks(_held(a + size[:, None] / 2 * along, along, walls, outside), size, APART)


def _held(points: Floats, along: Floats, walls: Region, outside: Sequence[float]) -> Mask:
    """Whether metal stands right outside some points (n, 2) of sides that go that way, the inside on their left:
    at one of those distances (mm)."""
    out = np.stack((along[:, 1], -along[:, 0]), axis=1)
    return np.asarray(np.any([_in(points + off * out, walls) for off in outside], axis=0))


def _in(points: Floats, walls: Region) -> Mask:
    """Which points (n, 2) lie in a region."""
    order = np.argsort(points[:, 1], kind="stable")
    lines = walls.scan(0, points[order, 1])
    inside = np.zeros(len(points), bool)
    held = (points[order[lines.line], 0] > lines.start) & (points[order[lines.line], 0] < lines.stop)
    inside[order[lines.line[held]]] = True
    return inside
