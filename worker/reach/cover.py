"""What stands over what a step should cut: exact shadows of workholding and stock on the feature's own faces (mm)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cached_property

from schemas.base import Box, Vec3, dot
from schemas.feature import HOLES, Feature
from schemas.tolerances import LENGTH, SQUARE, VOLUME_NOTHING
from worker.kernel import measure
from worker.kernel.nearness import box_of_faces, rough_box_of_faces
from worker.kernel.planar import Region, components, contains, disc, intersect
from worker.kernel.planar_edge import Edge, Point2, point_at, tangent_at
from worker.kernel.shadow import Skyline
from worker.kernel.shape import Body, is_empty
from worker.part import Part
from worker.reach.model import Cover
from worker.stage.model import Cut, HoldingBody, Stage
from worker.stage.removal.crowns import is_crown, lowest, open_faces
from worker.stage.removal.undercuts import undercuts

ASIDE = 0.05
"""How far beside an upright wall (mm) its cutter's flank is looked for."""
INTO_HOLES = frozenset({"tapping", "reaming", "boring"})
"""Operations whose tools follow a hole and cut no solid metal at their tip."""
LOOKS = 8
"""Heights over a hole at which stock is looked for."""
STOCK = "stock"


class Covers:
    """The workholding of one setup over the features of one part; nothing exact is built before it is needed."""

    def __init__(self, stage: Stage, part: Part) -> None:
        self._stage, self._part = stage, part
        self._skylines: dict[str, Skyline] = {}
        self._boxes: dict[str, Box] = {}
        self._rough: dict[str, Box] = {}
        self._swept_boxes: dict[Body, Box] = {}

    @cached_property
    def _bodies(self) -> tuple[tuple[HoldingBody, Box], ...]:
        return tuple((b, measure.bounding_box(b.body, self._stage.frame)) for b in self._stage.holding.bodies)

    @cached_property
    def _seen(self) -> Skyline:
        return Skyline(self._part.body, self._stage.frame)

    def of(self, cut: Cut) -> tuple[Cover, ...]:
        """One entry a feature that something stands over, in the step's order. Over an undercut the part itself stands:
        what keeps its cutter out is asked over the cutter's own positions."""
        seen = [f for f in cut.features if f.faces and not undercuts(self._stage.frame, cut.tool, f)]
        lowest = -math.inf if cut.step.bottom_z is None else cut.step.bottom_z
        found = (self._over(self._open(feature), lowest) for feature in seen)
        return (*(cover for cover in found if cover is not None), *self._closed(cut))

    def _open(self, feature: Feature) -> Feature:
        """Of a contour that lies across, or a boss, what looks up alone: its other faces are no step's from here."""
        if not is_crown(self._seen, feature):
            return feature
        return feature.model_copy(update={"faces": tuple(open_faces(self._seen, feature))})

    def _closed(self, cut: Cut) -> Iterator[Cover]:
        """Holes over which stock stands on the axis of a tool that cannot cut into the full, though they are there."""
        if cut.step.operation not in INTO_HOLES:
            return
        for plunge in cut.plunges:
            x, y, z = self._stage.frame.to_local(plunge.centre)
            half_way = self._stage.frame.to_world((x, y, (z + plunge.tip_z) / 2))
            if not self._stands_at(cut, half_way) and self._stands_over(cut, (x, y, z)):
                yield Cover(plunge.feature, STOCK, plunge.centre)

    def _earlier(self, cut: Cut) -> list[Body]:
        """What the steps before it swept."""
        number = next(i for i, other in enumerate(self._stage.cuts) if other is cut)
        return [other.swept for other in self._stage.cuts[:number] if not is_empty(other.removal)]

    def _stands_at(self, cut: Cut, point: Vec3) -> bool:
        """Whether a step finds metal at a point."""
        for swept in self._earlier(cut):
            box = self._swept_boxes.setdefault(swept, measure.bounding_box(swept))
            if _holds(box, point) and measure.contains(swept, point) != "out":
                return False
        return measure.contains(self._stage.as_is, point) != "out"

    def _stands_over(self, cut: Cut, entry: Vec3) -> bool:
        """Whether a step finds metal on its axis above the height at which the hole begins."""
        x, y, z = entry
        top = measure.bounding_box(self._stage.as_is, self._stage.frame).max[2]
        heights = [z + (top - z) * k / LOOKS for k in range(LOOKS)] if top > z + LENGTH else []
        low = 2 * LENGTH
        return any(self._stands_at(cut, self._stage.frame.to_world((x, y, height + low))) for height in heights)

    def _over(self, feature: Feature, lowest: float) -> Cover | None:
        """What stands below ``lowest``, where the step's plan has the tip stay, covers nothing that it is to cut."""
        if not any(self._may_stand(box, feature, lowest) for _, box in self._bodies):
            return None
        room = self._room(feature)
        for held, box in self._bodies:
            if box.max[2] > max(room.min[2], lowest) + LENGTH and _overlap(box, room):
                place = self._covered(feature, held, room, lowest)
                if place is not None:
                    return Cover(feature.id, held.name, self._stage.frame.to_world(place))
        return None

    def _may_stand(self, held: Box, feature: Feature, lowest: float) -> bool:
        """The same question as of the feature's own box, of one that may be too wide: most bodies stand aside."""
        if feature.id not in self._rough:
            self._rough[feature.id] = rough_box_of_faces(self._part.body, feature.faces, self._stage.frame)
        rough = self._rough[feature.id]
        return held.max[2] > max(rough.min[2], lowest) + LENGTH and _overlap(held, rough)

    def _room(self, feature: Feature) -> Box:
        if feature.id not in self._boxes:
            self._boxes[feature.id] = box_of_faces(self._part.body, feature.faces, self._stage.frame)
        return self._boxes[feature.id]

    def _covered(
        self, feature: Feature, held: HoldingBody, room: Box, lowest: float
    ) -> tuple[float, float, float] | None:
        """A covered point of the feature in the setup's frame."""
        above = self._skylines.setdefault(held.name, Skyline(held.body, self._stage.frame))
        for region, z in self._faces(feature, room):
            common = intersect(region, above.above(max(z, lowest) + LENGTH))
            if common and common.area > VOLUME_NOTHING:
                x, y = inner_point(common)
                return (x, y, z)
        for (x, y), z in self._flanks(feature):
            over = above.above(max(z, lowest) + LENGTH)
            if contains(over, (x, y)) and not contains(self._seen.above(z + LENGTH), (x, y)):
                return (x, y, z)
        return None

    def _faces(self, feature: Feature, room: Box) -> Iterator[tuple[Region, float]]:
        """What a tool from above must see of the feature, and the height above which it must be free."""
        if feature.class_ in HOLES and feature.diameter:
            x, y, _ = self._stage.frame.to_local(feature.placement.location)
            yield disc((x, y), feature.diameter / 2), room.min[2]
        for index in feature.faces:
            region = self._seen.region(index)
            if region:
                yield region, lowest(self._seen, index)

    def _flanks(self, feature: Feature) -> Iterator[tuple[Point2, float]]:
        """Points on both sides of each upright wall; what stands on the part's side covers nothing of it."""
        foot = self._foot(feature)
        for index in feature.faces:
            shown = self._seen.shown[index]
            if shown.look == "upright" and feature.class_ not in HOLES:
                for edge in self._seen.border(index):
                    yield from ((p, max(shown.low, foot)) for p in _beside(edge))

    def _foot(self, feature: Feature) -> float:
        """Height down to which walls are the feature's: those that it shares go on below it."""
        if feature.depth is None or dot(feature.placement.axis, self._stage.frame.z) < 1 - SQUARE:
            return -math.inf
        return self._stage.frame.to_local(feature.placement.location)[2] - feature.depth


def _beside(edge: Edge) -> Iterator[Point2]:
    for t in (0.02, 0.25, 0.5, 0.75, 0.98):
        (x, y), (dx, dy) = point_at(edge, t), tangent_at(edge, t)
        for side in (ASIDE, -ASIDE):
            yield (x - side * dy, y + side * dx)


def inner_point(region: Region) -> Point2:
    """A point strictly inside the largest piece: the middle of a chord square to its longest edge."""
    piece = max(components(region), key=lambda r: r.area)
    edge = max(piece.edges, key=lambda e: abs(e.b[0] - e.a[0]) + abs(e.b[1] - e.a[1]))
    (x, y), (dx, dy) = point_at(edge, 0.5), tangent_at(edge, 0.5)
    for reach in (2.0, 0.5, 0.1, 0.01):
        inner = (x - reach * dy, y + reach * dx)
        if contains(piece, inner):
            return inner
    return (x, y)


def _holds(box: Box, point: Vec3) -> bool:
    return all(a - LENGTH <= c <= b + LENGTH for a, c, b in zip(box.min, point, box.max, strict=True))


def _overlap(a: Box, b: Box) -> bool:
    """True when two boxes overlap in x and y by more than a touch, or one edge-on box lies in the other."""
    return all(a.min[k] < b.max[k] + ASIDE and b.min[k] < a.max[k] + ASIDE for k in (0, 1))
