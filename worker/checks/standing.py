"""The metal left on a feature at the end: shared by the rules that explain why it is there."""

from __future__ import annotations

from schemas.base import Vec3
from worker.checks.api import Context
from worker.kernel import measure


def lump_on(context: Context, id: str) -> Vec3 | None:
    """A point of the largest lump that stands on the feature at the end (part's frame); None when none does."""
    for lump in context.finish.residual:
        if id in lump.features:
            return measure.centroid(lump.body)
    return None
