"""What of a floor that several recesses share belongs to one of them: a slot's own strip, through what crosses it, a
closed pocket without the slots that lead through it."""

from __future__ import annotations

import math

from schemas.base import Frame, Vec3, add, dot
from schemas.feature import Feature
from schemas.tolerances import ANGLE
from worker.kernel.planar import Region, components, disc, intersect, overlap, polygon, union
from worker.kernel.planar_edge import Point2


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
