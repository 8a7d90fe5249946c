"""What of a shared floor is a recess's own, from its placement and sizes: a slot's strip through what crosses it, a
closed pocket without the slots that lead through it (mm)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import SAME_LENGTH
from worker.field.ground import Own, bounded, within
from worker.field.plane import Disc, Everywhere, Join, Minus, Region
from worker.field.scene import UPRIGHT, Scene
from worker.part import RECESSES, Part

BOUNDING = {"slot": (0, 2), "closed_pocket": (0, 1, 2, 3)}
"""Sides at which such a recess surely ends, by class; a slot may go on past its ends."""
CORNERS = ((-1, -1), (1, -1), (1, 1), (-1, 1))


@dataclass(frozen=True)
class Share:
    """What a recess has of floors and walls that others share, or stand on.

    ``own``: its rectangle; ``crossing``: the others' faces; ``foot``: where its own walls end; ``standing``: the faces
    of its bosses; ``around``: the rectangle of one that is closed all round; ``others``: what others took of its
    rectangle, or past it: holes as deep behind its walls, what crosses it past its round ends.
    """

    own: Own | None = None
    crossing: tuple[int, ...] = ()
    foot: float | None = None
    standing: frozenset[int] = frozenset()
    around: Own | None = None
    others: Region | None = None


ALONE = Share()


def share_of(scene: Scene, part: Part, feature: Feature) -> Share:
    """What is a recess's own where it shares floors or walls."""
    standing = frozenset(face for id in feature.bosses for face in part.feature(id).faces)
    own, foot = own_of(scene, part, feature), foot_of(scene, part, feature)
    around = _rectangle(scene, feature, (0, 1, 2, 3)) if feature.open_sides == 0 else None
    others = [region for region in (_of_holes(scene, part, feature), _past_ends(feature, own)) if region is not None]
    return Share(own, crossing_of(part, feature), foot, standing, around, Join(tuple(others)) if others else None)


def _past_ends(feature: Feature, own: Own | None) -> Region | None:
    """All but a slot with two round ends that shares its floor."""
    if own is None or feature.class_ != "slot" or feature.ends != "radiused radiused":
        return None
    low, _, high, _ = ((np.array(own.corners[k]) + own.corners[(k + 1) % 4]) / 2 for k in (3, 0, 1, 2))
    radius, way = (feature.width or 0.0) / 2, (high - low) / np.linalg.norm(high - low)
    first, last, side = low + radius * way, high - radius * way, radius * np.array([-way[1], way[0]])
    middle = bounded([(float(x), float(y)) for x, y in (first - side, last - side, last + side, first + side)])
    ends = (Disc(float(x), float(y), radius) for x, y in (first, last))
    return Minus(Everywhere(), Join((middle, *ends)))


def _of_holes(scene: Scene, part: Part, feature: Feature) -> Region | None:
    """What lies behind the walls of a straight recess in the columns of holes as deep; None where there are none."""
    holes = part.widening(feature)
    whole = _rectangle(scene, feature, (0, 1, 2, 3)) if holes else None
    if whole is None:
        return None
    at = scene.view.to_setup(np.array([hole.placement.location for hole in holes]))
    sizes = [(hole.diameter or 0.0) / 2 + SAME_LENGTH for hole in holes]
    columns = Join(tuple(Disc(float(p[0]), float(p[1]), r) for p, r in zip(at, sizes, strict=True)))
    return Minus(columns, within(columns, whole, _ending(scene, feature, whole)))


def _ending(scene: Scene, feature: Feature, whole: Own) -> list[int]:
    """The sides of its rectangle at which a recess surely ends, or along which a wall of its own stands."""
    walls = [scene.part[scene.of_faces([i]) & (np.abs(scene.looks) <= UPRIGHT), :, :2] for i in feature.faces]
    corners = np.array(whole.corners)
    ways = np.roll(corners, -1, axis=0) - corners
    found = set(BOUNDING.get(feature.class_, ()))
    for side, (start, way) in enumerate(zip(corners, ways, strict=True)):
        off = [np.abs((wall - start) @ np.array([-way[1], way[0]])) / np.linalg.norm(way) for wall in walls]
        found |= {side} if any(one.size and one.max() <= SAME_LENGTH for one in off) else set()
    return sorted(found)


def crossing_of(part: Part, feature: Feature) -> tuple[int, ...]:
    """The faces of other recesses that share a floor with it."""
    shared = [face for face in feature.faces if part.shared(feature, face)]
    mates = {id for face in shared for id in part.feature_of_face(face)} - {feature.id}
    found = {face for id in mates if part.feature(id).class_ in RECESSES for face in part.feature(id).faces}
    return tuple(sorted(found - set(feature.faces)))


def foot_of(scene: Scene, part: Part, feature: Feature) -> float | None:
    """The lowest corner of the walls that a through recess has to itself; None where it shares none, or all: a floor
    that a window is level with goes on beyond it."""
    alone = [face for face in feature.faces if not part.shared(feature, face)]
    if feature.bottom != "through" or len(alone) == len(feature.faces):
        return None
    corners = scene.part[scene.of_faces(alone) & (np.abs(scene.looks) <= UPRIGHT), :, 2]
    return float(corners.min()) if corners.size else None


def own_of(scene: Scene, part: Part, feature: Feature) -> Own | None:
    """Its rectangle in the setup's x, y; None where it has all of its floors to itself, is round or open at its sides,
    or is seen from elsewhere than its mouth."""
    seen = np.unique(scene.owner[(scene.looks > UPRIGHT) & scene.of(feature)]).tolist()
    return _rectangle(scene, feature) if any(part.shared(feature, face) for face in seen) else None


def _rectangle(scene: Scene, feature: Feature, sides: tuple[int, ...] | None = None) -> Own | None:
    """The rectangle of length and width, bounded at those ``sides`` or at the ones at which its class surely ends."""
    straight = feature.class_ in (RECESSES if sides else BOUNDING) and feature.course_of_travel in (None, "linear")
    if not (straight and feature.length and feature.width):
        return None
    place = feature.placement
    middle, x, y, z = (np.array(v) for v in (place.location, place.x, place.y, place.z))
    way_out = scene.view.to_setup(np.stack((middle, middle + z)))
    if way_out[1, 2] - way_out[0, 2] < 1 - UPRIGHT**2:
        return None
    world = [middle + a * feature.length / 2 * x + b * feature.width / 2 * y for a, b in CORNERS]
    corners = tuple((float(u), float(v)) for u, v, _ in scene.view.to_setup(np.array(world)))
    closed = (0, 1, 2, 3) if feature.open_sides == 0 else BOUNDING.get(feature.class_, ())
    return Own(corners, sides or closed)
