"""How far a tool that has come through below stays off what lies under the stock (setup's frame, mm)."""

from __future__ import annotations

from schemas.base import Box
from schemas.tolerances import LENGTH
from worker.kernel.measure import bounding_box
from worker.kernel.planar import Region, boxes_meet, disc, overlap
from worker.kernel.shadow import Shown, Skyline
from worker.kernel.shape import is_empty
from worker.reach.model import Below
from worker.stage.model import Cut, Stage
from worker.stage.removal.edges import SLACK

BESIDE = 1e-2
"""A tool's path is taken this much narrower (mm): it may pass a wall of its own size."""


class Unders:
    """The workholding of one setup as it lies under the tools; ``left`` is the stock that the setup leaves."""

    def __init__(self, stage: Stage, left: Skyline) -> None:
        self._stage, self._left = stage, left
        held = [b for b in stage.holding.bodies if not is_empty(b.body)]
        self._bodies = [(b.name, Skyline(b.body, stage.frame), bounding_box(b.body, stage.frame)) for b in held]

    def of(self, number: int) -> Below | None:
        """The least room between a tool's lowest point, where it comes out of the stock, and the body under it.

        None for a step that comes out nowhere, or over nothing. What the tool enters is another rule's business.
        """
        cut = self._stage.cuts[number]
        ways = _ways(self._stage, cut)
        if not ways:
            return None
        found = []
        for plan, tip in ways:
            if tip <= self._stage.holding.support_z + LENGTH or _top_under(self._left, plan, tip) is None:
                tops = [(name, _top_under(sky, plan, tip)) for name, sky, box in self._bodies if _lies(box, plan, tip)]
                found += [Below(name, max(tip - top, 0.0)) for name, top in tops if top is not None]
        return min(found, key=lambda below: below.room, default=None)


def _ways(stage: Stage, cut: Cut) -> list[tuple[Region, float]]:
    """Where the tool may come out, in plan, and its lowest height there."""
    low = cut.tip_z <= stage.holding.support_z + LENGTH
    if not low and not any(f.bottom == "through" for f in cut.features):
        return []
    if cut.plunges:
        places = [(stage.frame.to_local(p.centre), p) for p in cut.plunges]
        return [(disc((x, y), p.diameter / 2 - BESIDE), p.tip_z) for (x, y, _), p in places]
    if is_empty(cut.removal) or not low:
        return []
    return [(Skyline(cut.removal, stage.frame).above(cut.tip_z - LENGTH), cut.tip_z)]


def _top_under(sky: Skyline, plan: Region, tip: float) -> float | None:
    """The highest face that looks up at the tool from below its tip."""
    if not plan:
        return None
    under = [s for s in sky.shown if s.look in ("up", "both") and s.high <= tip + LENGTH and _may_meet(s, plan)]
    highest_first = sorted(under, key=lambda shown: -shown.high)
    return next((s.high for s in highest_first if overlap(sky.region(s.index), plan)), None)


def _lies(box: Box, plan: Region, tip: float) -> bool:
    """Whether any of a body may lie under a plan, below a tip: most stand beside it, and need no closer look."""
    here = (*box.min[:2], *box.max[:2])
    return bool(plan) and box.min[2] <= tip + LENGTH and boxes_meet(here, plan.bounds, LENGTH)


def _may_meet(shown: Shown, plan: Region) -> bool:
    x0, y0, x1, y1 = shown.bounds
    return boxes_meet(shown.bounds, plan.bounds, SLACK * max(x1 - x0, y1 - y0) + LENGTH)
