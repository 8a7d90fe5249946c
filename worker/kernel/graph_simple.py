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
Placed = tuple[Vec3, Vec3, Vec3, Vec3]
"""Origin, x, y and z."""
BOUNDS = (["circle"], ["circle", "circle"], ["circle", "circle", "line", "line"])
"""What bounds a strip: all round, down to a cone's point too, or between two straight edges."""
Array = NDArray[np.float64]
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


def strip_triangles(adaptor: BRepAdaptor_Surface, hollow: bool, lines: Sequence[Line]) -> Corners | None:
    """A cylinder or cone between two circles, whole or between two straight edges; None for any other face.

    ``lines``: its edges; a seam, which it has twice, is none of them. They tell where it ends: the kernel's own bounds
    lie as much as 1e-4 mm outside where the edges' curves in its parameters are splines.
    """
    if len(lines) not in (1, 2, 4) or sorted(line[0] for line in lines) not in BOUNDS:
        return None
    read, turns = _carrier(adaptor), (adaptor.FirstUParameter(), adaptor.LastUParameter())
    if read is None or (len(lines) < 4) != (turns[1] - turns[0] > math.tau - 1e-9):
        return None
    frame, radius, slope = read
    origin, x, y, z = frame
    starts = [(line[0], sub(line[3], origin)) for line in lines]
    levels = sorted(dot(start, z) for kind, start in starts if kind == "circle")
    if len(lines) == 4:
        turns = _between(turns, np.array([math.atan2(dot(start, y), dot(start, x)) for _, start in starts]))
    circles = [(level, radius + level * math.tan(slope)) for level in levels]
    corners = _strip(np.array(frame), turns, circles) if len(circles) == 2 else _tip(frame, turns, circles[0], slope)
    if corners is None:
        return None
    right_handed = dot(cross(x, y), z) > 0
    return corners if right_handed != hollow else np.ascontiguousarray(corners[:, ::-1])


def _tip(frame: Placed, turns: tuple[float, float], circle: tuple[float, float], slope: float) -> Corners | None:
    """The triangles of a cone from a circle, given by height and radius, to its point; None for a cylinder."""
    if abs(slope) < STRAIGHT:
        return None
    point = (circle[0] - circle[1] / math.tan(slope), 0.0)
    circles = [circle, point] if point > circle else [point, circle]
    halves = _strip(np.array(frame), turns, circles).reshape(-1, 2, 3, 3)
    return np.ascontiguousarray(halves[:, 0 if point > circle else 1])


def _between(turns: tuple[float, float], angles: Array) -> tuple[float, float]:
    """The bounds of a strip's turn (rad), moved to the nearest of its corners' own angles."""
    off = [(angles - turn + math.pi) % math.tau - math.pi for turn in turns]
    first, last = (turn + float(o[np.abs(o).argmin()]) for turn, o in zip(turns, off, strict=True))
    return first, last


def _strip(frame: Array, turns: tuple[float, float], circles: Sequence[tuple[float, float]]) -> Corners:
    """Triangles between two circles, given by height over the frame's origin and radius."""
    count = steps(turns[1] - turns[0], max(abs(radius) for _, radius in circles))
    angles = (np.arange(count + 1) * ((turns[1] - turns[0]) / count) + turns[0])[:, None]
    angles[-1] = turns[1]
    around = np.cos(angles) * frame[1] + np.sin(angles) * frame[2]
    low, high = (frame[0] + radius * around + height * frame[3] for height, radius in circles)
    return np.stack([low[:-1], low[1:], high[1:], low[:-1], high[1:], high[:-1]], axis=1).reshape(-1, 3, 3)


def steps(span: float, radius: float) -> int:
    """So many chords as the kernel draws: half of MESH from the circle at most, with half of TURN between them."""
    turn = 2.0 * math.acos(max(1.0 - MESH / 2 / radius, 0.0))
    return max(2, math.ceil(span / min(turn, TURN / 2) - 1e-9))


def _carrier(adaptor: BRepAdaptor_Surface) -> tuple[Placed, float, float] | None:
    """Origin, x, y and z of a cylinder or cone, its radius there and the slope of its wall (rad)."""
    kind = adaptor.GetType()
    if kind == GeomAbs_SurfaceType.GeomAbs_Cylinder:
        cylinder = adaptor.Cylinder()
        position, radius, slope = cylinder.Position(), cylinder.Radius(), 0.0
    elif kind == GeomAbs_SurfaceType.GeomAbs_Cone:
        cone = adaptor.Cone()
        position, radius, slope = cone.Position(), cone.RefRadius(), cone.SemiAngle()
    else:
        return None
    x, y, z = (of_xyz(way) for way in (position.XDirection(), position.YDirection(), position.Direction()))
    return (of_xyz(position.Location()), x, y, z), radius, slope
