"""Which step parts the stock into more than one solid."""

from __future__ import annotations

from worker.kernel.shape import is_empty, solids
from worker.stage.model import Cut, Stage


def splitting_cut(stage: Stage) -> Cut | None:
    """The first step after which there are more solids than before it; None when none parts the stock."""
    count = len(solids(stage.as_is))
    for number, cut in enumerate(stage.cuts):
        if is_empty(cut.removal):
            continue
        after = len(solids(stage.stock_before(number + 1)))
        if after > count:
            return cut
        count = after
    return None
