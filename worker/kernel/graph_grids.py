"""Free-form faces that end where their parameters do, as grids: the kernel's triangulators take far longer."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from OCP.BRepAdaptor import BRepAdaptor_Surface

from schemas.base import Vec3
from schemas.tolerances import MESH
from worker.kernel.graph_mesh import TURN, Corners
from worker.kernel.splines import Net, alike, steps, surface_points

TRIAL, TRIES = 6, 4
"""Cells along each parameter from which bends are taken first, and how often grids are made anew."""
SIZES = (2, 3, 4, 6, 8, 11, 16, 23, 32)
"""Cells that a grid has along each parameter: faces of one size are looked at together."""
LEAN = 0.1
"""Cells are at most so many times as long as wide, by their bends."""
ASKED = 8
"""So many stretches between the points of an edge that are held against the grid's border."""
SIDES = (0b0011, 0b0101, 0b1010, 0b1100)
"""The corners that the sides of a grid join: the first and the last come together along the second parameter."""
AT_ONCE = 64
"""Faces whose borders are looked at together."""
Array = NDArray[np.float64]


class Side(NamedTuple):
    """A face: its surface, -1 where it looks against that, points along each edge, in either direction; its poles."""

    adaptor: BRepAdaptor_Surface
    flip: float
    edges: Sequence[Sequence[Vec3]]
    net: Net | None = None


def grid_triangles(sides: Sequence[Side]) -> list[Corners | None]:
    """Triangles (n, 3, 3) of each face, mm, counter-clockwise seen from outside; None for one that is no such grid.

    They lie MESH off the surface at most and turn by TURN from chord to chord, as the kernel's do.
    """
    found: list[Corners | None] = [None] * len(sides)
    asked = [n for n, side in enumerate(sides) if len(side.edges) == 4]
    for members, grids in _fine_grids(sides, asked):
        for start in range(0, len(members), AT_ONCE):
            some = slice(start, start + AT_ONCE)
            bordered = _bordered(grids[some], [sides[n].edges for n in members[some]])
            good = np.array(members[some])[bordered].tolist()
            for n, corners in zip(good, _triangles(grids[some][bordered]), strict=True):
                found[n] = corners if sides[n].flip > 0 else corners[:, ::-1]
    return found


def _fine_grids(sides: Sequence[Side], asked: Sequence[int]) -> Iterator[tuple[list[int], Array]]:
    """Faces with the coarsest grids that are fine enough, by what each one tried tells of bends; some have none."""
    wanted = {(TRIAL, TRIAL): list(asked)} if asked else {}
    for _ in range(TRIES):
        finer: dict[tuple[int, int], list[int]] = defaultdict(list)
        for counts, members in wanted.items():
            grids = _grids([sides[n] for n in members], *counts)
            over = _over(grids)
            fine = np.asarray((over <= 1.0).all(axis=0))
            if fine.any():
                yield [n for n, enough in zip(members, fine, strict=True) if enough], grids[fine]
            for n, shares in zip(np.array(members)[~fine].tolist(), over.T[~fine].tolist(), strict=True):
                more = tuple(bisect_left(SIZES, count * share) for count, share in zip(counts, shares, strict=True))
                if max(more) < len(SIZES):
                    finer[SIZES[more[0]], SIZES[more[1]]].append(n)
        wanted = finer


def _grids(sides: Sequence[Side], across: int, down: int) -> Array:
    """Points at equal steps of both parameters of each face: (n, across + 1, down + 1, 3)."""
    found, nets = np.zeros((len(sides), across + 1, down + 1, 3)), [side.net for side in sides]
    for members in alike(nets):
        own = [net for n in members if (net := nets[n])]
        found[members] = surface_points(own, steps(own, 0, across), steps(own, 1, down))
    for n, side in enumerate(sides):
        if side.net is None:
            found[n] = _grid(side.adaptor, across, down)
    return found


def _grid(adaptor: BRepAdaptor_Surface, across: int, down: int) -> Array:
    """The same of one face, as the kernel tells it."""
    value = adaptor.Value
    us = _steps(adaptor.FirstUParameter(), adaptor.LastUParameter(), across)
    vs = _steps(adaptor.FirstVParameter(), adaptor.LastVParameter(), down)
    return np.array([c for u in us for v in vs for c in value(u, v).Coord()]).reshape(across + 1, down + 1, 3)


def _steps(start: float, end: float, count: int) -> list[float]:
    return [start + (end - start) * k / count for k in range(count)] + [end]


def _over(grids: Array) -> Array:
    """How much finer the parameters of each grid must be divided, for sag and turn: (2, n)."""
    chords, (across, down, twist) = _bends(grids)
    a, b = (np.sqrt(np.maximum(np.abs(bend).max(axis=(1, 2)), 1e-12)) for bend in (across, down))
    a, b = np.maximum(a, LEAN * b), np.maximum(b, LEAN * a)
    ratio = (a / b)[:, None, None]
    sag = np.sqrt(_sag(across / ratio, down * ratio, twist).max(axis=(1, 2)) / MESH)
    bends = zip((across, down), chords, strict=True)
    turns = [(np.abs(bend) / np.maximum(chord, MESH)).max(axis=(1, 2)) / TURN for bend, chord in bends]
    return np.maximum([sag * np.sqrt(a / b), sag * np.sqrt(b / a)], turns)


def _bends(grids: Array) -> tuple[tuple[Array, Array], tuple[Array, Array, Array]]:
    """At each grid's inner points the lengths of the chords along both parameters, and how far the surface leaves
    them square to itself: second differences along each, and mixed."""
    middle, near, far = grids[:, 1:-1, 1:-1], grids[:, :-2, 1:-1], grids[:, 2:, 1:-1]
    left, right = grids[:, 1:-1, :-2], grids[:, 1:-1, 2:]
    normal = np.cross(far - near, right - left)
    normal /= np.maximum(_length(normal), 1e-30)[..., None]
    mixed = (grids[:, 2:, 2:] - grids[:, 2:, :-2] - grids[:, :-2, 2:] + grids[:, :-2, :-2]) / 4
    seconds = far + near - 2 * middle, right + left - 2 * middle, mixed
    across, down, twist = (np.einsum("...k,...k->...", second, normal) for second in seconds)
    return (_length(far - near) / 2, _length(right - left) / 2), (across, down, twist)


def _sag(across: Array, down: Array, twist: Array) -> Array:
    """How far triangles lie off a surface of these second differences: a chord's eighth, along the better diagonal."""
    both = np.minimum(np.abs(across + down + 2 * twist), np.abs(across + down - 2 * twist))
    return np.asarray(np.maximum(np.maximum(np.abs(across), np.abs(down)), both) / 8)


def _length(vectors: Array) -> Array:
    return np.asarray(np.sqrt(np.einsum("...k,...k->...", vectors, vectors)))


def _bordered(grids: Array, edges: Sequence[Sequence[Sequence[Vec3]]]) -> NDArray[np.bool_]:
    """For which grids each of the four edges runs along another side of the border, from corner to corner."""
    points = np.array([[_some(line) for line in four] for four in edges])
    corners = grids[:, [0, 0, -1, -1], [0, -1, 0, -1]]
    off = _length(points[:, :, [0, -1], None] - corners[:, None, None])
    sides = (1 << off.argmin(axis=3)).sum(axis=2)
    order = sides.argsort(axis=1)
    met = np.take_along_axis(sides, order, axis=1) == SIDES
    points = np.take_along_axis(points, order[..., None, None], axis=1)
    ends = _distances(points[:, [0, 3]], grids[:, [0, -1]]), _distances(points[:, [1, 2]], _along(grids))
    away = np.concatenate(ends, axis=1).max(axis=(1, 2))
    return np.asarray(met.all(axis=1) & (off.min(axis=3).max(axis=(1, 2)) < MESH) & (away < MESH))


def _along(grids: Array) -> Array:
    """The two sides of each grid along its first parameter."""
    return np.stack([grids[:, :, 0], grids[:, :, -1]], axis=1)


def _some(line: Sequence[Vec3]) -> list[Vec3]:
    """Points of an edge from end to end, always as many."""
    last = len(line) - 1
    return [line[k * last // ASKED] for k in range(ASKED + 1)]


def _distances(points: Array, lines: Array) -> Array:
    """The distance of points (..., k, 3) from lines through points (..., m, 3)."""
    way, offset = np.diff(lines, axis=-2)[..., None, :, :], points[..., None, :] - lines[..., None, :-1, :]
    share = np.einsum("...c,...c->...", offset, way) / np.maximum(np.einsum("...c,...c->...", way, way), 1e-30)
    return np.asarray(_length(offset - np.clip(share, 0.0, 1.0)[..., None] * way).min(axis=-1))


def _triangles(grids: Array) -> Array:
    """Two triangles a cell, parted along the diagonal that follows the surface better: (n, 2 * cells, 3, 3)."""
    across, down, twist = _bends(grids)[1]
    less = np.abs(across + down + 2 * twist) <= np.abs(across + down - 2 * twist)
    usual = np.pad(less, ((0, 0), (0, 1), (0, 1)), mode="edge")[..., None, None]
    a, b, c, d = grids[:, :-1, :-1], grids[:, 1:, :-1], grids[:, 1:, 1:], grids[:, :-1, 1:]
    corners = np.where(usual, np.stack([a, b, c, a, c, d], axis=3), np.stack([a, b, d, b, c, d], axis=3))
    return corners.reshape(len(grids), -1, 3, 3) if len(grids) else corners
