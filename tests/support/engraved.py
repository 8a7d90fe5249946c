"""Strokes of a 90 degree cutter in a face 20 high, to be cut off a block: the face's own solids, lengths in mm."""

from __future__ import annotations

import math

from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt

from examples.shapes import Shape, cone, polygon, prism

Place = tuple[float, float]


def line(a: Place, b: Place, d: float = 1.0, top: float = 20.0) -> Shape:
    """A stroke from one place to another."""
    long = math.dist(a, b)
    x, y = (b[0] - a[0]) / long, (b[1] - a[1]) / long
    feet = [(a[0], a[1], top - d), (a[0] - y * d, a[1] + x * d, top), (a[0] + y * d, a[1] - x * d, top)]
    return prism(polygon(feet), (b[0] - a[0], b[1] - a[1], 0))


def end(at: Place, d: float = 1.0) -> Shape:
    """What the cutter leaves where it stands."""
    return cone((*at, 20 - d), (*at, 20), 0, 2 * d)


def on(centre: Place, radius: float, degrees: float) -> Place:
    """A place on a circle."""
    angle = math.radians(degrees)
    return (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))


def arc(centre: Place, radius: float, start: float, stop: float, d: float = 1.0, top: float = 20.0) -> Shape:
    """A bend from one angle to another (degrees)."""
    x, y = on((0, 0), 1.0, start)
    feet = [
        (centre[0] + r * x, centre[1] + r * y, z) for r, z in ((radius, top - d), (radius + d, top), (radius - d, top))
    ]
    axis = gp_Ax1(gp_Pnt(*centre, 0), gp_Dir(0, 0, 1))
    return BRepPrimAPI_MakeRevol(polygon(feet), axis, math.radians(stop - start)).Shape()
