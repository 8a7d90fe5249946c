"""What an edge's curve is and points along it; free forms, read together, back as the lines and circles they are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GeomAbs import GeomAbs_CurveType

from schemas.base import Vec3
from schemas.tolerances import CANONICAL
from worker.kernel.graph_surface import crossed
from worker.kernel.splines import alike, curve_nets, curve_points

CurveKind = Literal["line", "circle", "other"]
Read = tuple[CurveKind, tuple[Vec3, ...]]
"""What a curve is, and points along it in the direction asked for."""
Array = NDArray[np.float64]

ROUND, FREE = 16, 64
"""Steps at which a circle and a free curve are sampled."""
FAR_OFF = 20.0
"""So many times what a circle's points may be off, and the curve need not be looked at closely."""


def curves_read(curves: Sequence[BRepAdaptor_Curve], reverses: Sequence[bool]) -> list[Read]:
    """What each curve is, and points along it: the two ends of a line, 17 points of a circle, 65 of anything else."""
    nets = curve_nets(curves)
    free = [n for n, curve in enumerate(curves) if nets[n] is None and curve.GetType() not in _KNOWN]
    found: list[Read] = [("line", ())] * len(curves)
    for n, (curve, net) in enumerate(zip(curves, nets, strict=True)):
        if net is None and curve.GetType() in _KNOWN:
            kind, count = _KNOWN[curve.GetType()]
            found[n] = kind, tuple(_sampled(curve, count)[:: -1 if reverses[n] else 1])
    for members in alike(nets):
        _put(found, members, reverses, curve_points([net for n in members if (net := nets[n])], FREE))
    for n in free:
        _put(found, [n], reverses, np.array([_sampled(curves[n], FREE)]))
    return found


_KNOWN: dict[GeomAbs_CurveType, tuple[CurveKind, int]] = {
    GeomAbs_CurveType.GeomAbs_Line: ("line", 1),
    GeomAbs_CurveType.GeomAbs_Circle: ("circle", ROUND),
}


def _sampled(curve: BRepAdaptor_Curve, count: int) -> list[Vec3]:
    """Points at ``count`` equal steps of the parameter, as the curve runs."""
    u0, u1 = curve.FirstParameter(), curve.LastParameter()
    value, span = curve.Value, u1 - u0
    return [value(u0 + span * i / count).Coord() for i in range(count + 1)]


def _put(found: list[Read], members: Sequence[int], reverses: Sequence[bool], clouds: Array) -> None:
    """Read the curves of these numbers by their points (n, FREE + 1, 3)."""
    back = [k for k, n in enumerate(members) if reverses[n]]
    clouds[back] = clouds[back, ::-1]
    some = clouds[:, :: FREE // ROUND]
    straight, round_ = _are_lines(some).tolist(), _may_be_circles(some).tolist()
    for k, n in enumerate(members):
        if straight[k]:
            found[n] = "line", _places(some[k, [0, -1]])
        elif round_[k] and _is_circle(some[k]):
            found[n] = "circle", _places(some[k])
        else:
            found[n] = "other", _places(clouds[k])


def _places(cloud: Array) -> tuple[Vec3, ...]:
    return tuple((x, y, z) for x, y, z in cloud.tolist())


def _are_lines(clouds: Array) -> NDArray[np.bool_]:
    """Which curves lie on the line between their ends (CANONICAL, mm)."""
    rest = clouds - clouds[:, :1]
    length = _size(rest[:, -1])
    chord = rest[:, -1] / np.maximum(length, 1e-9)[:, None]
    off = crossed(rest.reshape(-1, 3), np.repeat(chord, clouds.shape[1], axis=0))
    return np.asarray((length > 1e-9) & (_size(off).reshape(len(clouds), -1).max(axis=1) < CANONICAL))


def _may_be_circles(clouds: Array) -> NDArray[np.bool_]:
    """False where a point lies so far off the circle through three that noise of CANONICAL in these does not tell why.

    What noise in three points does to their circle grows with the square of how far away the others are.
    """
    count = clouds.shape[1]
    a, b, c = clouds[:, 0], clouds[:, count // 3], clouds[:, 2 * count // 3]
    u, v = b - a, c - a
    normal = crossed(u, v)
    size, least = (normal**2).sum(axis=1), np.minimum(np.minimum(_size(u), _size(v)), _size(c - b))
    told = (size >= 1e-16) & (least >= 1e-6)
    size, least = np.where(told, size, 1.0)[:, None], np.where(told, least, 1.0)
    reach = crossed(normal, u) * (v**2).sum(axis=1)[:, None] + crossed(v, normal) * (u**2).sum(axis=1)[:, None]
    centre = a + reach * (0.5 / size)
    off = np.abs(_size(clouds - centre[:, None]) - _size(centre - a)[:, None]).max(axis=1)
    far = _size(clouds - a[:, None]).max(axis=1)
    return np.asarray(~told | (off <= FAR_OFF * CANONICAL * (1 + far / least) ** 2))


def _size(vectors: Array) -> Array:
    return np.asarray(np.sqrt(np.einsum("...k,...k->...", vectors, vectors)))


def _is_circle(cloud: Array) -> bool:
    centred = cloud - cloud.mean(axis=0)
    basis = np.linalg.svd(centred, full_matrices=False)[2]
    if np.abs(centred @ basis[2]).max() > CANONICAL:
        return False
    flat = centred @ basis[:2].T
    rows = np.hstack([2 * flat, np.ones((len(flat), 1))])
    solution = np.linalg.lstsq(rows, (flat**2).sum(axis=1), rcond=None)[0]
    radii = np.hypot(flat[:, 0] - solution[0], flat[:, 1] - solution[1])
    return bool(np.ptp(radii) < CANONICAL)


def length_of(points: Sequence[Vec3]) -> float:
    """The length (mm) of the chords between points."""
    return sum(map(math.dist, points, points[1:]))
