"""Thin metal between two faces of a body: flats facing each other, also at a small angle; round walls are beside."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache

from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.TopAbs import TopAbs_ShapeEnum

from schemas.base import Vec3, add, dot, norm, scale, sub
from schemas.tolerances import COINCIDENT
from worker.kernel import measure
from worker.kernel.contact import shifted
from worker.kernel.shape import Body, edges, faces, sub_shapes
from worker.kernel.walls_round import beside_planes, between_bores, in_bosses, under_tips
from worker.kernel.walls_side import PARALLEL, Side, Wall, close, sides_of

__all__ = ["Wall", "thin_walls"]

LEAST_AREA = 1.0
"""Walls smaller than this (mm2) are no walls."""
TAPER = math.cos(math.radians(20))
"""Cosine of the greatest angle between the flanks of a tapered wall: ribs have drafts, edges have wedges."""


@lru_cache(maxsize=64)
def thin_walls(body: Body, limit: float) -> tuple[Wall, ...]:
    """All walls thinner than ``limit`` mm, thinnest first. Kept for each body: what one setup leaves is what the next
    one starts from."""
    sides = sides_of(body)
    flat = [s for s in sides if s.surface.kind == "plane"]
    bores = [s for s in sides if s.surface.kind == "cylinder" and s.surface.hollow]
    bosses = [s for s in sides if s.surface.kind == "cylinder" and not s.surface.hollow]
    tips = [s for s in sides if s.surface.kind == "cone" and s.surface.hollow]
    found = [*_between_planes(flat, limit), *beside_planes(bores, flat, limit), *between_bores(bores, limit)]
    found += [*in_bosses(bores, bosses, limit), *under_tips(tips, flat, limit)]
    inside = [w for w in found if measure.contains(body, w.at) == "in"]
    return tuple(sorted(_once(inside), key=lambda w: (round(w.thickness, 6), w.at)))


def _once(found: list[Wall]) -> list[Wall]:
    """Flat walls in one middle plane are one wall, and so are they and the round corners beside them."""
    kept: list[Wall] = []
    for wall in sorted(found, key=lambda w: (-round(w.area, 6), w.at)):
        if not any(other.area and _one_plane(wall, other) for other in kept):
            kept.append(wall)
    return kept


def _one_plane(one: Wall, other: Wall) -> bool:
    if abs(one.thickness - other.thickness) > COINCIDENT or abs(dot(one.normal, other.normal)) < PARALLEL:
        return False
    return abs(dot(sub(one.at, other.at), other.normal)) < COINCIDENT


def _between_planes(flat: list[Side], limit: float) -> Iterator[Wall]:
    for i, one in enumerate(flat):
        for other in flat[i + 1 :]:
            facing = -dot(one.surface.axis, other.surface.axis)
            depth = dot(sub(one.surface.origin, other.surface.origin), one.surface.axis)
            if facing < TAPER or (facing >= PARALLEL and not 0 < depth < limit):
                continue
            if close(one.box, other.box, limit):
                yield from _tapered(one, other, limit) if facing < PARALLEL else _overlap(one, other, depth)


def _overlap(one: Side, other: Side, depth: float) -> Iterator[Wall]:
    """What both faces cover; a lip lower than it is thick is no wall."""
    operation = BRepAlgoAPI_Common(one.shape, shifted(other.shape, scale(one.surface.axis, depth)))
    for part in sub_shapes(operation.Shape(), TopAbs_ShapeEnum.TopAbs_FACE):
        face = Body(part)
        area, longest = measure.area(face), max(measure.box_of(part).size)
        if area >= max(LEAST_AREA, depth * longest):
            inner = measure.face_point_inside(faces(face)[0])
            yield Wall(depth, add(inner, one.surface.axis, -depth / 2), area, one.surface.axis)


def _tapered(one: Side, other: Side, limit: float) -> Iterator[Wall]:
    """Where two flats at a small angle come nearest, as at the top of a rib. Flats that meet are a wedge."""
    area = min(measure.area(Body(side.shape)) for side in (one, other))
    if area < LEAST_AREA or _meet(one, other):
        return
    gap = measure.distance(Body(one.shape), Body(other.shape))
    if 0 < gap.distance < limit:
        between = add(gap.on_first, sub(gap.on_second, gap.on_first), 0.5)
        yield Wall(gap.distance, _further_in(between, one, other), area, one.surface.axis)


def _further_in(point: Vec3, one: Side, other: Side) -> Vec3:
    """Two flats come nearest at the body's own edge: a hundredth of a millimetre further in there is metal."""
    a, b = (measure.face_point_inside(side.shape) for side in (one, other))
    way = sub(add(a, sub(b, a), 0.5), point)
    return add(point, way, 0.01 / max(norm(way), 0.01))


def _meet(one: Side, other: Side) -> bool:
    return any(a.IsSame(b) for a in edges(one.shape) for b in edges(other.shape))
