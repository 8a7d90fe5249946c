"""What of a floor that several recesses share belongs to one of them: a slot's own strip, through what crosses it, a
closed pocket without the slots that lead through it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from schemas.base import Frame, Vec3, add, dot
from schemas.feature import Feature
from schemas.tolerances import ON_AXIS, SAME_ANGLE, SAME_LENGTH
from worker.kernel.planar import Region, components, disc, inside_of, intersect, overlap, polygon, subtract, union
from worker.kernel.planar_edge import Edge, Point2, angle_of, arcs, distance, line, point_at
from worker.stage.removal.scene import ALONG, Scene


def own_plan(scene: Scene, feature: Feature) -> Region | None:
    """The rectangle of its length and width in the setup's x, y, without its corners where both ends are round, or the
    piece of a ring that it is; None where that says nothing: of recesses with open sides, or seen from another side
    than the mouth."""
    frame = scene.frame
    if feature.class_ not in ("slot", "closed_pocket") or not (_is_seen(frame, feature) and feature.width):
        return None
    if feature.course_of_travel == "circular":
        return _ring(scene, feature, feature.width)
    if feature.course_of_travel not in (None, "linear") or not feature.length:
        return None
    radius = feature.width / 2
    if feature.class_ != "slot" or feature.ends != "radiused radiused":
        return _about(frame, feature, feature.length / 2, radius)
    straight, place = feature.length / 2 - radius, feature.placement
    ends = [disc(_flat(frame, add(place.location, place.x, off)), radius) for off in (straight, -straight)]
    return union([_about(frame, feature, straight, radius), *ends])


def _ring(scene: Scene, feature: Feature, width: float) -> Region | None:
    """The plan of a slot that runs in a circle, up to its round ends; where others end it as far as its walls go and
    on as far as it is wide. None without an outer wall."""
    middle = (feature.diameter or 0.0) / 2
    near, far = middle - width / 2, middle + width / 2
    walls = [i for i in feature.faces if scene.sky.shown[i].look == "upright"]
    edges = [edge for i in walls for edge in scene.sky.border(i) if edge.centre]
    centre = next((edge.centre for edge in edges if abs(edge.radius - far) < SAME_LENGTH), None)
    if centre is None or feature.ends == "loop":
        return subtract(disc(centre, far), [disc(centre, near)]) if centre else None
    sides = [e for e in edges if e.centre and distance(e.centre, centre) < ON_AXIS and e.radius > near - SAME_LENGTH]
    round_ = [e.centre for e in edges if e.centre and abs(distance(e.centre, centre) - middle) < ON_AXIS]
    ends = [p for k, p in enumerate(round_) if all(distance(p, other) > ON_AXIS for other in round_[:k])]
    turns = _turned(centre, ends, sides) if len(ends) == 2 else _covered(centre, sides)
    start, sweep = _past_open(turns, [angle_of(centre, end) for end in ends], width / middle)
    onward, back = arcs(centre, far, start, sweep), arcs(centre, near, start + sweep, -sweep)
    between = inside_of([*onward, line(onward[-1].b, back[0].a), *back, line(back[-1].b, onward[0].a)])
    return union([between, *(disc(end, width / 2) for end in ends)])


def _turned(centre: Point2, ends: Sequence[Point2], sides: Sequence[Edge]) -> tuple[float, float]:
    """Angle of one end and the turn to the other (rad), on the way on which walls stand."""
    start, stop, through = (angle_of(centre, p) for p in (*ends, point_at(sides[0], 0.5)))
    sweep = (stop - start) % math.tau
    return (start, sweep) if (through - start) % math.tau < sweep else (stop, math.tau - sweep)


def _covered(centre: Point2, sides: Sequence[Edge]) -> tuple[float, float]:
    """Where walls about a centre begin, and how far they go round (rad), but for the widest gap between them."""
    spans = sorted((angle_of(centre, (e.a, e.b)[e.sweep < 0]) % math.tau, abs(e.sweep)) for e in sides)
    reached, gaps = spans[0][0], list[tuple[float, float]]()
    for begin, sweep in [*spans, (spans[0][0] + math.tau, 0.0)]:
        gaps.append((begin - reached, begin))
        reached = max(reached, begin + sweep)
    gap, begin = max(gaps)
    return begin, math.tau - gap


def _past_open(turns: tuple[float, float], closed: Sequence[float], more: float) -> tuple[float, float]:
    """A turn with so much more (rad) at each of its ends that is none of some angles."""
    start, sweep = turns
    shut = [
        any(abs(math.remainder(at - end, math.tau)) < SAME_ANGLE for end in closed) for at in (start, start + sweep)
    ]
    before, after = (0.0 if one else min(more, (math.tau - sweep) / 3) for one in shut)
    return start - before, sweep + before + after


def clipped(frame: Frame, feature: Feature, own: Region, whole: Region) -> Region:
    """What of a region is the feature's: of a slot that is open somewhere all between the lines of its walls, also past
    its ends, as far as it hangs together with its own rectangle."""
    if feature.class_ != "slot" or feature.open_sides == 0 or feature.course_of_travel == "circular":
        return intersect(whole, own)
    x0, y0, x1, y1 = whole.bounds
    far = 2.0 * (x1 - x0 + y1 - y0) + (feature.length or 0.0)
    strip = intersect(whole, _about(frame, feature, far, (feature.width or 0.0) / 2))
    return union(piece for piece in components(strip) if overlap(piece, own))


def _about(frame: Frame, feature: Feature, along: float, across: float) -> Region:
    """A rectangle about the feature's middle, given by half its sides."""
    place = feature.placement
    corners = [(along, across), (-along, across), (-along, -across), (along, -across)]
    return polygon([_flat(frame, add(add(place.location, place.x, a), place.y, b)) for a, b in corners])


def _is_seen(frame: Frame, feature: Feature) -> bool:
    """Whether the spindle looks into the feature's mouth."""
    return dot(feature.placement.z, frame.z) > ALONG


def _flat(frame: Frame, point: Vec3) -> Point2:
    x, y, _ = frame.to_local(point)
    return x, y
