"""Where a feature is: does a point of the part's frame lie on or in it?"""

from __future__ import annotations

from schemas.base import Box, Vec3
from schemas.feature import Feature
from worker.kernel import nearness
from worker.kernel.probe import Inside
from worker.kernel.shape import Body, to_pnt
from worker.resolve import OnFeature

ON_FACE = 0.01
"""A selector's point lies on a face within this distance (mm): plans are written with two or three decimals."""

ENCLOSING = frozenset(
    {"closed_pocket", "open_pocket", "slot", "step", "round_hole", "counterbore_hole", "countersunk_hole"}
)
"""Classes whose faces enclose a space; a point on an outside, a chamfer or an edge round lies on its faces only."""


def on_feature_of(part: Body) -> OnFeature:
    """The test for features of this part: on one of the feature's faces, or in the space that its faces enclose."""
    boxes: dict[str, Box] = {}
    in_metal = Inside(part)

    def on_feature(feature: Feature, point: Vec3) -> bool:
        if feature.id not in boxes:
            boxes[feature.id] = nearness.box_of_faces(part, feature.faces, feature.placement)
        if not _in_box(boxes[feature.id], feature.placement.to_local(point)):
            return False
        if nearness.distance_to_faces(part, feature.faces, point) <= ON_FACE:
            return True
        return feature.class_ in ENCLOSING and in_metal(to_pnt(point)) is not True

    return on_feature


def _in_box(box: Box, local: Vec3) -> bool:
    """In the box of the feature's faces, taken in the feature's own axes: no other point can match."""
    return all(low - ON_FACE <= c <= high + ON_FACE for low, c, high in zip(box.min, local, box.max, strict=True))
