"""Axes of a body's bores and bosses."""

from __future__ import annotations

import math

from OCP.BRepAdaptor import BRepAdaptor_Surface

from schemas.base import Vec3, add, cross, dot, norm, sub
from worker.kernel.graph_surface import Surface, surface_of
from worker.kernel.shape import Body, faces

WHOLE = math.radians(200)
"""Round faces that go round further than this are a bore or boss; less is a corner or the end of a slot."""


def on_a_round_axis(body: Body, point: Vec3, tolerance: float) -> bool:
    """Whether the point lies on the axis of a bore or boss of the body, within ``tolerance`` mm."""
    turned: dict[tuple[float, ...], float] = {}
    for surface, angle in _round_faces(body):
        if _off_axis(surface, point) <= tolerance:
            key = _key(surface)
            turned[key] = turned.get(key, 0.0) + angle
    return any(angle > WHOLE for angle in turned.values())


def _round_faces(body: Body) -> list[tuple[Surface, float]]:
    """Cylinders and cones with the angle (rad) that each face goes round."""
    found = []
    for face in faces(body):
        surface, _ = surface_of(face)
        if surface.kind in ("cylinder", "cone"):
            bounded = BRepAdaptor_Surface(face, True)
            found.append((surface, abs(bounded.LastUParameter() - bounded.FirstUParameter())))
    return found


def _off_axis(surface: Surface, point: Vec3) -> float:
    return norm(cross(sub(point, surface.origin), surface.axis))


def _key(surface: Surface) -> tuple[float, ...]:
    """The same for faces of one axis and size: the axis' direction up to sign, its foot from the origin, the radius."""
    axis = surface.axis
    lead = next(c for c in axis if abs(c) > 1e-9)
    if lead < 0:
        axis = (-axis[0], -axis[1], -axis[2])
    foot = add(surface.origin, axis, -dot(surface.origin, axis))
    return tuple(round(c, 4) + 0.0 for c in (*axis, *foot, surface.radius, surface.half_angle))
