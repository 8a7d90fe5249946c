"""Corners of two flat walls that a hole relieves: the walls are cut together, though they meet nowhere any more."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from schemas.base import Frame, Vec3, add, any_frame, cross, dot, norm, scale, sub
from schemas.tolerances import LEDGE, SAME_LENGTH, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.carriers import same_carrier
from worker.recognise.patches import PartShape, Patch, Rim

MEET = 0.1
"""Walls that turn less from one to the other (sine) have no corner that a hole could relieve."""


@dataclass(frozen=True)
class _Side:
    """An edge along a hole at which a flat wall ends: from where to where it runs (mm), at which angle it stands."""

    wall: int
    surface: Surface
    place: Vec3
    low: float
    high: float
    angle: float


@lru_cache(maxsize=1)
def relieved_corners(shape: PartShape) -> dict[int, dict[int, int]]:
    """For each flat wall those with which it would make an inner corner if no upright hole stood there, by the hole;
    kept for the part that was asked about last."""
    found: dict[int, dict[int, int]] = {}
    for patch in shape.patches:
        if patch.surface.kind == "cylinder" and patch.surface.hollow:
            for a, b in _relieved_by(shape.patches, patch):
                found.setdefault(a, {})[patch.index] = b
                found.setdefault(b, {})[patch.index] = a
    return found


def _relieved_by(patches: Sequence[Patch], hole: Patch) -> list[tuple[int, int]]:
    rims = [r for r in hole.rims if r.convexity == "convex" and r.curve == "line" and len(r.points) > 1]
    flat = [r for r in rims if patches[r.other].surface.kind == "plane"]
    if len(flat) < 2:
        return []
    frame = any_frame(hole.surface.origin, hole.surface.axis)
    sides = [_side(patches[r.other], r, frame) for r in flat]
    pairs = [(a, b) for a, b in combinations(sides, 2) if a.wall != b.wall and _is_corner(a, b, hole.surface)]
    twins = _rest_of(patches, hole, frame) if pairs else []
    return [
        (a.wall, b.wall)
        for a, b in pairs
        if not any(_lies_between(s, a, b, frame) for s in sides) and not any(_faces(s, a, b, frame) for s in twins)
    ]


def _rest_of(patches: Sequence[Patch], hole: Patch, frame: Frame) -> list[_Side]:
    """The edges along the other parts of a hole's wall."""
    others = [p for p in patches if p.index != hole.index and p.surface.kind == "cylinder" and p.surface.hollow]
    twins = [p for p in others if same_carrier(p.surface, hole.surface)]
    rims = [r for p in twins for r in p.rims if r.curve == "line" and len(r.points) > 1]
    return [_side(patches[r.other], r, frame) for r in rims]


def _side(wall: Patch, rim: Rim, frame: Frame) -> _Side:
    low, high = sorted(dot(p, frame.axis) for p in (rim.points[0], rim.points[-1]))
    return _Side(wall.index, wall.surface, rim.points[0], low, high, _angle(sub(rim.points[0], frame.location), frame))


def _angle(way: Vec3, frame: Frame) -> float:
    return math.atan2(dot(way, frame.y), dot(way, frame.x))


def _is_corner(a: _Side, b: _Side, hole: Surface) -> bool:
    """True for walls beside each other of which each leads the way that the other looks, from a line in the hole."""
    p, q = a.surface, b.surface
    turn = dot(cross(p.axis, q.axis), hole.axis)
    if abs(turn) < MEET or min(a.high, b.high) - max(a.low, b.low) < LEDGE:
        return False
    inside = dot(sub(b.place, p.origin), p.axis) > SAME_LENGTH and dot(sub(a.place, q.origin), q.axis) > SAME_LENGTH
    u, v = dot(sub(p.origin, hole.origin), p.axis), dot(sub(q.origin, hole.origin), q.axis)
    at = add(scale(cross(q.axis, hole.axis), u / turn), cross(hole.axis, p.axis), v / turn)
    return inside and norm(at) < hole.radius + LEDGE


def _faces(side: _Side, a: _Side, b: _Side, frame: Frame) -> bool:
    """True for an edge across the hole from the corner: where its wall goes on before both walls they make none."""
    behind = _angle(scale(add(a.surface.axis, b.surface.axis), -1.0), frame)
    first, last = sorted((side_angle - behind) % math.tau for side_angle in (a.angle, b.angle))
    overlap = side.high > max(a.low, b.low) + LEDGE and side.low < min(a.high, b.high) - LEDGE
    return overlap and first + SQUARE < (side.angle - behind) % math.tau < last - SQUARE


def _lies_between(side: _Side, a: _Side, b: _Side, frame: Frame) -> bool:
    """True for an edge on the far side of the hole, between both walls: something else leads out of it there."""
    behind = _angle(scale(add(a.surface.axis, b.surface.axis), -1.0), frame)
    first, last = sorted((side_angle - behind) % math.tau for side_angle in (a.angle, b.angle))
    beside = (side.angle - behind) % math.tau
    overlap = side.high > max(a.low, b.low) + LEDGE and side.low < min(a.high, b.high) - LEDGE
    near = beside < first - SQUARE or beside > last + SQUARE
    return overlap and side not in (a, b) and near
