"""The part as the rest of the worker sees it: its solid, its features, its size."""

from __future__ import annotations

from dataclasses import dataclass

from schemas.base import Box
from schemas.feature import Feature
from worker.kernel.shape import Body


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
        for feature in self.features:
            if feature.id == id:
                return feature
        raise KeyError(id)

    def feature_of_face(self, face: int) -> tuple[str, ...]:
        """Ids of the features that own the face, in the part's order."""
        return tuple(f.id for f in self.features if face in f.faces)
