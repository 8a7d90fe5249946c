"""Directions of a body's own faces, to the last digit."""

from __future__ import annotations

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.TopoDS import TopoDS_Face

from schemas.base import Vec3, cross, dot, norm, scale
from worker.kernel.measure import area
from worker.kernel.shape import Body, faces, of_xyz

ROUNDED = 1e-8
"""Directions of a body as features tell them are rounded to nine digits: they differ by less (rad)."""


def own_direction(body: Body, way: Vec3) -> Vec3:
    """The normal or axis of the largest flat or round face that a unit direction means; itself where there is none.

    A cutter a hair askew leaves walls so near the part's that the kernel breaks off at them.
    """
    meant = [(face, own) for face in faces(body) if (own := _direction(face)) and norm(cross(own, way)) <= ROUNDED]
    if not meant:
        return way
    own = max(meant, key=lambda one: area(one[0]))[1]
    return own if dot(own, way) > 0 else scale(own, -1.0)


def _direction(face: TopoDS_Face) -> Vec3 | None:
    surface = BRepAdaptor_Surface(face, False)
    if surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Plane:
        return of_xyz(surface.Plane().Axis().Direction())
    if surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Cylinder:
        return of_xyz(surface.Cylinder().Axis().Direction())
    return None
