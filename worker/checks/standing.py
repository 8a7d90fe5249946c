"""The metal left on the part at the end, without what other rules speak of: shared by rules that explain it."""

from __future__ import annotations

from schemas.base import Vec3
from schemas.feature import HOLES, is_pit
from schemas.tolerances import LENGTH
from worker.checks.api import Context
from worker.checks.holes import thread_of
from worker.kernel import measure
from worker.residual import Lump

FILM = 0.005
"""Metal thinner than this (mm) comes of sizes rounded to 0.01 mm (a drill of 6.747 in a hole of 6.756): no finding."""


def left_lumps(context: Context) -> tuple[Lump, ...]:
    """What stands on the part after the last setup: no films, no thread metal, no drill points' zone."""

    def compute() -> tuple[Lump, ...]:
        return tuple(x for x in context.finish.residual if x.thickness > FILM and not _is_excused(context, x))

    return context.once("left.lumps", compute)


def unfinished(context: Context) -> frozenset[str]:
    """Ids of the features with metal left on them after the last setup."""
    return frozenset(id for lump in left_lumps(context) for id in lump.features)


def lump_on(context: Context, id: str) -> Vec3 | None:
    """A point of the largest lump that stands on the feature at the end (part's frame); None when none does."""
    for lump in left_lumps(context):
        if id in lump.features:
            return measure.place_in(lump.body)
    return None


def _is_excused(context: Context, lump: Lump) -> bool:
    holes = [context.part.feature(id) for id in lump.features]
    if not holes or any(f.class_ not in HOLES for f in holes):
        return False
    return any(_is_thread(context, lump, f.id) or _is_below_cylinder(context, lump, f.id) for f in holes)


def _is_thread(context: Context, lump: Lump, id: str) -> bool:
    """A ring no thicker than the thread is deep: the tap cuts its flanks into it."""
    thread = thread_of(context, context.part.feature(id))
    return thread is not None and lump.thickness <= (thread.major - thread.minor) / 2 + LENGTH


def _is_below_cylinder(context: Context, lump: Lump, id: str) -> bool:
    """Metal only in the point's zone of a conical or round bottom: fit.bottom speaks of it."""
    hole = context.part.feature(id)
    if hole.bottom not in ("conical", "spherical") or hole.depth is None or is_pit(hole):
        return False
    return measure.bounding_box(lump.body, hole.placement).max[2] <= -hole.depth + LENGTH
