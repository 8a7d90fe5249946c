"""Elementary surfaces (ISO 10303-42) that a file writes as free forms, made what they are: the kernel cuts, measures
and triangulates these exactly.

As a spline a flat floor with a round hole is cut into tens of thousands of triangles, and booleans of what lies in a
face fail. Lines and arcs between such faces become lines and arcs with them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
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
from worker.kernel.shape import Body, copied, edges, faces, of_xyz, to_dir, to_pnt
from worker.kernel.validity import faults

Array = NDArray[np.float64]
LOOSE = 1e-5
"""What the kernel's search is allowed (mm): asked for less it finds no plane in a spline that is one to the last digit.
What it finds is held to EXACT."""
GRID = 13
"""A face is compared at so many times as many places."""
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
    """Points (n, 3) of a face's spline, one in the middle of it, and there its normal, of any length."""

    points: Array
    middle: Vec3
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
    found = {}
    for n in sorted(free, key=lambda n: -area(some[n])):
        sampled = _sampled(some[n])
        own = next((one for one in known if _lies_on(sampled.points, one)), None)
        if own is None:
            own = _fitted(some[n])
            known += [own] if own is not None else []
        if own is not None:
            found[n] = _turned(own, some[n], sampled)
    return found


def _sampled(face: TopoDS_Face) -> Sampled:
    surface = BRep_Tool.Surface_s(face)
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    places = [(u, v) for u in np.linspace(u0, u1, GRID) for v in np.linspace(v0, v1, GRID)]
    points = np.array([surface.Value(float(u), float(v)).Coord() for u, v in places])
    at, normal = _normal(surface, (u0 + u1) / 2, (v0 + v1) / 2)
    return Sampled(points, at, normal)


def _normal(surface: object, u: float, v: float) -> tuple[Vec3, Vec3]:
    at, along, across = gp_Pnt(), gp_Vec(), gp_Vec()
    surface.D1(u, v, at, along, across)  # type: ignore[attr-defined]
    return of_xyz(at), cross(of_xyz(along), of_xyz(across))


def _fitted(face: TopoDS_Face) -> Geom_ElementarySurface | None:
    search = GeomConvert_SurfToAnaSurf(BRep_Tool.Surface_s(face))
    found = search.ConvertToAnalytical(LOOSE)
    return found if isinstance(found, Geom_ElementarySurface) and search.Gap() <= EXACT else None


def _lies_on(points: Array, surface: Geom_ElementarySurface) -> bool:
    return bool(np.abs(_off(points, surface)).max() <= EXACT)


def _off(points: Array, surface: Geom_ElementarySurface) -> Array:
    """How far (mm) points (n, 3) lie beside the surface: (n,)."""
    axis = np.array(of_xyz(surface.Position().Direction()))
    rise = (points - of_xyz(surface.Position().Location())) @ axis
    if isinstance(surface, Geom_Plane):
        return np.asarray(rise)
    out = np.linalg.norm(points - of_xyz(surface.Position().Location()) - np.outer(rise, axis), axis=1)
    if isinstance(surface, Geom_CylindricalSurface):
        return np.asarray(out - surface.Radius())
    if isinstance(surface, Geom_ConicalSurface):
        half = surface.SemiAngle()
        return np.asarray((out - surface.RefRadius()) * math.cos(half) - rise * math.sin(half))
    if isinstance(surface, Geom_SphericalSurface):
        return np.asarray(np.hypot(out, rise) - surface.Radius())
    torus = cast("Geom_ToroidalSurface", surface)
    return np.asarray(np.hypot(out - torus.MajorRadius(), rise) - torus.MinorRadius())


def _turned(own: Geom_ElementarySurface, face: TopoDS_Face, sampled: Sampled) -> Geom_ElementarySurface:
    """The surface with its seam on the face's own, or else where the face is not, looking as the face's spline does."""
    found = cast("Geom_ElementarySurface", own.Copy())
    place = found.Position()
    if not isinstance(found, Geom_Plane):
        angle = _start(place, face, sampled.points)
        x, y = of_xyz(place.XDirection()), of_xyz(place.YDirection())
        ahead = add(scale(x, math.cos(angle)), y, math.sin(angle))
        found.SetPosition(gp_Ax3(place.Location(), place.Direction(), to_dir(ahead)))
    there = ShapeAnalysis_Surface(found).ValueOfUV(to_pnt(sampled.middle), EXACT)
    if dot(_normal(found, there.X(), there.Y())[1], sampled.normal) < 0:
        found.UReverse()
    return found


def _start(place: gp_Ax3, face: TopoDS_Face, points: Array) -> float:
    """The angle about the axis at which the surface is to begin."""
    seam = next((edge for edge in edges(face) if _is_seam(edge, face)), None)
    if seam is not None:
        return _about(place, _middle(seam))
    angles = sorted(_about(place, (x, y, z)) for x, y, z in points.tolist())
    gap, start = max((b - a, a) for a, b in pairwise([*angles, angles[0] + math.tau]))
    return start + gap / 2


def _is_seam(edge: TopoDS_Edge, face: TopoDS_Face) -> bool:
    return bool(BRep_Tool.IsClosed_s(edge, face))


def _about(place: gp_Ax3, point: Vec3) -> float:
    off = sub(point, of_xyz(place.Location()))
    return math.atan2(dot(off, of_xyz(place.YDirection())), dot(off, of_xyz(place.XDirection())))


def _middle(edge: TopoDS_Edge) -> Vec3:
    return of_xyz(BRep_Tool.Curve_s(edge, 0.0, 0.0).Value(sum(BRep_Tool.Range_s(edge)) / 2))
