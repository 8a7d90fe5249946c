"""Elementary surfaces (ISO 10303-42) that a file writes as free forms, made what they are: the kernel cuts, measures
and triangulates these exactly.

As a spline a flat floor with a round hole is cut into tens of thousands of triangles, and booleans of what lies in a
face fail. Lines and arcs between such faces become lines and arcs with them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise, product
from typing import NamedTuple, cast

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepTools import BRepTools
from OCP.Geom import (
    Geom_ConicalSurface,
    Geom_CylindricalSurface,
    Geom_ElementarySurface,
    Geom_Plane,
    Geom_SphericalSurface,
    Geom_Surface,
    Geom_ToroidalSurface,
)
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.GeomConvert import GeomConvert_SurfToAnaSurf
from OCP.gp import gp_Ax3, gp_Pnt, gp_Vec
from OCP.ShapeAnalysis import ShapeAnalysis_Surface
from OCP.ShapeCustom import ShapeCustom
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face

from schemas.base import Vec3, add, cross, dot, scale, sub
from worker.kernel.elementary_edges import EXACT, laid, straightened, stripped
from worker.kernel.measure import area
from worker.kernel.shape import Body, copied, edges, faces, of_xyz, to_dir
from worker.kernel.validity import faults

Array = NDArray[np.float64]
LOOSE = 1e-5
"""What the kernel's search is allowed (mm): asked for less it finds no plane in a spline that is one to the last digit.
What it finds is held to EXACT."""
SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Where, in parts of a face's parameters, it is compared."""
TURN = 128
"""Steps at which it is told how far round a face goes: what it leaves free is wider than one of them."""
KINDS = (Geom_Plane, Geom_CylindricalSurface, Geom_ConicalSurface, Geom_SphericalSurface, Geom_ToroidalSurface)
SIZES = ((), ("Radius",), ("RefRadius", "SemiAngle"), ("Radius",), ("MajorRadius", "MinorRadius"))
ROW = 9
FREE = frozenset(
    {
        GeomAbs_SurfaceType.GeomAbs_BSplineSurface,
        GeomAbs_SurfaceType.GeomAbs_BezierSurface,
        GeomAbs_SurfaceType.GeomAbs_SurfaceOfExtrusion,
        GeomAbs_SurfaceType.GeomAbs_SurfaceOfRevolution,
    }
)
"""Splines, and what a curve sweeps: a cylinder is written as a line that turns as well."""


class Sampled(NamedTuple):
    """Points (n, 3) of a face's spline, the one in the middle first, and there its normal, of any length."""

    points: Array
    normal: Vec3


def elementary(body: Body) -> Body:
    """The body with elementary surfaces for the splines that are such; the same body where there are none, or where the
    kernel refuses it then. Faces and edges keep their order."""
    found = _surfaces(faces(body))
    if not found:
        return body
    made = copied(body)
    for n, surface in found.items():
        stripped(faces(made)[n], surface)
    straightened(made)
    for n in found:
        if not laid(faces(made)[n]):
            return body
    direct = Body(ShapeCustom.DirectFaces_s(made.wrapped))
    return body if faults(direct) else direct


def _surfaces(some: Sequence[TopoDS_Face]) -> dict[int, Geom_ElementarySurface]:
    """By number of a face the elementary surface that its spline is.

    Faces that lie on one get one, that of the largest. Fitted each for itself they differ by what the file's digits
    leave open, and the kernel breaks off at walls so near each other.
    """
    free = [n for n, face in enumerate(some) if BRepAdaptor_Surface(face, False).GetType() in FREE]
    known: list[Geom_ElementarySurface] = []
    rows, found = np.empty((len(free), ROW)), {}
    for n in sorted(free, key=lambda n: -area(some[n])):
        fitted = _fitted(some[n])
        if fitted is None:
            continue
        sampled = _sampled(some[n])
        own = _known_under(sampled.points, rows[: len(known)])
        if own is None:
            own = len(known)
            rows[own] = _row(fitted)
            known.append(fitted)
        found[n] = _turned(known[own], some[n], sampled)
    return found


def _fitted(face: TopoDS_Face) -> Geom_ElementarySurface | None:
    search = GeomConvert_SurfToAnaSurf(BRep_Tool.Surface_s(face))
    found = search.ConvertToAnalytical(LOOSE)
    return found if isinstance(found, Geom_ElementarySurface) and search.Gap() <= EXACT else None


def _sampled(face: TopoDS_Face) -> Sampled:
    surface, (u0, u1, v0, v1) = BRep_Tool.Surface_s(face), BRepTools.UVBounds_s(face)
    middle, normal = _normal(surface, (u0 + u1) / 2, (v0 + v1) / 2)
    places = [(u0 + (u1 - u0) * a, v0 + (v1 - v0) * b) for a, b in product(SHARES, SHARES)]
    return Sampled(np.array([middle, *(surface.Value(u, v).Coord() for u, v in places)]), normal)


def _normal(surface: Geom_Surface, u: float, v: float) -> tuple[Vec3, Vec3]:
    at, along, across = gp_Pnt(), gp_Vec(), gp_Vec()
    surface.D1(u, v, at, along, across)
    return of_xyz(at), cross(of_xyz(along), of_xyz(across))


def _known_under(points: Array, rows: Array) -> int | None:
    """The number of the first known surface that all points lie on; None where there is none."""
    near = np.flatnonzero(np.abs(_off(points[:1], rows)).max(axis=1) <= EXACT)
    whole = near[np.abs(_off(points, rows[near])).max(axis=1) <= EXACT]
    return int(whole[0]) if len(whole) else None


def _row(surface: Geom_ElementarySurface) -> Array:
    """A surface in numbers: its kind, a point and the direction of its axis, its two sizes."""
    kind = KINDS.index(type(surface))
    place, sizes = surface.Position(), SIZES[kind]
    values = [getattr(surface, size)() for size in sizes] + [0.0] * (2 - len(sizes))
    return np.array([kind, *place.Location().Coord(), *place.Direction().Coord(), *values])


def _off(points: Array, rows: Array) -> Array:
    """How far (mm) points (n, 3) lie beside surfaces (m, ROW): (m, n)."""
    kind, (one, other) = rows[:, :1].astype(int), rows[:, 7:].T[:, :, None]
    gap, axis = points[None] - rows[:, None, 1:4], rows[:, None, 4:7]
    rise = (gap * axis).sum(axis=2)
    out = np.linalg.norm(gap - rise[..., None] * axis, axis=2)
    cone = (out - one) * np.cos(other) - rise * np.sin(other)
    ways = (rise, out - one, cone, np.hypot(out, rise) - one, np.hypot(out - one, rise) - other)
    return np.asarray(np.choose(kind, ways))


def _turned(own: Geom_ElementarySurface, face: TopoDS_Face, sampled: Sampled) -> Geom_ElementarySurface:
    """The surface with its seam on the face's own, or else where the face is not, looking as the face's spline does."""
    found = cast("Geom_ElementarySurface", own.Copy())
    place = found.Position()
    if not isinstance(found, Geom_Plane):
        angle = _start(place, face)
        x, y = of_xyz(place.XDirection()), of_xyz(place.YDirection())
        ahead = add(scale(x, math.cos(angle)), y, math.sin(angle))
        found.SetPosition(gp_Ax3(place.Location(), place.Direction(), to_dir(ahead)))
    there = ShapeAnalysis_Surface(found).ValueOfUV(gp_Pnt(*sampled.points[0]), EXACT)
    if dot(_normal(found, there.X(), there.Y())[1], sampled.normal) < 0:
        found.UReverse()
    return found


def _start(place: gp_Ax3, face: TopoDS_Face) -> float:
    """The angle about the axis at which the surface is to begin."""
    seam = next((edge for edge in edges(face) if _is_seam(edge, face)), None)
    if seam is not None:
        return _about(place, _middle(seam))
    surface, (u0, u1, v0, v1) = BRep_Tool.Surface_s(face), BRepTools.UVBounds_s(face)
    steps = [n / TURN for n in range(TURN + 1)]
    places = [
        *((u0 + (u1 - u0) * s, (v0 + v1) / 2) for s in steps),
        *(((u0 + u1) / 2, v0 + (v1 - v0) * s) for s in steps),
    ]
    angles = sorted(_about(place, of_xyz(surface.Value(u, v))) for u, v in places)
    gap, start = max((b - a, a) for a, b in pairwise([*angles, angles[0] + math.tau]))
    return start + gap / 2


def _is_seam(edge: TopoDS_Edge, face: TopoDS_Face) -> bool:
    return bool(BRep_Tool.IsClosed_s(edge, face))


def _about(place: gp_Ax3, point: Vec3) -> float:
    off = sub(point, of_xyz(place.Location()))
    return math.atan2(dot(off, of_xyz(place.YDirection())), dot(off, of_xyz(place.XDirection())))


def _middle(edge: TopoDS_Edge) -> Vec3:
    return of_xyz(BRep_Tool.Curve_s(edge, 0.0, 0.0).Value(sum(BRep_Tool.Range_s(edge)) / 2))
