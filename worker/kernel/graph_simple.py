"""Triangles of simple faces without a triangulator: convex flat faces, and strips of cylinders and cones.

Most faces of a milled part are such; the kernel's triangulator takes some ten times as long for each. Chords are as the
kernel's: within the same deviation and turn, from the same start, so that faces meet in the same points.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_SurfaceType

from schemas.base import Vec3, cross, dot, sub
from schemas.tolerances import MESH
from worker.kernel.graph_mesh import TURN, Corners
from worker.kernel.graph_surface import Surface
from worker.kernel.shape import of_xyz

MOST = 12
"""Corners of a flat face that is looked at; more are the kernel's."""
STRAIGHT = 1e-6
"""Sine of the turn at a corner of a convex outline at least."""
Line = tuple[str, int, int, Vec3]
"""Kind of an edge's curve, numbers of its end vertices in the direction of the face, and where it starts."""


def flat_triangles(surface: Surface, lines: Sequence[Line]) -> Corners | None:
    """A plane face within straight edges that turn one way all round, as a fan; None for any other."""
    if not 3 <= len(lines) <= MOST or any(line[0] != "line" for line in lines):
        return None
    outline = _round(lines)
    if outline is None:
        return None
    sides = [sub(b, a) for a, b in zip(outline, (*outline[1:], outline[0]), strict=True)]
    for a, b in zip(sides, (*sides[1:], sides[0]), strict=True):
        turn = dot(cross(a, b), surface.axis)
        if turn <= 0 or turn * turn < STRAIGHT * STRAIGHT * dot(a, a) * dot(b, b):
            return None
    points = np.array(outline)
    count = len(outline)
    return points[[(0, k, k + 1) for k in range(1, count - 1)]]


def _round(lines: Sequence[Line]) -> list[Vec3] | None:
    """The corners of one closed outline in order; None where the edges are more than that."""
    after = {start: (end, place) for _, start, end, place in lines}
    found: list[Vec3] = []
    vertex = lines[0][1]
    while vertex in after:
        vertex, place = after.pop(vertex)
        found.append(place)
    return found if vertex == lines[0][1] and len(found) == len(lines) else None


def strip_triangles(adaptor: BRepAdaptor_Surface, hollow: bool, kinds: Sequence[str]) -> Corners | None:
    """A cylinder or cone between two circles, whole or between two straight edges; None for any other face.

    ``kinds``: of its edges' curves; a seam, which it has twice, is none of them.
    """
    if sorted(kinds) not in (["circle", "circle"], ["circle", "circle", "line", "line"]):
        return None
    u0, u1 = adaptor.FirstUParameter(), adaptor.LastUParameter()
    if (len(kinds) == 2) != (u1 - u0 > math.tau - 1e-9):
        return None
    v0, v1 = adaptor.FirstVParameter(), adaptor.LastVParameter()
    read = _carrier(adaptor)
    if read is None:
        return None
    frame, radius, slope = read
    wide = max(abs(radius + v * math.sin(slope)) for v in (v0, v1))
    turns = np.linspace(u0, u1, _steps(u1 - u0, wide) + 1)
    around = np.outer(np.cos(turns), frame[1]) + np.outer(np.sin(turns), frame[2])
    low, high = (frame[0] + (radius + v * math.sin(slope)) * around + v * math.cos(slope) * frame[3] for v in (v0, v1))
    corners = np.stack([low[:-1], low[1:], high[1:], low[:-1], high[1:], high[:-1]], axis=1).reshape(-1, 3, 3)
    right_handed = float(np.cross(frame[1], frame[2]) @ frame[3]) > 0
    return corners if right_handed != hollow else np.ascontiguousarray(corners[:, ::-1])


def _steps(span: float, radius: float) -> int:
    """So many chords as the kernel draws: half of MESH from the circle at most, with half of TURN between them."""
    turn = 2.0 * math.acos(max(1.0 - MESH / 2 / radius, 0.0))
    return max(2, math.ceil(span / min(turn, TURN / 2) - 1e-9))


def _carrier(adaptor: BRepAdaptor_Surface) -> tuple[NDArray[np.float64], float, float] | None:
    """Origin, x, y and z of a cylinder or cone, (4, 3), its radius there and the slope of its wall (rad)."""
    kind = adaptor.GetType()
    if kind == GeomAbs_SurfaceType.GeomAbs_Cylinder:
        cylinder = adaptor.Cylinder()
        position, radius, slope = cylinder.Position(), cylinder.Radius(), 0.0
    elif kind == GeomAbs_SurfaceType.GeomAbs_Cone:
        cone = adaptor.Cone()
        position, radius, slope = cone.Position(), cone.RefRadius(), cone.SemiAngle()
    else:
        return None
    axes = (position.Location(), position.XDirection(), position.YDirection(), position.Direction())
    return np.array([of_xyz(a) for a in axes]), radius, slope
