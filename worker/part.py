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

    def widened(self, slot: Feature) -> bool:
        """Whether a round recess as deep as a slot reaches past its walls, as a counterbore's head in it does: the
        floor is both's, and the slot's cutter leaves what lies beside the slot."""
        return slot.class_ == "slot" and any(_widens(hole, slot) for hole in self.features if hole.class_ in HOLES)

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


def _widens(hole: Feature, slot: Feature) -> bool:
    """A hole with its middle in the slot, that ends level with its floor and is wider."""
    end, floor, way = _floor(hole), _floor(slot), slot.placement.z
    if end is None or floor is None or not (hole.diameter and slot.length and slot.width):
        return False
    off = sub(hole.placement.location, slot.placement.location)
    along, across = abs(dot(off, slot.placement.x)), abs(dot(off, slot.placement.y))
    level = abs(dot(sub(end, floor), way)) <= LENGTH and norm(cross(hole.placement.z, way)) <= SQUARE
    return level and along <= slot.length / 2 and across < slot.width / 2 < across + hole.diameter / 2 - LENGTH


def _floor(feature: Feature) -> Vec3 | None:
    return None if feature.depth is None else add(feature.placement.location, feature.placement.z, -feature.depth)
