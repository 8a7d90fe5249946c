"""How low features reach that are open below: past the chamfers and rounds on their far edges (setup's frame, mm)."""

from __future__ import annotations

import numpy as np

from schemas.base import add
from schemas.feature import Feature
from schemas.tolerances import LENGTH
from worker.field.scene import Scene
from worker.part import Part


def runs_along(scene: Scene, feature: Feature) -> bool:
    """True when its own axis is the spindle's."""
    return abs(feature.placement.z[scene.view.axes[2]]) > 1 - 1e-6


def open_ends(scene: Scene, feature: Feature) -> list[float]:
    """Heights of the ends that a feature along the spindle opens at, as recognised: past what breaks their edges."""
    place, long = feature.placement, feature.depth or 0.0
    outside, first, last = (
        scene.view.to_setup(np.array(add(place.location, place.z, d)))[2] for d in (1.0, 0.0, -long)
    )
    if not runs_along(scene, feature):
        return []
    if feature.bottom == "through" or feature.class_ == "profile_feature":
        return [float(first), float(last)]
    return [float(first)] if outside > first else []


def foot(scene: Scene, feature: Feature) -> float:
    """The lowest height of its faces, or of the face that it comes out of."""
    return min([_lowest(scene, feature), *open_ends(scene, feature)])


def foot_of_side(scene: Scene, part: Part, side: Feature) -> float:
    """The same of one side of the part: where it ends with an outline that it is part of, it goes as low as that."""
    low = _lowest(scene, side)
    outlines = [f for f in part.features if f.class_ == "profile_feature" and set(side.faces) <= set(f.faces)]
    return min([low, *(foot(scene, f) for f in outlines if abs(_lowest(scene, f) - low) <= LENGTH)])


def _lowest(scene: Scene, feature: Feature) -> float:
    return float(scene.part[scene.of(feature)][:, :, 2].min())
