"""Heights of features and of tools' tips in a setup: shared by the rules on depth."""

from __future__ import annotations

from schemas.base import Vec3
from schemas.feature import Feature
from worker.stage.model import Cut, Stage


def first_place(cut: Cut) -> Vec3 | None:
    """Where the first feature of a step lies (part's frame), for what concerns all of the step; None without one."""
    return cut.features[0].placement.location if cut.features else None


def bottom_of(stage: Stage, feature: Feature) -> float:
    """The lowest height of the feature as modelled, in the setup's frame (mm)."""
    return min(_ends(stage, feature))


def top_of(stage: Stage, feature: Feature) -> float:
    """The height of the feature's entry as modelled, in the setup's frame (mm)."""
    return max(_ends(stage, feature))


def _ends(stage: Stage, feature: Feature) -> tuple[float, float]:
    place = feature.placement
    entry = stage.frame.to_local(place.location)[2]
    if feature.depth is None:
        return (entry, entry)
    return (entry, stage.frame.to_local(place.to_world((0.0, 0.0, -feature.depth)))[2])


def milled_to(stage: Stage, cut: Cut, feature: Feature) -> float:
    """How low a milling step goes in the feature (setup's frame, mm): as stated, or to its bottom."""
    step = cut.step
    if step.bottom_z is not None:
        return step.bottom_z
    if step.cutting_depth is not None:
        return top_of(stage, feature) - step.cutting_depth
    return bottom_of(stage, feature) + step.allowance_bottom - step.overcut_length
