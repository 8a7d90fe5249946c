"""Where lattice lines cross triangles (mm, any one frame)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from worker.field.lattice import Lattice
from worker.field.lines import NONE, Floats, Ints, Lines, of_crossings, spread

_FLAT = 1e-12
"""Twice the projected area (mm2) below which a triangle stands along the lines and is crossed by none."""

_BLOCK = 12
"""Triangles of a block."""
_SAME = 1e-9
"""Corners (mm) and shares of a volume no further apart than this are the same."""


def solid_lines(triangles: Floats, lattice: Lattice, axis: int) -> Lines:
    """The intervals that a closed triangle mesh (n, 3, 3) holds on the lattice's lines along an axis."""
    if not len(triangles):
        return NONE
    first, second = lattice.others(axis)
    line, at, sign = crossings(triangles, (first, second, axis), lattice.middles[first], lattice.middles[second])
    return of_crossings(line, at, sign)


def block_of(triangles: Floats) -> tuple[Floats, Floats] | None:
    """Lowest and highest corner of a closed mesh that is a block along the axes: all its corners there, its volume."""
    if len(triangles) != _BLOCK:
        return None
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    if np.minimum(triangles - low, high - triangles).max() > _SAME:
        return None
    a, b, c = (triangles[:, k] - low for k in range(3))
    full = float(np.prod(high - low))
    return (low, high) if np.sum(a * np.cross(b, c)) / 6 > full * (1 - _SAME) else None


def crossings(
    triangles: Floats, axes: tuple[int, int, int], us: Floats, vs: Floats
) -> tuple[Ints, Floats, NDArray[np.int8]]:
    """Line number ``i * len(vs) + j``, place on it, and +1 or -1 as the surface looks along the line or against it.

    ``axes`` are the coordinates across (u, v) and along the lines; ``us`` and ``vs`` rise. Half-open, so that a
    line through a common edge crosses one triangle only.
    """
    u, v, w = (triangles[:, :, a] for a in axes)
    turn = (u[:, 1] - u[:, 0]) * (v[:, 2] - v[:, 0]) - (v[:, 1] - v[:, 0]) * (u[:, 2] - u[:, 0])
    lying = np.flatnonzero(np.abs(turn) > _FLAT)
    u, v, w, turn = u[lying], v[lying], w[lying], turn[lying]
    handed = 1 if axes in ((0, 1, 2), (1, 2, 0), (2, 0, 1)) else -1
    which, i, start, stop = _spans(u, v, us)
    j0, j1 = np.searchsorted(vs, start), np.searchsorted(vs, stop)
    span, j = spread(j0, j1)
    owner, row = which[span], i[span]
    du, dv = _slopes(u, v, w, turn)
    at = w[owner, 0] + du[owner] * (us[row] - u[owner, 0]) + dv[owner] * (vs[j] - v[owner, 0])
    sign = np.where(turn[owner] * handed > 0, 1, -1).astype(np.int8)
    return row * len(vs) + j, at, sign


def _slopes(u: Floats, v: Floats, w: Floats, turn: Floats) -> tuple[Floats, Floats]:
    u1, u2, v1, v2, w1, w2 = (c[:, k] - c[:, 0] for c in (u, v, w) for k in (1, 2))
    return (w1 * v2 - w2 * v1) / turn, (w2 * u1 - w1 * u2) / turn


def _spans(u: Floats, v: Floats, us: Floats) -> tuple[Ints, Ints, Floats, Floats]:
    """For each scan line u = const through a triangle: triangle, line, and from where to where in v it covers it."""
    order = np.argsort(u, axis=1, kind="stable")
    u, v = np.take_along_axis(u, order, axis=1), np.take_along_axis(v, order, axis=1)
    which, i = spread(np.searchsorted(us, u[:, 0]), np.searchsorted(us, u[:, 2]))
    at = us[i]
    long_side = _between(u, v, which, at, 0, 2)
    low, high = _between(u, v, which, at, 0, 1), _between(u, v, which, at, 1, 2)
    short_side = np.where(at < u[which, 1], low, high)
    return which, i, np.minimum(long_side, short_side), np.maximum(long_side, short_side)


def _between(u: Floats, v: Floats, which: Ints, at: Floats, a: int, b: int) -> Floats:
    rise = u[:, b] - u[:, a]
    lean = np.divide(v[:, b] - v[:, a], rise, out=np.zeros(len(u)), where=rise > 0)
    return np.asarray(v[which, a] + (at - u[which, a]) * lean[which], dtype=np.float64)
