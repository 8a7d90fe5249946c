"""Whether left metal lies where something passes: by a boolean, or by points for lumps of very many faces.

A lump that meshes gave has thousands of flats, and a boolean with each step's sweep takes minutes for a cause that is
only told. Points just inside such a lump say the same in a second.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from schemas.base import Frame, Vec3, add
from schemas.tolerances import LAYER
from worker.kernel import measure
from worker.kernel.planar import contains
from worker.kernel.shape import Body, faces
from worker.residual import Lump
from worker.stage.model import Spared

MANY = 400
"""Faces of a lump from which on points are asked: its booleans take seconds each."""
MOST_POINTS = 60
"""Points of a lump that are asked, under faces spread evenly over its list."""


def has_many_faces(lump: Lump) -> bool:
    """Whether points alone are asked, and no boolean."""
    return _count(lump.body) >= MANY


@lru_cache(maxsize=64)
def _count(body: Body) -> int:
    return len(faces(body))


@lru_cache(maxsize=64)
def inner_points(body: Body) -> tuple[Vec3, ...]:
    """Points (mm) behind some of a body's faces, by half the thinnest layer that counts."""
    known = faces(body)
    asked = measure.points_inside(known[:: -(-len(known) // MOST_POINTS)])
    return tuple(add(at, measure.face_normal(face, at), -LAYER / 2) for face, at in asked)


def is_spared(points: Sequence[Vec3], level: Spared, frame: Frame) -> bool:
    """Whether a point lies in what a level leaves free but its cutter does not cover."""
    x0, y0, x1, y1 = level.plan
    for x, y, z in map(frame.to_local, points):
        over_metal = level.low < z < level.high and x0 < x < x1 and y0 < y < y1
        if over_metal and contains(level.free, (x, y)) and not contains(level.covered, (x, y)):
            return True
    return False


def any_within(points: Sequence[Vec3], bodies: Sequence[Body]) -> bool:
    """Whether a point lies in one of some bodies."""
    return any(measure.contains(body, point) == "in" for body in bodies for point in points)
