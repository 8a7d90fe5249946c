"""Roughing that comes after the finishing of the same surfaces in one setup."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.feature import Feature
from worker.checks.api import Context
from worker.checks.milling import is_rough, mills
from worker.stage.model import Cut, Stage

FLOORS = {
    "plane_rough_milling": "b",
    "plane_finish_milling": "b",
    "side_rough_milling": "s",
    "side_finish_milling": "s",
    "bottom_and_side_rough_milling": "bs",
    "bottom_and_side_finish_milling": "bs",
}
"""Which surfaces a milling operation makes: bottom, side; boring and reaming make the side of a hole."""


def rough_late(context: Context) -> Iterator[tuple[Stage, Cut, Cut, Feature]]:
    """Stage, finishing step, roughing step after it with no finishing after that, and the feature of both."""
    for stage in context.stages:
        for i, rough in enumerate(stage.cuts):
            if not (mills(rough) and is_rough(rough)):
                continue
            for feature in rough.features:
                before = [c for c in stage.cuts[:i] if _finishes(c, rough, feature.id)]
                after = [c for c in stage.cuts[i + 1 :] if _finishes(c, rough, feature.id)]
                if before and not after:
                    yield stage, before[-1], rough, feature


def _finishes(cut: Cut, rough: Cut, id: str) -> bool:
    """A finishing step on the same surfaces of the same feature."""
    if is_rough(cut) or not any(f.id == id for f in cut.features):
        return False
    if cut.step.operation in ("boring", "reaming"):
        return "s" in FLOORS.get(rough.step.operation, "")
    return bool(set(FLOORS.get(cut.step.operation, "")) & set(FLOORS.get(rough.step.operation, "")))
