"""What comes out of a hole into a bore goes on into its far wall where it goes on too far: one round face is both."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.support.block import Json, as_step, one_setup, solid_block, told
from worker.kernel import boolean
from worker.kernel import primitives as solid

BORE, HOLE, MIDDLE = 10.0, 6.0, 10.0
"""Diameters, and the height of the bore's axis in a block 20 high."""
D6: Json = {"id": "D6", "type": "twist_drill", "DC": HOLE, "SIG": 118, "LU": 60, "stickout": 70}
POINT = HOLE / 2 / math.tan(math.radians(59))
FEATURES = [{"class": "round_hole", "diameter": HOLE}]


def _lowest_of_the_near_wall() -> float:
    """Where the hole's wall ends last in the round bore: a chord of half the hole from its axis."""
    return MIDDLE + math.sqrt((BORE / 2) ** 2 - (HOLE / 2) ** 2)


def _taken(tip: float, point: float) -> float:
    """What a column of the hole's width with a cone of this height takes below the bore, by midpoint sums (mm3)."""
    at = (np.arange(2000) + 0.5) / 2000 * HOLE - HOLE / 2
    x, y = np.meshgrid(at, at)
    r = np.hypot(x, y)
    deep = MIDDLE - np.sqrt((BORE / 2) ** 2 - x**2) - (tip + point * r / (HOLE / 2))
    return float(np.where(r <= HOLE / 2, np.maximum(deep, 0.0), 0.0).sum() * (HOLE / 2000) ** 2)


@pytest.mark.parametrize(("operation", "tool", "point"), [
    ("drilling", "D6", POINT),
    ("bottom_and_side_finish_milling", "EM6", 0.0),
])  # fmt: skip
@pytest.mark.parametrize("over", [1.0, 11.0])
def test_the_far_wall_of_a_bore(operation: str, tool: str, point: float, over: float) -> None:
    holes = [solid.cylinder((30, -1, MIDDLE), (30, 41, MIDDLE), BORE), solid.cylinder((30, 20, 10), (30, 20, 21), HOLE)]
    step = {"id": "10", "operation": operation, "tool": tool, "features": FEATURES, "overcut_length": over}
    found = told(one_setup([step], D6), as_step(boolean.cut(solid_block(), holes)))
    tip = _lowest_of_the_near_wall() - over - point
    gouges = [f.measured for f in found if f.code == "cut.gouge"]
    assert gouges == ([pytest.approx(_taken(tip, point), rel=1e-3)] if over > 5 else [])
