"""What of a floor that several recesses share belongs to one of them: a slot's own strip, through what crosses it, a
closed pocket without the slots that lead through it, and all of them without what holes as deep take of their walls."""

from __future__ import annotations

import math
from collections.abc import Iterator

from schemas.base import Frame, Vec3, add, dot, scale
from schemas.feature import Feature
from schemas.tolerances import ANGLE, SAME_LENGTH
from worker.kernel.planar import Region, components, disc, half_plane, intersect, overlap, polygon, union
from worker.kernel.planar_edge import Point2
from worker.stage.removal.scene import Scene

BOUNDING = {"slot": 2, "closed_pocket": 4}
"""How many sides of its rectangle, its long ones first, such a recess surely ends at."""


def own_plan(frame: Frame, feature: Feature) -> Region | None:
    """The rectangle of its length and width in the setup's x, y, without its corners where both ends are round; None
    where that says nothing: of round slots and recesses with open sides, or seen from another side than the mouth."""
    linear = feature.class_ in ("slot", "closed_pocket") and feature.course_of_travel in (None, "linear")
    if not (linear and _is_seen(frame, feature) and feature.length and feature.width):
        return None
    radius = feature.width / 2
    if feature.class_ != "slot" or feature.ends != "radiused radiused":
        return _about(frame, feature, feature.length / 2, radius)
    straight, place = feature.length / 2 - radius, feature.placement
    ends = [disc(_flat(frame, add(place.location, place.x, off)), radius) for off in (straight, -straight)]
    return union([_about(frame, feature, straight, radius), *ends])


def clipped(frame: Frame, feature: Feature, own: Region, whole: Region) -> Region:
    """What of a region is the feature's: of a slot that is open somewhere all between the lines of its walls, also past
    its ends, as far as it hangs together with its own rectangle."""
    if feature.class_ != "slot" or feature.open_sides == 0:
        return intersect(whole, own)
    x0, y0, x1, y1 = whole.bounds
    far = 2.0 * (x1 - x0 + y1 - y0) + (feature.length or 0.0)
    strip = intersect(whole, _about(frame, feature, far, (feature.width or 0.0) / 2))
    return union(piece for piece in components(strip) if overlap(piece, own))


def own_foot(frame: Frame, feature: Feature, low: float) -> float:
    """The lowest height of a through recess whose walls go down to ``low``: as deep as it is itself, where it is seen
    along its axis. A pocket's floor that it is level with goes on beyond it."""
    along = dot(feature.placement.z, frame.z)
    if feature.bottom != "through" or not feature.depth or abs(along) < math.cos(math.radians(ANGLE)):
        return low
    mouth = frame.to_local(feature.placement.location)[2]
    return max(low, mouth - feature.depth if along > 0 else mouth)


def of_holes(scene: Scene, feature: Feature) -> list[Region]:
    """Of each hole as deep as the feature what lies behind the feature's walls: the hole's own step takes that."""
    holes = scene.part.widening(feature)
    if not holes or not _is_seen(scene.frame, feature):
        return []
    sizes = [(hole.diameter or 0.0) / 2 + SAME_LENGTH for hole in holes]
    discs = [disc(_flat(scene.frame, h.placement.location), size) for h, size in zip(holes, sizes, strict=True)]
    behind = union(_behind_walls(scene, feature, 4 * max(sizes)))
    return [found for one in discs if (found := intersect(one, behind))]


def _behind_walls(scene: Scene, feature: Feature, more: float) -> Iterator[Region]:
    """The half planes past those sides of its rectangle at which it surely ends, or along which a wall of its own
    stands, going on so much past its corners."""
    place, x, y = feature.placement, (feature.length or 0.0) / 2, (feature.width or 0.0) / 2
    walls = [i for i in feature.faces if scene.sky.shown[i].look == "upright"]
    for k, (way, off) in enumerate([(place.y, y), (place.y, -y), (place.x, x), (place.x, -x)]):
        point = _flat(scene.frame, add(place.location, way, off))
        outward = scene.frame.direction_to_local(scale(way, math.copysign(1.0, off)))[:2]
        if k < BOUNDING.get(feature.class_, 0) or any(_stands_along(scene, i, point, outward) for i in walls):
            yield half_plane(point, outward, x + y + more)


def _stands_along(scene: Scene, wall: int, point: Point2, out: Point2) -> bool:
    """Whether an upright wall stands on the line through a point that runs square to ``out``."""
    ends = [edge.a for edge in scene.sky.border(wall)]
    return all(abs((x - point[0]) * out[0] + (y - point[1]) * out[1]) <= SAME_LENGTH for x, y in ends)


def _about(frame: Frame, feature: Feature, along: float, across: float) -> Region:
    """A rectangle about the feature's middle, given by half its sides."""
    place = feature.placement
    corners = [(along, across), (-along, across), (-along, -across), (along, -across)]
    return polygon([_flat(frame, add(add(place.location, place.x, a), place.y, b)) for a, b in corners])


def _is_seen(frame: Frame, feature: Feature) -> bool:
    """Whether the spindle looks into the feature's mouth."""
    return dot(feature.placement.z, frame.z) > math.cos(math.radians(ANGLE))


def _flat(frame: Frame, point: Vec3) -> Point2:
    x, y, _ = frame.to_local(point)
    return x, y
