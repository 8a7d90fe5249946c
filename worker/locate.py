"""Where a feature is: does a point of the part's frame lie on or in it?"""

from __future__ import annotations

import math
from collections.abc import Callable

from schemas.base import Box, Vec3
from schemas.feature import Feature
from worker.kernel import nearness
from worker.kernel.probe import Inside
from worker.kernel.shape import to_pnt
from worker.part import RECESSES, Part
from worker.resolve import OnFeature

ON_FACE = 0.01
"""A selector's point lies on a face within this distance (mm): plans are written with two or three decimals."""

ENCLOSING = RECESSES | {"round_hole", "counterbore_hole", "countersunk_hole"}
"""Classes whose faces enclose a space; a point on an outside, a chamfer or an edge round lies on its faces only."""


def on_feature_of(part: Part) -> OnFeature:
    """The test for features of this part: on one of the feature's faces, or in the space that its faces enclose.

    Of a floor or wall that other recesses have as well only what the feature's own sizes span counts: where slots of
    one depth cross, a point is in both, beyond the crossing in one.
    """
    rooms: dict[str, Box] = {}
    reaches: dict[str, float] = {}
    in_metal = Inside(part.body)

    def on_feature(feature: Feature, point: Vec3) -> bool:
        if feature.id not in rooms:
            rooms[feature.id] = _room(part, feature)
            reaches[feature.id] = _reach(rooms[feature.id])
        if math.dist(point, feature.placement.location) > reaches[feature.id]:
            return False  # most of many features lie far off: quicker to tell than their box
        if not _in_box(rooms[feature.id], feature.placement.to_local(point)):
            return False
        if nearness.distance_to_faces(part.body, feature.faces, point) <= ON_FACE:
            return True
        return feature.class_ in ENCLOSING and in_metal(to_pnt(point)) is not True

    return on_feature


def _room(part: Part, feature: Feature) -> Box:
    """The box of the feature's faces in its own axes; within its own sizes where other recesses share any of them."""
    box = nearness.box_of_faces(part.body, feature.faces, feature.placement)
    recess = feature.class_ in RECESSES and feature.course_of_travel in (None, "linear")
    if not recess or not any(part.shared(feature, face) for face in feature.faces):
        return box
    low, high = _own_sizes(feature)
    return Box(min=_each(max, box.min, low), max=_each(min, box.max, high))


def _reach(room: Box) -> float:
    """How far from a feature's place a point of its room lies at most, and a little more."""
    return math.hypot(*(max(abs(low), abs(high)) + 2 * ON_FACE for low, high in zip(room.min, room.max, strict=True)))


def _own_sizes(feature: Feature) -> tuple[Vec3, Vec3]:
    """Corners of a recess' own sizes about its placement, infinite where it may go on past them: at its open sides."""
    x, y, z = feature.length, feature.width, feature.depth
    along = x / 2 if x and feature.class_ == "closed_pocket" else math.inf
    across = y / 2 if y and feature.class_ in ("slot", "closed_pocket") else math.inf
    return (-along, -across, -z if z else -math.inf), (along, across, 0.0 if z else math.inf)


def _each(choose: Callable[[float, float], float], a: Vec3, b: Vec3) -> Vec3:
    return choose(a[0], b[0]), choose(a[1], b[1]), choose(a[2], b[2])


def _in_box(box: Box, local: Vec3) -> bool:
    """In the box of the feature's faces, taken in the feature's own axes: no other point can match."""
    return all(low - ON_FACE <= c <= high + ON_FACE for low, c, high in zip(box.min, local, box.max, strict=True))
