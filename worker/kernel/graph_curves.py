"""What an edge's curve is and points along it; free forms, read together, back as the lines and circles they are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GeomAbs import GeomAbs_CurveType

from schemas.base import Vec3
from schemas.tolerances import CANONICAL
from worker.kernel.graph_surface import crossed
from worker.kernel.splines import alike, curve_nets, curve_points

CurveKind = Literal["line", "circle", "other"]
Array = NDArray[np.float64]

ROUND, FREE = 16, 64
"""Steps at which a circle and a free curve are sampled."""
FAR_OFF = 20.0
"""So many times what a circle's points may be off, and the curve need not be looked at closely."""


class Line(NamedTuple):
    """What a curve is, points along it in the direction asked for, the length (mm) of the chords between these; of free
    forms the points as an array (n, 3) too."""

    kind: CurveKind
    points: tuple[Vec3, ...]
    length: float
    cloud: Array | None = None


def curves_read(curves: Sequence[BRepAdaptor_Curve], reverses: Sequence[bool]) -> list[Line]:
    """What each curve is, and points along it: the two ends of a line, 17 points of a circle, 65 of anything else."""
    nets, found = curve_nets(curves), [Line("line", (), 0.0)] * len(curves)
    for members in alike(nets):
        clouds = _turned(curve_points([net for n in members if (net := nets[n])], FREE), [reverses[n] for n in members])
        for n, kind, cloud in zip(members, _kinds(clouds[:, :: FREE // ROUND]), clouds, strict=True):
            found[n] = _line(kind, cloud)
    rest = [n for n, curve in enumerate(curves) if nets[n] is None and curve.GetType() not in _KNOWN]
    if rest:
        clouds = _turned(np.array([_sampled(curves[n], ROUND) for n in rest]), [reverses[n] for n in rest])
        for n, kind, cloud in zip(rest, _kinds(clouds), clouds, strict=True):
            finer = _turned(np.array([_sampled(curves[n], FREE)]), [reverses[n]])[0] if kind == "other" else cloud
            found[n] = _line(kind, finer)
    for n, curve in enumerate(curves):
        if nets[n] is None and curve.GetType() in _KNOWN:
            kind, count = _KNOWN[curve.GetType()]
            points = tuple(_sampled(curve, count)[:: -1 if reverses[n] else 1])
            found[n] = Line(kind, points, sum(map(math.dist, points, points[1:])))
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


def _turned(clouds: Array, reverses: Sequence[bool]) -> Array:
    """Points along curves (n, k, 3), of some the other way round."""
    back = np.array(reverses, bool)
    clouds[back] = clouds[back, ::-1]
    return clouds


def _kinds(clouds: Array) -> list[CurveKind]:
    """What the curves through points (n, ROUND + 1, 3) are."""
    told = zip(clouds, _are_lines(clouds).tolist(), _may_be_circles(clouds).tolist(), strict=True)
    return ["line" if line else "circle" if round_ and _is_circle(cloud) else "other" for cloud, line, round_ in told]


def _line(kind: CurveKind, cloud: Array) -> Line:
    """A curve by as many of its points (ROUND or FREE and one) as its kind takes."""
    if kind != "other":
        cloud = cloud[:: len(cloud) - 1 if kind == "line" else len(cloud) // ROUND]
    length = float(_size(cloud[1:] - cloud[:-1]).sum())
    return Line(kind, tuple(map(tuple, cloud.tolist())), length, cloud if kind == "other" else None)


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
