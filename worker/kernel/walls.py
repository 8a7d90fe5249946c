"""Thin metal between two faces of a body: flat against flat, a bore beside a face, a bore beside a bore."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS_Face

from schemas.base import Box, Vec3, add, dot, norm, scale, sub
from worker.kernel import measure
from worker.kernel.contact import nearest, shifted
from worker.kernel.graph_surface import Surface, surface_of
from worker.kernel.shape import Body, faces, sub_shapes

PARALLEL = 1 - 1e-6
"""Cosine from which two directions count as parallel (0.08 degrees)."""
ON_FACE = 1e-3
"""How far the foot of a wall may lie off the face that it is to meet (mm)."""
LEAST_AREA = 1.0
"""Walls smaller than this (mm2) are no walls."""


@dataclass(frozen=True)
class Wall:
    """Metal of ``thickness`` mm around the point ``at``; ``area`` mm2 of it (0 where a bore comes near)."""

    thickness: float
    at: Vec3
    area: float


@dataclass(frozen=True)
class _Side:
    shape: TopoDS_Face
    surface: Surface
    box: Box


def thin_walls(body: Body, limit: float) -> tuple[Wall, ...]:
    """All walls thinner than ``limit`` mm, thinnest first."""
    sides = [_Side(f, surface_of(f)[0], measure.box_of(f)) for f in faces(body)]
    flat = [s for s in sides if s.surface.kind == "plane"]
    bores = [s for s in sides if s.surface.kind == "cylinder" and s.surface.hollow]
    found = [*_between_planes(flat, limit), *_beside_planes(bores, flat, limit), *_between_bores(bores, limit)]
    inside = [w for w in found if measure.contains(body, w.at) == "in"]
    return tuple(sorted(inside, key=lambda w: (round(w.thickness, 6), w.at)))


def _close(a: Box, b: Box, gap: float) -> bool:
    return all(p <= q + gap and r <= s + gap for p, q, r, s in zip(a.min, b.max, b.min, a.max, strict=True))


def _between_planes(flat: list[_Side], limit: float) -> Iterator[Wall]:
    for i, one in enumerate(flat):
        for other in flat[i + 1 :]:
            depth = dot(sub(one.surface.origin, other.surface.origin), one.surface.axis)
            if not 0 < depth < limit or dot(one.surface.axis, other.surface.axis) > -PARALLEL:
                continue
            if _close(one.box, other.box, limit):
                yield from _overlap(one, other, depth)


def _overlap(one: _Side, other: _Side, depth: float) -> Iterator[Wall]:
    operation = BRepAlgoAPI_Common(one.shape, shifted(other.shape, scale(one.surface.axis, depth)))
    for part in sub_shapes(operation.Shape(), TopAbs_ShapeEnum.TopAbs_FACE):
        face = Body(part)
        area = measure.area(face)
        if area >= LEAST_AREA:
            inner = measure.face_point_inside(faces(face)[0])
            yield Wall(depth, add(inner, one.surface.axis, -depth / 2), area)


def _beside_planes(bores: list[_Side], flat: list[_Side], limit: float) -> Iterator[Wall]:
    for bore in bores:
        for plane in flat:
            normal = plane.surface.axis
            if abs(dot(bore.surface.axis, normal)) > 1e-6 or not _close(bore.box, plane.box, limit):
                continue
            depth = dot(sub(plane.surface.origin, bore.surface.origin), normal) - bore.surface.radius
            if 0 < depth < limit:
                yield from _facing(bore, plane, normal, depth)


def _facing(bore: _Side, plane: _Side, normal: Vec3, depth: float) -> Iterator[Wall]:
    """The line of the bore nearest to the plane, at the middle of what both cover along the bore's axis."""
    middle = _shared_middle(bore, plane)
    on_bore = add(middle, normal, bore.surface.radius)
    if nearest(Body(plane.shape), add(on_bore, normal, depth)).distance < ON_FACE:
        yield Wall(depth, add(on_bore, normal, depth / 2), 0.0)


def _between_bores(bores: list[_Side], limit: float) -> Iterator[Wall]:
    for i, one in enumerate(bores):
        for other in bores[i + 1 :]:
            if abs(dot(one.surface.axis, other.surface.axis)) < PARALLEL or not _close(one.box, other.box, limit):
                continue
            between = sub(other.surface.origin, one.surface.origin)
            across = add(between, one.surface.axis, -dot(between, one.surface.axis))
            depth = norm(across) - one.surface.radius - other.surface.radius
            if 0 < depth < limit:
                direction = scale(across, 1 / norm(across))
                middle = _shared_middle(one, other)
                yield Wall(depth, add(middle, direction, one.surface.radius + depth / 2), 0.0)


def _shared_middle(bore: _Side, other: _Side) -> Vec3:
    """The point of the bore's axis at the middle of the length along which the other face lies beside it."""
    axis, origin = bore.surface.axis, bore.surface.origin
    spans = [_span(side.box, axis) for side in (bore, other)]
    low, high = max(s[0] for s in spans), min(s[1] for s in spans)
    return add(origin, axis, (low + high) / 2 - dot(origin, axis))


def _span(box: Box, axis: Vec3) -> tuple[float, float]:
    """Extent of a box along a direction (exact for the directions of its edges)."""
    ends = [sorted((box.min[i] * axis[i], box.max[i] * axis[i])) for i in range(3)]
    return sum(e[0] for e in ends), sum(e[1] for e in ends)
