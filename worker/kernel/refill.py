"""The groove of a modelled thread filled again: the ring it lies in taken off whole and put back without it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from schemas.base import Box, Vec3, add, norm, scale, sub
from worker.kernel import boolean
from worker.kernel.errors import KernelError
from worker.kernel.graph_surface import Surface
from worker.kernel.measure import bounding_box, contains, face_normal, points_inside, volume
from worker.kernel.primitives import cone, cylinder, half_space_box, sphere
from worker.kernel.shape import Body, faces, solids
from worker.kernel.validity import faults

RIND = 0.02
"""Share of its radius by which what is taken off reaches past the skin into the metal, or past a shank into the air."""
BELOW = 0.02
"""The ring reaches this share of the groove's depth below it."""
MOST_PIECES = 64
"""More pieces of one ring are not sorted out."""
STEP = 1e-3
"""A point this far (mm) below a piece's face tells whether the piece was metal."""


@dataclass(frozen=True, slots=True)
class Skin:
    """A round face between two points on its axis, its radius at both, and the radii that a groove in it reaches (mm).

    ``hollow``: a bore, its groove outside it; else a shank.
    """

    start: Vec3
    end: Vec3
    radii: tuple[float, float]
    reach: tuple[float, float]
    hollow: bool


def refilled(body: Body, skin: Skin, walls: Sequence[Surface], ridges: Sequence[Vec3]) -> Body:
    """The solid without the groove in a skin. ``walls``: the skin's own surface, and the faces that end or cross it;
    ``ridges``: points in the metal that the groove leaves below the skin.

    The ring that the groove lies in is divided along the walls: what holds a ridge, or metal beside the thread, is put
    back whole, the rest is air. Raises KernelError where a wall is no simple face, or the outcome is not one solid.
    """
    box = bounding_box(body)
    pieces = [rind := _rind(skin)]
    for wall in walls:
        tool = _inside_of(wall, box)
        pieces = [part for piece in pieces for part in _halves(piece, tool)]
        if len(pieces) > MOST_PIECES:
            raise KernelError("refill", "too much crosses the thread")
    kept = [piece for piece in pieces if _was_metal(piece, body, ridges)]
    if not kept:
        raise KernelError("refill", "no metal is left between the turns of the thread")
    whole = boolean.fuse([boolean.cut(body, [rind]), *kept])
    added = volume(whole) - volume(body)
    if len(solids(whole)) != 1 or faults(whole) or not 0 < added < volume(rind):
        raise KernelError("refill", "the thread's ring does not go back to one sound solid")
    return whole


def _rind(skin: Skin) -> Body:
    """The ring that holds the groove, past the skin and below the groove."""
    way = 1.0 if skin.hollow else -1.0
    deep = [r + BELOW * (r - s) for s, r in zip(skin.radii, skin.reach, strict=True)]
    past = [s * (1 - way * RIND) for s in skin.radii]
    outer, inner = (deep, past) if skin.hollow else (past, deep)
    return boolean.cut(_round(skin, outer), [_round(skin, inner)])


def _round(skin: Skin, radii: Sequence[float]) -> Body:
    return cone(skin.start, skin.end, 2 * radii[0], 2 * radii[1])


def _halves(piece: Body, tool: Body) -> list[Body]:
    parts = [boolean.common(piece, [tool]), boolean.cut(piece, [tool])]
    return list(itertools.chain.from_iterable(solids(part) for part in parts))


def _inside_of(wall: Surface, box: Box) -> Body:
    """All that lies on one side of a simple face, as far as a box and what stands a little out of it reach."""
    middle = scale(add(box.min, box.max), 0.5)
    room = 2 * (box.diagonal + norm(sub(middle, wall.origin)))
    if wall.kind == "plane":
        return half_space_box(wall.origin, wall.axis, 2 * room)
    if wall.kind == "sphere":
        return sphere(wall.origin, 2 * wall.radius)
    if wall.kind == "cylinder":
        return cylinder(add(wall.origin, wall.axis, -room), add(wall.origin, wall.axis, room), 2 * wall.radius)
    if wall.kind == "cone":
        return cone(wall.origin, add(wall.origin, wall.axis, room), 0.0, 2 * room * math.tan(wall.half_angle))
    raise KernelError("refill", "what crosses the thread is no simple face")


def _was_metal(piece: Body, body: Body, ridges: Sequence[Vec3]) -> bool:
    box = bounding_box(piece)
    near = [p for p in ridges if all(a <= c <= b for a, c, b in zip(box.min, p, box.max, strict=True))]
    if any(contains(piece, point) == "in" for point in near):
        return True
    return any(contains(body, point) == "in" for point in _below_faces(piece))


def _below_faces(piece: Body) -> list[Vec3]:
    return [add(at, face_normal(face, at), -STEP) for face, at in points_inside(faces(piece))]
