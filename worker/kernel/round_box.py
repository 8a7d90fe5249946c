"""Boxes round what lies between two pairs of parameter lines of a ring or a ball, in closed form: never too small."""

from __future__ import annotations

import math

from OCP.Bnd import Bnd_Box
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Ax3, gp_Pnt
from OCP.TopoDS import TopoDS_Face

Span = tuple[float, float]


def round_box(face: TopoDS_Face) -> Bnd_Box | None:
    """A box that holds the face, the smallest where its border follows parameter lines; None for other surfaces, and
    for rings that meet themselves.

    With the axis' direction z, a ring of radii R and r reaches along d by (R + r cos v) c + r sin v (z d), c being how
    far the circle round the axis does at u: more the larger c is, as R + r cos v is never negative.
    """
    surface = BRepAdaptor_Surface(face, True)
    if surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Torus:
        ring = surface.Torus()
        place, radii = ring.Position(), (ring.MajorRadius(), ring.MinorRadius())
    elif surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Sphere:
        ball = surface.Sphere()
        place, radii = ball.Position(), (0.0, ball.Radius())
    else:
        return None
    if 0.0 < radii[0] < radii[1]:
        return None
    u = (surface.FirstUParameter(), surface.LastUParameter())
    v = (surface.FirstVParameter(), surface.LastVParameter())
    return _box(place, radii, u, v)


def _box(place: gp_Ax3, radii: tuple[float, float], u: Span, v: Span) -> Bnd_Box:
    middle = place.Location().Coord()
    x, y, z = (d.Coord() for d in (place.XDirection(), place.YDirection(), place.Direction()))
    ends = [
        [middle[k] + sign * _reach(radii, (sign * x[k], sign * y[k], sign * z[k]), u, v) for k in range(3)]
        for sign in (1.0, -1.0)
    ]
    found = Bnd_Box()
    for end in ends:
        found.Add(gp_Pnt(*end))
    found.SetGap(0.0)
    return found


def _reach(radii: tuple[float, float], way: tuple[float, float, float], u: Span, v: Span) -> float:
    """How far the patch reaches from its middle along a direction, told in the axes of its surface."""
    across, around = math.hypot(way[0], way[1]), math.atan2(way[1], way[0])
    c = _most(across, around, u)
    return radii[0] * c + radii[1] * _most(math.hypot(c, way[2]), math.atan2(way[2], c), v)


def _most(size: float, at: float, span: Span) -> float:
    """The greatest value of size * cos(t - at) between two angles."""
    inside = (at - span[0]) % math.tau <= span[1] - span[0]
    return size if inside else size * max(math.cos(t - at) for t in span)
