"""What of a shared floor is a recess's own, from its placement and sizes: a slot's strip through what crosses it, a
closed pocket without the slots that lead through it (mm)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from schemas.feature import Feature
from worker.field.bays import Holes, bays
from worker.field.bent_slots import bent_slot
from worker.field.ground import Own, borders, bounded
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
    rectangle, or past it: holes as deep behind its walls, what crosses it past its round ends; ``holes``: those;
    ``ring``: all of a slot without a floor that runs in a circle with walls all round, though something wider may have
    taken an end of it.
    """

    own: Own | None = None
    crossing: tuple[int, ...] = ()
    foot: float | None = None
    standing: frozenset[int] = frozenset()
    around: Own | None = None
    others: Region | None = None
    holes: Holes | None = None
    ring: Region | None = None


ALONE = Share()


def share_of(scene: Scene, part: Part, feature: Feature) -> Share:
    """What is a recess's own where it shares floors or walls."""
    standing = frozenset(face for id in feature.bosses for face in part.feature(id).faces)
    own, foot = own_of(scene, part, feature), foot_of(scene, part, feature)
    around = _rectangle(scene, feature, (0, 1, 2, 3)) if feature.open_sides == 0 else None
    holes = _holes_of(scene, part, feature)
    beside = _past_ends(feature, own) or _off_ring(scene, part, feature)
    found = (_behind_walls(scene, feature, holes), beside)
    others = tuple(region for region in found if region is not None)
    ring = None if len(scene.up_of(feature.faces)) or feature.open_sides else _ring(scene, feature)
    return Share(own, crossing_of(part, feature), foot, standing, around, Join(others) if others else None, holes, ring)


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


def _off_ring(scene: Scene, part: Part, feature: Feature) -> Region | None:
    """All but a slot that runs in a circle, where it shares its floor or something deeper took some of its walls."""
    mine = _shares(scene, part, feature) or (feature.open_sides == 0 and _is_open(scene, feature))
    own = _ring(scene, feature) if mine else None
    return None if own is None else Minus(Everywhere(), own)


def _ring(scene: Scene, feature: Feature) -> Region | None:
    """A slot that runs in a circle, by its own walls."""
    if feature.class_ != "slot" or feature.course_of_travel != "circular":
        return None
    upright = scene.of(feature) & (np.abs(scene.looks) <= UPRIGHT)
    return bent_slot(feature, scene.part[upright], scene.owner[upright])


def _holes_of(scene: Scene, part: Part, feature: Feature) -> Holes | None:
    """The holes level with a recess's floor; None where there are none."""
    holes = part.level_with(feature)
    if not holes:
        return None
    at = scene.view.to_setup(np.array([hole.placement.location for hole in holes]))[:, :2]
    radii = np.array([(hole.diameter or 0.0) / 2 for hole in holes])
    return Holes(np.column_stack((at, radii)), scene.chords.circles, feature.class_ == "slot")


def _behind_walls(scene: Scene, feature: Feature, holes: Holes | None) -> Region | None:
    """What those holes took behind the walls of a recess."""
    if holes is None:
        return None
    floors = scene.up_of(feature.faces)
    sides = borders(floors, scene.shadow) if len(floors) else ()
    found = [region for border in sides if (region := bays(border, holes)) is not None]
    return Join(tuple(found)) if found else None


def _is_open(scene: Scene, feature: Feature) -> bool:
    """Whether no wall stands somewhere along the borders of a recess's floors."""
    floors = scene.up_of(feature.faces)
    return any(not walled.all() for _, walled in (borders(floors, scene.shadow) if len(floors) else ()))


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
    return _rectangle(scene, feature) if _shares(scene, part, feature) else None


def _shares(scene: Scene, part: Part, feature: Feature) -> bool:
    """Whether another recess has a floor of it as well."""
    seen = np.unique(scene.owner[(scene.looks > UPRIGHT) & scene.of(feature)]).tolist()
    return any(part.shared(feature, face) for face in seen)


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
