"""How far the outward normal turns over edges, all at once."""

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

from schemas.base import Vec3
from schemas.tolerances import FOLDED, SMOOTH, SMOOTH_FREE
from worker.kernel.graph_normals import normals_on
from worker.kernel.graph_surface import SINGULAR, Samples, Surface, crossed, evaluated_normals, surfaces_read
from worker.kernel.splines import Net

Convexity = Literal["convex", "concave", "smooth", "mixed"]
Array = NDArray[np.float64]
STEP = 0.01
"""How far beside an edge it is asked which way faces bend that fold back on each other (mm)."""
FLAT = 1e-6
"""Faces that bend by less (1/mm) are planes: a radius of a kilometre."""
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
    if not met:
        return []
    stations = [_stations(one, line) for one, line in zip(met, straight, strict=True)]
    ends = np.cumsum([len(at) for at in stations]).tolist()
    angles = _turns(met, stations)
    found: list[tuple[Convexity, float]] = []
    for one, start, end in zip(met, [0, *ends], ends, strict=False):
        smooth = SMOOTH_FREE if "other" in (one.sides[0].surface.kind, one.sides[1].surface.kind) else SMOOTH
        found.append((_convexity(angles[start:end], smooth), angles[(start + end) // 2]))
    return found


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


def _turns(met: Sequence[Meeting], stations: Sequence[tuple[float, ...]]) -> list[float]:
    """The turns over edges at some parameters of each, one after the other."""
    p, d = gp_Pnt(), gp_Vec()
    points: list[Vec3] = []
    tangents: list[Vec3] = []
    for one, at in zip(met, stations, strict=True):
        for parameter in at:
            one.curve.D1(parameter, p, d)
            points.append(p.Coord())
            tangents.append(d.Coord())
    owner = np.repeat(np.arange(len(met)), [len(at) for at in stations])
    ways, signs = np.array(tangents), np.array([-1.0 if one.reverse else 1.0 for one in met])[owner]
    size = np.sqrt(_dots(ways, ways))
    sound = size >= SINGULAR
    n1, n2 = (_normals(met, stations, owner, np.array(points), which) for which in (0, 1))
    inward = crossed(n1, ways * (signs / np.where(sound, size, 1.0))[:, None])
    angles = np.where(sound, np.arctan2(-_dots(n2, inward), _dots(n1, n2)), 0.0)
    for k in np.flatnonzero(np.abs(angles) > math.pi - FOLDED).tolist():
        side = _side([s.surface for s in met[owner[k]].sides], np.array(points[k]), inward[k])
        angles[k] = side * abs(angles[k]) if side else angles[k]
    found: list[float] = angles.tolist()
    return found


def _side(surfaces: list[Surface], point: Array, inward: Array) -> float:
    """1 where faces that fold back on each other have metal between them, -1 for air, 0 where free forms do not tell.

    Metal is where a bore touches an outside, air beside a boss that touches a wall: a step from the edge the normals
    differ by the sum of both curvatures. Planes that lie on each other enclose nothing: an edge that stands out.
    """
    if "other" in {s.kind for s in surfaces}:
        return 0.0
    here, there = (normals_on(surfaces, np.arange(2), np.array([at, at])) for at in (point, point + STEP * inward))
    bend = float(_dots(there - here, np.array([inward, inward])).sum())
    return -1.0 if bend > STEP * FLAT else 1.0


def _dots(a: Array, b: Array) -> Array:
    """Scalar products of rows, added up in the order of coordinates, however many edges are asked together."""
    products = a * b
    return np.asarray(products[:, 0] + products[:, 1] + products[:, 2])


def _normals(
    met: Sequence[Meeting], stations: Sequence[tuple[float, ...]], owner: NDArray[np.int64], points: Array, which: int
) -> Array:
    """The outward normals of the faces on one side at points (n, 3) of their owners' edges."""
    faces = [one.sides[which] for one in met]
    found = normals_on([face.surface for face in faces], owner, points)
    asked = [n for n, face in enumerate(faces) if face.surface.kind == "other"]
    if asked:
        places = []
        for n in asked:
            line = BRepAdaptor_Curve2d(met[n].edges[which], faces[n].shape)
            places.append([line.Value(parameter).Coord() for parameter in stations[n]])
        us, vs = np.array(places).transpose(2, 0, 1)
        of = [(faces[n].adaptor, faces[n].flip, faces[n].net) for n in asked]
        found[np.isin(owner, asked)] = evaluated_normals(of, us, vs).reshape(-1, 3)
    return found
