"""Thin metal beside bores: to a flat face, to another bore, to the boss round it; and under a drill's point (mm)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.ElCLib import ElCLib
from OCP.ElSLib import ElSLib
from OCP.GeomAbs import GeomAbs_SurfaceType

from schemas.base import Vec3, add, dot, norm, scale, sub
from schemas.tolerances import ON_FACE
from worker.kernel.contact import nearest
from worker.kernel.shape import Body, to_pnt
from worker.kernel.walls_side import PARALLEL, Side, Wall, close, shared

RIM = 1e-6
"""Angle (rad) by which a line may lie beside a round face's edge."""
CENTRED = 1e-6
"""Axes nearer than this (mm) are one axis."""
TIP = -0.5
"""Cosine below which a point looks at a flat face."""


def beside_planes(bores: list[Side], flat: list[Side], limit: float) -> Iterator[Wall]:
    """The line of a bore that is nearest to a flat face along it."""
    for bore in bores:
        for plane in flat:
            normal = plane.surface.axis
            if abs(dot(bore.surface.axis, normal)) > 1e-6:
                continue
            depth = dot(sub(plane.surface.origin, bore.surface.origin), normal) - bore.surface.radius
            if 0 < depth < limit and close(bore.box, plane.box, limit):
                yield from _facing(bore, plane, normal, depth)


def _facing(bore: Side, plane: Side, normal: Vec3, depth: float) -> Iterator[Wall]:
    middle = _middle(bore, plane)
    if middle is None:
        return
    on_bore = add(middle, normal, bore.surface.radius)
    if _lies_on(bore, on_bore) and nearest(Body(plane.shape), add(on_bore, normal, depth)).distance < ON_FACE:
        yield Wall(depth, add(on_bore, normal, depth / 2), 0.0, normal)


def between_bores(bores: list[Side], limit: float) -> Iterator[Wall]:
    """Two bores along each other."""
    for i, one in enumerate(bores):
        for other in bores[i + 1 :]:
            if not _along(one, other):
                continue
            across = _across(one, other)
            depth = norm(across) - one.surface.radius - other.surface.radius
            middle = _middle(one, other) if 0 < depth < limit and close(one.box, other.box, limit) else None
            if middle is not None:
                direction = scale(across, 1 / norm(across))
                on_one = add(middle, direction, one.surface.radius)
                if _lies_on(one, on_one) and _lies_on(other, add(on_one, direction, depth)):
                    yield Wall(depth, add(on_one, direction, depth / 2), 0.0, direction)


def in_bosses(bores: list[Side], bosses: list[Side], limit: float) -> Iterator[Wall]:
    """A bore in a boss or bar: the tube between them, at its thinnest."""
    for bore in bores:
        for boss in bosses:
            if not _along(bore, boss):
                continue
            across = _across(boss, bore)
            depth = boss.surface.radius - bore.surface.radius - norm(across)
            middle = _middle(bore, boss) if 0 < depth < limit and close(bore.box, boss.box, limit) else None
            if middle is not None:
                direction = scale(across, 1 / norm(across)) if norm(across) > CENTRED else _towards(bore, boss)
                on_bore = add(middle, direction, bore.surface.radius)
                if _lies_on(bore, on_bore) and _lies_on(boss, add(on_bore, direction, depth)):
                    yield Wall(depth, add(on_bore, direction, depth / 2), 0.0, direction)


def under_tips(tips: list[Side], flat: list[Side], limit: float) -> Iterator[Wall]:
    """The point of a drilled hole before a flat face."""
    for tip in tips:
        apex = tip.surface.origin
        if nearest(Body(tip.shape), apex).distance > ON_FACE:
            continue
        for plane in flat:
            normal = plane.surface.axis
            depth = dot(sub(plane.surface.origin, apex), normal)
            if not 0 < depth < limit or dot(tip.surface.axis, normal) > TIP:
                continue
            if nearest(Body(plane.shape), add(apex, normal, depth)).distance < ON_FACE:
                yield Wall(depth, add(apex, normal, depth / 2), 0.0, normal)


def _along(one: Side, other: Side) -> bool:
    return abs(dot(one.surface.axis, other.surface.axis)) >= PARALLEL


def _across(one: Side, other: Side) -> Vec3:
    """From the first axis square to the second."""
    between = sub(other.surface.origin, one.surface.origin)
    return add(between, one.surface.axis, -dot(between, one.surface.axis))


def _middle(bore: Side, other: Side) -> Vec3 | None:
    """The point of the bore's axis at the middle of the length along which the other face lies beside it."""
    axis, origin = bore.surface.axis, bore.surface.origin
    span = shared(bore, other, axis)
    return None if span is None else add(origin, axis, (span[0] + span[1]) / 2 - dot(origin, axis))


def _towards(bore: Side, boss: Side) -> Vec3:
    """The middle of the narrower of two faces round one axis, as a direction from the axis."""
    narrow = min((bore, boss), key=lambda side: round(_width(side), 6))
    first, last = _turn(narrow)
    return _radial(narrow, (first + last) / 2)


def _radial(side: Side, u: float) -> Vec3:
    """Unit vector from the axis to a line of the face."""
    adaptor = BRepAdaptor_Surface(side.shape, True)
    point = adaptor.Value(u, adaptor.FirstVParameter())
    out = sub((point.X(), point.Y(), point.Z()), side.surface.origin)
    flat = add(out, side.surface.axis, -dot(out, side.surface.axis))
    return scale(flat, 1 / norm(flat))


def _width(side: Side) -> float:
    """The angle (rad) that the face goes round its axis; of one that is swept or written as a spline by eighths."""
    first, last = _turn(side)
    if _is_elementary(side):
        return last - first
    lines = [_radial(side, first + (last - first) * k / 8) for k in range(9)]
    return sum(math.acos(max(-1.0, min(1.0, dot(a, b)))) for a, b in pairwise(lines))


def _is_elementary(side: Side) -> bool:
    return bool(BRepAdaptor_Surface(side.shape, True).GetType() == GeomAbs_SurfaceType.GeomAbs_Cylinder)


def _turn(side: Side) -> tuple[float, float]:
    adaptor = BRepAdaptor_Surface(side.shape, True)
    return adaptor.FirstUParameter(), adaptor.LastUParameter()


def _lies_on(side: Side, point: Vec3) -> bool:
    """Whether a line of a cylinder belongs to the face; of one that is swept or written as a spline, the point."""
    if not _is_elementary(side):
        return nearest(Body(side.shape), point).distance < ON_FACE
    first, last = _turn(side)
    if last - first > math.tau - RIM:
        return True
    adaptor = BRepAdaptor_Surface(side.shape, True)
    u, _ = ElSLib.Parameters_s(adaptor.Cylinder(), to_pnt(point))
    turn = float(ElCLib.InPeriod_s(u, first - RIM, first - RIM + math.tau))
    return turn <= last + RIM
