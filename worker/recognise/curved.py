"""Slots that run in a circle (ISO 14649-10 circular course of travel): kidney slots, and grooves round a middle."""

from __future__ import annotations

import math
from dataclasses import dataclass

from schemas.base import Vec3, add, cross, dot, norm, sub
from schemas.tolerances import SAME_LENGTH
from worker.recognise.passages import distinct
from worker.recognise.patches import PartShape, Patch

Sizes = dict[str, object]


@dataclass(frozen=True, eq=False)
class Course:
    """Ends of a slot that runs in a circle, and its sizes (mm): middle diameter, width, length along the middle."""

    ends: str
    sizes: Sizes


def circular(shape: PartShape, walls: list[int], islands: list[list[int]]) -> Course | None:
    """The course of a recess by the walls all round it and those of each island; None when it is no circular slot."""
    outer = [shape.patches[w] for w in distinct(shape, walls)]
    if any(p.surface.kind != "cylinder" for p in outer):
        return None
    if len(outer) == 1 and len(islands) == 1:
        return _loop(outer[0], [shape.patches[w] for w in distinct(shape, islands[0])])
    return _kidney(outer) if len(outer) == 4 and not islands else None


def _loop(outer: Patch, inner: list[Patch]) -> Course | None:
    if len(inner) != 1 or not _round(inner[0], outer):
        return None
    far, near = outer.surface.radius, inner[0].surface.radius
    return Course("loop", {"diameter": far + near, "width": far - near, "length": None})


def _round(core: Patch, outer: Patch) -> bool:
    """True for a convex cylinder in the middle of a hollow one."""
    a, b = core.surface, outer.surface
    return a.kind == "cylinder" and b.hollow and not a.hollow and _off_axis(a.origin, b.origin, b.axis) < SAME_LENGTH


def _off_axis(point: Vec3, origin: Vec3, axis: Vec3) -> float:
    gap = sub(point, origin)
    return norm(add(gap, axis, -dot(gap, axis)))


def _kidney(walls: list[Patch]) -> Course | None:
    core = [p for p in walls if not p.surface.hollow]
    if len(core) != 1:
        return None
    outer = next((p for p in walls if p is not core[0] and _round(core[0], p)), None)
    if outer is None:
        return None
    ends = [p.surface for p in walls if p is not core[0] and p is not outer]
    width = outer.surface.radius - core[0].surface.radius
    middle = outer.surface.radius - width / 2
    axis, origin = outer.surface.axis, outer.surface.origin
    on_middle = all(
        abs(2 * e.radius - width) < 2 * SAME_LENGTH
        and abs(_off_axis(e.origin, origin, axis) - middle) < 2 * SAME_LENGTH
        for e in ends
    )
    if not on_middle or width <= 0:
        return None
    turn = _turn(origin, axis, ends[0].origin, ends[1].origin, outer)
    sizes: Sizes = {"diameter": 2 * middle, "width": width, "length": middle * turn + width}
    return Course("radiused radiused", sizes)


def _turn(origin: Vec3, axis: Vec3, a: Vec3, b: Vec3, outer: Patch) -> float:
    """Angle (rad) between two places seen from the axis, on the side on which the outer wall lies."""
    arms = [add(sub(p, origin), axis, -dot(sub(p, origin), axis)) for p in (a, b, outer.point)]
    angles = [math.atan2(dot(cross(arms[0], arm), axis), dot(arms[0], arm)) % (2 * math.pi) for arm in arms]
    return angles[1] if angles[2] < angles[1] else 2 * math.pi - angles[1]
