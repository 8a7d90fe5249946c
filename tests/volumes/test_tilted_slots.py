"""Slots milled from setups that lean off their axis: of the walls that look up then each shows the spindle a part.

Both computations are held to each other: the record cuts solids, the other lines on a lattice turned with the setup.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from examples.shapes import Shape, box, cut, cylinder, rounded_block
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, removals, setup, step, tool

FINISH = "bottom_and_side_finish_milling"
LOW, HIGH = (-20, -12, -12), (20, 12, 0)
RAW = raw_box((-21, -13, -12), (21, 13, 1))
SLOT = box((-4, -5, -6), (4, 20, 5))


def round_ended() -> Shape:
    """Its end is half a cylinder, of which a half looks up and ends lower than the rest."""
    return cut(box(LOW, HIGH), SLOT, cylinder((0, -5, -6), (0, -5, 5), 8))


def in_a_round_block() -> Shape:
    """Past the wall that looks up, the block's top falls away from the highest place of the slot's floor and walls."""
    return cut(rounded_block(LOW, HIGH, 6), box((-4, -20, -6), (4, 20, 5)))


def leaning(degrees: float) -> dict[str, Any]:
    """A setup whose axis leans across the slot."""
    s, c = math.sin(math.radians(degrees)), math.cos(math.radians(degrees))
    return {"axis": (s, 0.0, c), "ref_direction": (c, 0.0, -s), "location": [0, 0, 0]}


@pytest.mark.parametrize("part", [round_ended, in_a_round_block])
def test_both_take_the_same_past_walls_that_look_up(part) -> None:
    work = step(FINISH, tool("endmill", 6), {"class": "slot"})
    (taken,) = removals(agreed(part(), plan(RAW, setup([work], **leaning(25.0)))))
    assert taken > 0
