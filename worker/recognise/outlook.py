"""Whether features are seen from given directions: for setups whose axis is none of those that recognition tried."""

from __future__ import annotations

from collections.abc import Mapping

from schemas.base import Vec3
from schemas.feature import Feature
from worker.kernel.graph import face_graph
from worker.kernel.shape import Body
from worker.recognise.access import Sight
from worker.recognise.outside import outer_planes
from worker.recognise.patches import part_shape


def seen_too(body: Body, features: tuple[Feature, ...], asked: Mapping[str, tuple[Vec3, ...]]) -> tuple[Feature, ...]:
    """The features of a part, those in ``asked`` (by id) with those directions that a straight tool sees them from.

    Directions are unit vectors from the feature to the spindle. Exact for planes and cylinders, on triangles elsewhere.
    """
    shape = part_shape(face_graph(body))
    sight = Sight(shape, outer=outer_planes(shape))

    def of(feature: Feature) -> Feature:
        patches = tuple(sorted({shape.of_face[face] for face in feature.faces}))
        found = tuple(d for d in asked.get(feature.id, ()) if sight.sees(patches, d))
        if not found:
            return feature
        return feature.model_copy(update={"access": (*feature.access, *found), "undercut": None})

    return tuple(of(feature) for feature in features)
