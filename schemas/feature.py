"""Manufacturing features (ISO 14649-10) as the recogniser reports them; lengths in mm, angles in degrees."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from schemas.base import Frame, Model, Vec3
from schemas.tolerances import LENGTH

FeatureClass = Literal[
    "planar_face",
    "closed_pocket",
    "open_pocket",
    "slot",
    "step",
    "profile_feature",
    "round_hole",
    "counterbore_hole",
    "countersunk_hole",
    "boss",
    "chamfer",
    "edge_round",
    "region",
]
Bottom = Literal["through", "flat", "conical", "spherical", "flat_with_radius", "planar", "radiused", "general"]

HOLES: frozenset[str] = frozenset({"round_hole", "counterbore_hole", "countersunk_hole"})
"""Classes of holes, whole ones and compounds."""


class Feature(Model):
    """One manufacturing feature of the part.

    ``faces`` are indices of the part's faces in kernel order (from 0). ``placement`` has its +Z out of the
    material, towards the side a straight tool comes from, and its origin on the entry plane at the feature's
    axis or centre. ``access`` holds unit directions that point from the feature to the spindle. ``depth`` of a
    blind hole is the length of its cylindrical part (ISO 14649-10); the point of a conical bottom is extra. That of a
    through hole, window or outline runs from face to face of the part, past what breaks its edges.
    """

    id: str
    class_: FeatureClass = Field(alias="class")
    faces: tuple[int, ...]
    placement: Frame
    access: tuple[Vec3, ...] = ()
    diameter: float | None = None
    depth: float | None = None
    length: float | None = None
    width: float | None = None
    height: float | None = None
    angle: float | None = Field(default=None, description="included angle of a countersink, angle of a chamfer")
    tip_angle: float | None = Field(default=None, description="included angle of a conical bottom")
    bottom: Bottom | None = None
    orthogonal_radius: float | None = Field(default=None, description="smallest vertical corner radius of the walls")
    planar_radius: float | None = Field(default=None, description="fillet between walls and floor")
    slope: float | None = Field(default=None, description="wall angle against the placement's +Z")
    radius: float | None = Field(default=None, description="radius of an edge round")
    top_diameter: float | None = Field(default=None, description="larger diameter of a countersink or taper")
    open_sides: int | None = None
    ends: str | None = Field(default=None, description="slot ends: open, flat, radiused; one word per end")
    course_of_travel: Literal["linear", "circular", "general"] | None = Field(
        default=None,
        description="of a slot; the middle of a circular one runs on ``diameter``, of a general one round any outline, "
        "``length`` long",
    )
    elements: tuple[str, ...] = Field(default=(), description="ids of a compound's holes, largest first")
    parent: str | None = Field(default=None, description="the recess an island boss stands in; a hole's compound")
    bosses: tuple[str, ...] = ()
    thread: str | None = None
    pattern: str | None = None
    undercut: str | None = Field(default=None, description="why no straight tool reaches it, where none does")


def is_pit(feature: Feature) -> bool:
    """True for a hole that is nothing but the cone of a pointed tool: its cylindrical part has no length."""
    return feature.class_ == "round_hole" and feature.bottom == "conical" and (feature.depth or 0.0) <= LENGTH
