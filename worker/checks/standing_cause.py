"""Which step should have taken the metal that is left, but is too large to get at it."""

from __future__ import annotations

from collections.abc import Sequence

from schemas.base import Box, dot
from schemas.tolerances import SEEN_ANGLE, VOLUME_NOTHING
from schemas.tool import MILLS
from worker.checks._within import has_many_faces, inner_points, is_spared
from worker.checks.api import Context
from worker.checks.left._planned import explaining
from worker.checks.milling import finishes
from worker.checks.standing import left_lumps
from worker.kernel import boolean, measure
from worker.kernel.graph import face_graph
from worker.residual import Lump
from worker.stage.model import Cut, Spared, Stage

ALONG = 1 - 1e-8
"""Cosine from which a wall's axis counts as the tool's (0.008 degrees)."""

LEAST = 0.2
"""Share of a lump that a cutter spared at least if that is why it stands."""


def spared_by(context: Context, cut: Cut) -> tuple[Lump, ...]:
    """The lumps that stand at the end because this finishing cutter was the last that came near and did not fit."""
    return tuple(lump for lump, cause in _causes(context) if cause is not None and cause[1] is cut)


def cause_of(context: Context, lump: Lump) -> tuple[Stage, Cut] | None:
    """The last finishing cutter that came near the lump and did not fit; None when none did."""
    return next(cause for other, cause in _causes(context) if other is lump)


_Cause = tuple[Stage, Cut] | None


def _causes(context: Context) -> tuple[tuple[Lump, _Cause], ...]:
    """All lumps that are left, each with its cause."""
    return context.once(
        "left.causes", lambda: tuple((lump, _last_sparing(context, lump)) for lump in left_lumps(context))
    )


def _last_sparing(context: Context, lump: Lump) -> _Cause:
    boxes: dict[str, Box] = {}
    finishing = [(s, c) for s, c in context.sequence if c.tool.type in MILLS and finishes(c)]
    for stage, cut in reversed(_meant_for(context, lump, finishing)):
        if not cut.spared:
            continue
        if stage.setup.id not in boxes:
            boxes[stage.setup.id] = measure.bounding_box(lump.body, stage.frame)
        near = [level for level in cut.spared if _meets(level, boxes[stage.setup.id])]
        if near and _lies_in(lump, stage, near):
            return (stage, cut)
    return None


def _meant_for(context: Context, lump: Lump, cuts: Sequence[tuple[Stage, Cut]]) -> list[tuple[Stage, Cut]]:
    """The cuts that name what the lump stands on: a profile's cutter that does not get into a slot is no cause where a
    step for the slot stops short. All where none does."""
    names = set(explaining(context, lump.faces))
    return [(s, c) for s, c in cuts if any(f.id in names for f in c.features)] or list(cuts)


def _meets(level: Spared, box: Box) -> bool:
    """Whether what a level leaves may reach into a box: most steps work elsewhere, and a boolean says so slowly."""
    if not level.free:
        return False
    x0, y0, x1, y1 = level.free.bounds
    (a, b, c), (d, e, f) = box.min, box.max
    return a <= x1 and d >= x0 and b <= y1 and e >= y0 and c <= level.high and f >= level.low


def _lies_in(lump: Lump, stage: Stage, levels: Sequence[Spared]) -> bool:
    """Whether LEAST of the lump does: a pocket's cutter leaves its own radius in a hole at the corner that nobody
    drilled, and is no cause. Points tell where a boolean took minutes."""
    if has_many_faces(lump):
        return any(is_spared(inner_points(lump.body), level, stage.frame) for level in levels)
    bodies = [level.body(stage.frame) for level in levels]
    return measure.volume(boolean.common(lump.body, bodies, merge=False)) > max(LEAST * lump.volume, VOLUME_NOTHING)


def tightest_corner(context: Context, stage: Stage, lump: Lump) -> float | None:
    """Radius (mm) of the tightest inner corner along the tool's axis that the lump stands in; 0 where two flat walls
    meet in one; None where none do."""
    graph = context.once("part.graph", lambda: face_graph(context.part.body))
    walls = {i: graph.faces[i].surface for i in lump.faces}
    z = stage.frame.z
    rounds = [s.radius for s in walls.values() if s.kind == "cylinder" and s.hollow and abs(dot(s.axis, z)) >= ALONG]
    flats = {i for i, s in walls.items() if s.kind == "plane" and abs(dot(s.axis, z)) <= SEEN_ANGLE}
    sharp = any(edge.convexity == "concave" and flats.issuperset(edge.faces) for edge in graph.edges)
    return min(rounds) if rounds else 0.0 if sharp else None
