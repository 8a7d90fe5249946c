"""What two jaws meet straight across from each other, of a block of 60 x 40 x 20 of which they reach 6 mm.

Flats that stand back by a few micrometres from what sticks out farthest are met as one flat is.
"""

from __future__ import annotations

import pytest

from schemas.finding import Finding
from tests.support.block import Json, as_step, judged, one_setup, solid_block
from tests.support.plans import applied
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.shape import Body

ABOVE = 2.8
"""Up to here the side at y = 40 is cut back."""
BACK = 0.004
"""Less than the tolerance within which a jaw touches (0.01 mm)."""


def test_a_flat_behind_a_narrow_rim_is_opposite_to_the_other_jaw() -> None:
    # The side at y = 40 stands back but for a rim of 2 mm at x = 0: 2 mm of 60 alone would lie opposite to metal.
    stock = boolean.cut(solid_block(), [solid.box((2, 40 - BACK, -1), (61, 41, 21))])
    plan = one_setup([])
    plan["workpiece"]["rawpiece"] = {"step": "bar"}
    findings, runs = judged(plan, as_step(stock), {"bar": as_step(stock)})
    assert "hold.faces" in {run.code for run in runs if run.ran}
    assert "hold.faces" not in {f.code for f in findings}


def held(*recesses: Body) -> tuple[Json, bytes, Finding | None]:
    """The block less what is cut out of its sides, as stock and part, and what is said of the grip."""
    stock = as_step(boolean.cut(solid_block(), [solid.box((-1, 35, -1), (61, 41, ABOVE)), *recesses]))
    plan = one_setup([])
    plan["workpiece"]["rawpiece"] = {"step": "bar"}
    return plan, stock, gripped(plan, stock)


def gripped(plan: Json, stock: bytes) -> Finding | None:
    found = judged(plan, stock, {"bar": stock})[0]
    assert "hold.faces" not in {f.code for f in found}
    return next((f for f in found if f.code == "hold.grip"), None)


def test_jaws_grip_as_high_as_their_flats_lie_across_from_each_other() -> None:
    # One jaw meets 4 mm, the other 3.2 mm, of which 4 - 2.8 = 1.2 mm lie at the same height: the stock tilts.
    _, _, found = held(solid.box((-1, -1, 4), (61, 5, 21)))
    assert found and found.measured == pytest.approx(4 - ABOVE) and found.remedy and found.remedy.value is None


def test_parallels_are_lowered_until_enough_lies_across() -> None:
    # From 9 mm up both sides are flat again: 3 - 1.2 = 1.8 mm of that are wanted, 9 + 1.8 - 6 = 4.8 mm lower
    plan, stock, found = held(solid.box((-1, -1, 4), (61, 5, 9)))
    assert found and found.measured == pytest.approx(4 - ABOVE)
    assert found.remedy and found.remedy.value == pytest.approx(30 - 4.8)
    assert gripped(applied(plan, found.remedy), stock) is None
