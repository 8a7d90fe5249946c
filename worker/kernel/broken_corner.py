"""Corners that flat faces would make but for the round or the chamfer between them: where zeros are picked up."""

from __future__ import annotations

import math

from schemas.base import Vec3, cross, dot, norm, scale, sub
from worker.kernel.contact import nearest
from worker.kernel.graph_surface import Surface, surface_of
from worker.kernel.merge import face_pairs
from worker.kernel.shape import Body, face_index, faces

SQUARE = 0.1
"""Sine from which two flat faces make a corner rather than one face."""
BREAK = 3.0
"""The round may end this many times its distance from the point short of it: the edge above may be broken, too."""


def on_a_broken_corner(body: Body, point: Vec3, tolerance: float) -> bool:
    """Whether the point is where two flat faces of the body would meet, beside a face that joins both.

    Each of the faces can be touched, so the point can be picked up although it lies in the air. A corner that was cut
    away by a step is none: no face joins its two sides. Lengths in mm.
    """
    surfaces = [surface_of(face)[0] for face in faces(body)]
    through = {i for i, s in enumerate(surfaces) if s.kind == "plane" and _holds(s, point, tolerance)}
    beside = _beside(body, through)
    return any(
        _joins(body, joint, (surfaces[a], surfaces[b]), [surfaces[i] for i in sorted(through)], point, tolerance)
        for joint, sides in sorted(beside.items())
        for a in sorted(sides)
        for b in sorted(sides)
        if a < b and _between(surfaces[joint], surfaces[a], surfaces[b])
    )


def _holds(plane: Surface, point: Vec3, tolerance: float) -> bool:
    return abs(dot(plane.axis, sub(point, plane.origin))) <= tolerance


def _beside(body: Body, wanted: set[int]) -> dict[int, set[int]]:
    """For each face the wanted faces that it shares an edge with."""
    index = face_index(body)
    found: dict[int, set[int]] = {}
    for first, second in face_pairs(body):
        a, b = index.FindIndex(first) - 1, index.FindIndex(second) - 1
        for one, other in ((a, b), (b, a)):
            if other in wanted:
                found.setdefault(one, set()).add(other)
    return found


def _between(joint: Surface, *sides: Surface) -> bool:
    """True for a round face, or a flat one that leans towards both sides (a step's wall stands square to one)."""
    return joint.kind != "plane" or all(dot(joint.axis, side.axis) > SQUARE for side in sides)


def _joins(
    body: Body, joint: int, sides: tuple[Surface, Surface], flats: list[Surface], point: Vec3, tolerance: float
) -> bool:
    along = cross(sides[0].axis, sides[1].axis)
    size = norm(along)
    if size < SQUARE:
        return False
    along = scale(along, 1.0 / size)
    off = sub(nearest(Body(faces(body)[joint]), point).on_first, point)
    short = abs(dot(off, along))
    if short <= tolerance:
        return True
    across = math.sqrt(max(dot(off, off) - short**2, 0.0))
    return short <= BREAK * across and any(norm(cross(flat.axis, along)) < tolerance for flat in flats)
