"""Chamfers round bosses: told where a later step takes metal off the wall below, whatever the wall's form."""

from __future__ import annotations

import functools
from typing import Any

from tests.support.block import as_step, told
from tests.support.trial import plan, raw_box, setup, step, tool
from worker.kernel import boolean
from worker.kernel import primitives as solid

MILL, FLANK = tool("endmill", 8, APMX=20), tool("chamfer_mill", 6, SIG=90, tip_diameter=1, APMX=2.5, LU=8)
FLOOR, EDGE = {"class": "planar_face", "at": [2, 2, 10]}, {"class": "chamfer"}


@functools.cache
def _boss() -> bytes:
    """A plate 40 x 40 x 10 and on it a boss of ø16, 8 high, its edge broken by 1 mm x 45 degrees."""
    post = solid.cylinder((20, 20, 9), (20, 20, 17), 16)
    return as_step(
        boolean.fuse([solid.box((0, 0, 0), (40, 40, 10)), post, solid.cone((20, 20, 17), (20, 20, 18), 16, 14)])
    )


def _late(*steps: Any) -> list[tuple[str | None, Any]]:
    top = step("plane_finish_milling", tool("facemill", 50), {"class": "planar_face", "at": [20, 20, 18]})
    found = told(plan(raw_box((0, 0, 0), (40, 40, 19)), setup([top, *steps])), _boss())
    return [(f.workingstep, f.message) for f in found if f.code == "order.sequence"]


def _clear(**keys: float) -> Any:
    return step("bottom_and_side_finish_milling", MILL, FLOOR, **keys)


def test_a_chamfer_over_a_round_wall_that_is_finished_later_is_told() -> None:
    """0.3 mm stand on the wall while its edge is broken: the finished wall has a burr, the chamfer another width."""
    ((where, words),) = _late(_clear(allowance_side=0.3), step("chamfering", FLANK, EDGE), _clear())
    assert where == "30" and "before step 40" in words


def test_a_chamfer_over_a_finished_wall_is_not() -> None:
    assert _late(_clear(allowance_side=0.3), _clear(), step("chamfering", FLANK, EDGE)) == []


def test_a_step_that_cuts_into_the_wall_later_uncovers_nothing() -> None:
    """It takes 3 mm of the boss: a gouge, and no metal that had to go before the chamfer."""
    wrong = step("bottom_and_side_finish_milling", MILL, FLOOR, allowance_side=-3)
    assert _late(_clear(), step("chamfering", FLANK, EDGE), wrong) == []
