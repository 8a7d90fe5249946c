"""How far the outward normal turns over edges: at edges of free forms by the kernel's numbers, all at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Curve2d, BRepAdaptor_Surface
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face

from schemas.base import Vec3, cross, dot, norm, scale
from schemas.tolerances import SMOOTH, SMOOTH_FREE
from worker.kernel.graph_surface import Samples, Surface, crossed, evaluated_normals, normal_at, surfaces_read
from worker.kernel.shape import of_xyz
from worker.kernel.splines import Net

Convexity = Literal["convex", "concave", "smooth", "mixed"]
Array = NDArray[np.float64]
STATIONS = (0.2, 0.47, 0.83)
"""Shares of an edge at which the turn over it is taken where it may vary."""


@dataclass(frozen=True, slots=True)
class FaceSide:
    """A face as its edges meet it. ``flip``: -1 where it looks against its carrier."""

    face: int
    surface: Surface
    adaptor: BRepAdaptor_Surface
    shape: TopoDS_Face
    flip: float
    samples: Samples | None
    net: Net | None


class Meeting(NamedTuple):
    """An edge as its two faces have it, that has it forward first; its curve, and whether it runs against that."""

    sides: tuple[FaceSide, FaceSide]
    edges: tuple[TopoDS_Edge, TopoDS_Edge]
    curve: BRepAdaptor_Curve
    reverse: bool


def sides_of(numbers: Sequence[int], shapes: Sequence[TopoDS_Face]) -> list[FaceSide]:
    """Faces, of these numbers, with what they are read as."""
    flips = [-1.0 if s.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0 for s in shapes]
    found = zip(numbers, shapes, flips, surfaces_read(shapes), strict=True)
    return [FaceSide(n, r.surface, r.adaptor, shape, flip, r.samples, r.net) for n, shape, flip, r in found]


def turns(met: Sequence[Meeting], straight: Sequence[bool]) -> list[tuple[Convexity, float]]:
    """What each edge is, and the turn of the outward normal over its middle (rad), positive where it stands out."""
    free = [n for n, one in enumerate(met) if _is_free(one)]
    by_number = dict(zip(free, _free_turns([met[n] for n in free]), strict=True))
    found: list[tuple[Convexity, float]] = []
    for n, one in enumerate(met):
        smooth = SMOOTH_FREE if n in by_number else SMOOTH
        angles = by_number[n] if n in by_number else [_turn(one, t) for t in _stations(one, straight[n])]
        found.append((_convexity(angles, smooth), angles[len(angles) // 2]))
    return found


def _is_free(one: Meeting) -> bool:
    return "other" in (one.sides[0].surface.kind, one.sides[1].surface.kind)


def _stations(one: Meeting, straight: bool) -> tuple[float, ...]:
    """Parameters at which the turn over the edge is taken: one where it cannot vary, else three."""
    u0, u1 = one.curve.FirstParameter(), one.curve.LastParameter()
    if straight and {side.surface.kind for side in one.sides} <= {"plane"}:
        return (0.5 * (u0 + u1),)
    return tuple(u0 + (u1 - u0) * share for share in STATIONS)


def _convexity(angles: list[float], smooth: float) -> Convexity:
    signs = {0 if abs(a) < smooth else (1 if a > 0 else -1) for a in angles}
    if signs == {0}:
        return "smooth"
    if {1, -1} <= signs:
        return "mixed"
    return "convex" if 1 in signs else "concave"


def _turn(one: Meeting, parameter: float) -> float:
    """The turn over an edge between simple faces."""
    p, d = gp_Pnt(), gp_Vec()
    one.curve.D1(parameter, p, d)
    tangent = of_xyz(d)
    size = norm(tangent)
    if size < 1e-14:
        return 0.0
    tangent = scale(tangent, (-1.0 if one.reverse else 1.0) / size)
    n1, n2 = (normal_at(side.surface, of_xyz(p)) for side in one.sides)
    inward = cross(n1, tangent)
    return math.atan2(-dot(n2, inward), dot(n1, n2))


def _free_turns(met: Sequence[Meeting]) -> list[list[float]]:
    """The turns over edges of free forms, at three places of each."""
    p, d = gp_Pnt(), gp_Vec()
    points: list[Vec3] = []
    tangents: list[Vec3] = []
    for one in met:
        for parameter in _stations(one, False):
            one.curve.D1(parameter, p, d)
            points.append(of_xyz(p))
            tangents.append(of_xyz(d))
    ways = np.array(tangents).reshape(-1, 3) * np.repeat([-1.0 if one.reverse else 1.0 for one in met], 3)[:, None]
    size = np.linalg.norm(ways, axis=1)
    sound = size >= 1e-14
    n1, n2 = (_normals(met, points, which) for which in (0, 1))
    inward = crossed(n1, ways / np.where(sound, size, 1.0)[:, None])
    angles = np.arctan2(-(n2 * inward).sum(axis=1), (n1 * n2).sum(axis=1))
    found: list[list[float]] = np.where(sound, angles, 0.0).reshape(-1, 3).tolist()
    return found


def _normals(met: Sequence[Meeting], points: Sequence[Vec3], which: int) -> Array:
    """The outward normals of the faces on one side, at three places of each edge: (3 n, 3)."""
    found = np.zeros((len(points), 3))
    asked: list[tuple[FaceSide, int, float, float]] = []
    for n, one in enumerate(met):
        side = one.sides[which]
        if side.surface.kind != "other":
            found[3 * n : 3 * n + 3] = [normal_at(side.surface, p) for p in points[3 * n : 3 * n + 3]]
            continue
        line = BRepAdaptor_Curve2d(one.edges[which], side.shape)
        for k, parameter in enumerate(_stations(one, False), 3 * n):
            asked.append((side, k, *line.Value(parameter).Coord()))
    if asked:
        sides, rows, us, vs = zip(*asked, strict=True)
        of = [(s.adaptor, s.flip, s.net) for s in sides]
        found[list(rows)] = evaluated_normals(of, np.array(us), np.array(vs))
    return found
