"""Which step takes the metal from under a jaw or clamp."""

from __future__ import annotations

from collections.abc import Sequence

from schemas.tolerances import TOUCH
from worker.checks.hold._contacts import total
from worker.kernel.contact import patches
from worker.stage.model import Cut, HoldingBody, Stage


def letting_go(stage: Stage, shares: Sequence[tuple[HoldingBody, float]]) -> Cut | None:
    """The step after which a vise no longer has both jaws on the metal, or the last clamp has nothing under it.

    ``shares``: jaws or clamps with the area (mm2) that must stay under each.
    """
    found = [first_below(stage, body, least) for body, least in shares if least > 0]
    steps = [cut for cut in found if cut is not None]
    pick = min if stage.holding.jaws is not None else max
    return pick(steps, key=lambda cut: cut.index, default=None)


def first_below(stage: Stage, body: HoldingBody, least: float) -> Cut | None:
    """The first step after which less than ``least`` mm2 are left under the jaw or clamp."""
    for number, cut in enumerate(stage.cuts):
        after = stage.stock_before(number + 1)
        if total(patches(after, body.body, TOUCH)) < least:
            return cut
    return None
