"""A slot in whose wall a recess is level with its floor, milled from its end: its own section all along, no more."""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, removals, setup, step, tool

SLOT = box((-1, 20, 10), (101, 40, 41))
ROUNDS = [cylinder((-1, y, 12), (101, y, 12), 4) for y in (22, 38)]
FILLETED = fuse(box((-1, 20, 12), (101, 40, 41)), box((-1, 22, 10), (101, 38, 13)), *ROUNDS)
"""With rounds of 2 at the foot of its walls."""


def planned(selector: Json, diameter: float, axis: tuple[float, float, float]) -> Json:
    """One step out of a blank 2 larger all round."""
    work = step("bottom_and_side_finish_milling", tool("endmill", diameter), selector)
    return plan(raw_box((-2, -2, -2), (102, 62, 42)), setup([work], axis))


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("far", [50, 61])
@pytest.mark.parametrize(("deep", "diameter"), [(SLOT, 12.0), (FILLETED, 4.0)])
def test_slot_from_its_end_leaves_what_lies_behind_its_wall(deep: Shape, diameter: float, far: int, side: int) -> None:
    """20 wide, 32 high with the blank's 2 over it, 102 long with its 2 before it; two corners of the cutter's stay."""
    part = cut(box((0, 0, 0), (100, 60, 40)), deep, box((40, 35, 10), (60, far, 20)))
    (taken,) = removals(agreed(part, planned({"class": "slot"}, diameter, (side, 0, 0))))
    assert taken == pytest.approx((20 * 32 - (4 - math.pi) / 8 * diameter**2) * 102, rel=1e-6)


def test_window_goes_as_far_as_its_own_walls_do() -> None:
    """To the foot of the fillet at y = 38, 2 before the wall: 22 of the part and 2 of the blank; four corners stay."""
    part = cut(box((0, 0, 0), (100, 60, 40)), FILLETED, box((40, 35, 10), (60, 61, 20)))
    (taken,) = removals(agreed(part, planned({"class": "closed_pocket"}, 4.0, (0, 1, 0))))
    assert taken == pytest.approx((20 * 10 - (4 - math.pi) * 4) * 24, rel=1e-6)
