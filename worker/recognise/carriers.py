"""When two faces lie on one surface, however each of them states it."""

from __future__ import annotations

from schemas.base import Vec3, add, cross, dot, norm, sub
from schemas.tolerances import SAME_ANGLE, SAME_LENGTH
from worker.kernel.graph_surface import Surface


def same_carrier(a: Surface, b: Surface) -> bool:
    """True when two faces lie on one surface with the material on the same side."""
    if a.kind != b.kind or a.hollow != b.hollow or a.kind == "other":
        return False
    gap = sub(b.origin, a.origin)
    if a.kind == "plane":
        return dot(a.axis, b.axis) > 0 and _parallel(a, b) and abs(dot(gap, a.axis)) < _reach(gap)
    if abs(a.radius - b.radius) > SAME_LENGTH or abs(a.minor - b.minor) > SAME_LENGTH:
        return False
    if a.kind == "sphere":
        return norm(gap) < SAME_LENGTH
    if not _parallel(a, b):
        return False
    if a.kind == "cylinder":
        return norm(add(gap, a.axis, -dot(gap, a.axis))) < _reach(gap)
    return norm(gap) < 5 * SAME_LENGTH and abs(a.half_angle - b.half_angle) < SAME_ANGLE


SOMEWHERE = (1234.567, -2345.678, 3456.789)
"""A point that no drawing refers to: carriers at different distances from it are different."""


def cell_of(surface: Surface) -> int:
    """Number of a carrier's (or its axis') distance from a fixed point: equal or neighbours for one carrier."""
    gap = sub(surface.origin, SOMEWHERE)
    if surface.kind == "plane":
        return round(dot(gap, surface.axis) / 0.2)
    if surface.kind == "cylinder":
        return round(norm(add(gap, surface.axis, -dot(gap, surface.axis))) / 0.5)
    return round(norm(gap) / 0.5)


def _parallel(a: Surface, b: Surface) -> bool:
    return norm(cross(a.axis, b.axis)) < SAME_ANGLE


def _reach(gap: Vec3) -> float:
    """Distance allowed between carriers whose stated points lie far apart."""
    return SAME_LENGTH + SAME_ANGLE * 0.1 * norm(gap)
