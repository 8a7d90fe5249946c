"""Where a rule cannot judge, because the metal it looks at is not known as a solid, or only with flats for rounds."""

from __future__ import annotations

from typing import Literal

from worker.stage.model import Cut, Stage
from worker.stage.standing import Standing

Metal = Literal["none", "sweep", "as_is", "here", "end"]
"""What a rule looks at: the plan and the part alone; the step's sweep; the as-is stock (and the workholding on it);
the stock as the step or the setup leaves it; what stands on the part after the last setup."""

UNSWEPT = "not judged: the kernel could not make the tool's path"
UNKNOWN = "not judged: no solid model gave the metal here"
FACETED = "not judged: the metal is faceted here, and the rule needs true round faces"


def hindrance(stages: tuple[Stage, ...], stage: Stage | None, cut: Cut | None, metal: Metal, facets: bool) -> str:
    """Why a rule that looks at ``metal`` cannot judge this place; "" when it can. ``facets``: flats will do for it."""
    if cut is not None and not cut.swept_known and metal != "none":
        return UNSWEPT
    looked_at = _looked_at(stages, stage, cut, metal)
    if not all(standing.known for standing in looked_at):
        return UNKNOWN
    return "" if facets or all(standing.exact for standing in looked_at) else FACETED


def _looked_at(stages: tuple[Stage, ...], stage: Stage | None, cut: Cut | None, metal: Metal) -> list[Standing]:
    if metal in ("none", "sweep"):
        return []
    if metal == "end" or stage is None:
        return [other.result for other in stages]
    if metal == "as_is":
        return [stage.standing(0)]
    return [stage.result if cut is None else stage.standing(_number(stage, cut) + 1)]


def _number(stage: Stage, cut: Cut) -> int:
    return next(i for i, other in enumerate(stage.cuts) if other is cut)
