"""Which step should have taken the metal that is left, but is too large to get at it."""

from __future__ import annotations

from schemas.base import dot
from schemas.tolerances import SEEN_ANGLE, VOLUME_NOTHING
from schemas.tool import MILLS
from worker.checks._within import has_many_faces, inner_points, is_spared
from worker.checks.api import Context
from worker.checks.milling import finishes
from worker.checks.standing import left_lumps
from worker.kernel import boolean, measure
from worker.kernel.graph import face_graph
from worker.residual import Lump
from worker.stage.model import Cut, Stage

ALONG = 1 - 1e-8
"""Cosine from which a wall's axis counts as the tool's (0.008 degrees)."""


def spared_by(context: Context, cut: Cut) -> tuple[Lump, ...]:
    """The lumps that stand at the end because this finishing cutter was the last that came near and did not fit."""
    return tuple(lump for lump in left_lumps(context) if (cause_of(context, lump) or (None, None))[1] is cut)


def cause_of(context: Context, lump: Lump) -> tuple[Stage, Cut] | None:
    """The last finishing cutter that came near the lump and did not fit; None when none did."""
    number = next(i for i, other in enumerate(left_lumps(context)) if other is lump)
    return context.once(f"left.cause.{number}", lambda: _last_sparing(context, lump))


def _last_sparing(context: Context, lump: Lump) -> tuple[Stage, Cut] | None:
    for stage, cut in reversed(context.sequence):
        if cut.tool.type not in MILLS or not finishes(cut) or not cut.spared:
            continue
        if _lies_in_what_is_spared(lump, stage, cut):
            return (stage, cut)
    return None


def _lies_in_what_is_spared(lump: Lump, stage: Stage, cut: Cut) -> bool:
    if has_many_faces(lump):
        return any(is_spared(inner_points(lump.body), level, stage.frame) for level in cut.spared)
    levels = [level.body(stage.frame) for level in cut.spared]
    return measure.volume(boolean.common(lump.body, levels, merge=False)) > VOLUME_NOTHING


def tightest_corner(context: Context, stage: Stage, lump: Lump) -> float | None:
    """Radius (mm) of the tightest inner corner along the tool's axis that the lump stands in; 0 between two walls."""
    graph = context.once("part.graph", lambda: face_graph(context.part.body))
    walls = [graph.faces[i].surface for i in lump.faces]
    z = stage.frame.z
    rounds = [s.radius for s in walls if s.kind == "cylinder" and s.hollow and abs(dot(s.axis, z)) >= ALONG]
    flats = [s for s in walls if s.kind == "plane" and abs(dot(s.axis, z)) <= SEEN_ANGLE]
    return min(rounds) if rounds else 0.0 if len(flats) > 1 else None
