"""The part as the rest of the worker sees it: its solid, its features, its size."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from schemas.base import Box
from schemas.feature import Feature
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
