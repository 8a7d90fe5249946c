"""The part as the rest of the worker sees it: its solid, its features, its size."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from schemas.base import Box, Vec3, add, cross, dot, norm, sub
from schemas.feature import HOLES, Feature
from schemas.tolerances import LENGTH, SQUARE
from worker.kernel.shape import Body

RECESSES = frozenset({"closed_pocket", "open_pocket", "slot", "step"})
"""Classes with a floor or walls that a cutter goes into."""


@dataclass(frozen=True)
class Part:
    """The finished part, in its own frame. Volume in mm3, box in mm."""

    body: Body
    features: tuple[Feature, ...]
    face_count: int
    box: Box
    volume: float
    sha256: str

    def feature(self, id: str) -> Feature:
        """The feature of that id; raises KeyError."""
        return self._by_id[id]

    def feature_of_face(self, face: int) -> tuple[str, ...]:
        """Ids of the features that own the face, in the part's order."""
        return self._by_face.get(face, ())

    def shared(self, feature: Feature, face: int) -> bool:
        """Whether another recess lists the face as well, as slots that cross at one depth list their floor."""
        mates = (self.feature(id) for id in self.feature_of_face(face) if id != feature.id)
        return any(mate.class_ in RECESSES for mate in mates)

    def level_with(self, recess: Feature) -> tuple[Feature, ...]:
        """The holes that end level with a recess's floor and lie in it or break into it, as a counterbore's head in a
        step's edge does: the recess's cutter leaves what of them lies behind its walls."""
        return tuple(f for f in self.features if f.class_ in HOLES and _meets(f, recess))

    @cached_property
    def _by_id(self) -> dict[str, Feature]:
        return {feature.id: feature for feature in self.features}

    @cached_property
    def _by_face(self) -> dict[int, tuple[str, ...]]:
        found: dict[int, tuple[str, ...]] = {}
        for feature in self.features:
            for face in feature.faces:
                found[face] = (*found.get(face, ()), feature.id)
        return found


def _meets(hole: Feature, recess: Feature) -> bool:
    """A hole that ends level with a recess's floor, and lies in its rectangle at least in part, where it has one."""
    end, floor, place = _floor(hole), _floor(recess), recess.placement
    if end is None or floor is None or not hole.diameter or recess.class_ not in RECESSES:
        return False
    if abs(dot(sub(end, floor), place.z)) > LENGTH or norm(cross(hole.placement.z, place.z)) > SQUARE:
        return False
    off, radius = sub(hole.placement.location, place.location), hole.diameter / 2
    sizes = [(place.x, recess.length), (place.y, recess.width)]
    return all(abs(dot(off, way)) < size / 2 + radius - LENGTH for way, size in sizes if size)


def _floor(feature: Feature) -> Vec3 | None:
    return None if feature.depth is None else add(feature.placement.location, feature.placement.z, -feature.depth)
