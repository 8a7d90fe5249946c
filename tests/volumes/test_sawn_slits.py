"""Slits between two walls, cut by a disc on an arbor whose axis stands square to them: a slitting saw's work.

The spindle sees neither wall's other side: the disc comes in from the open sides, as deep as its arbor lets it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from examples.shapes import Shape, box, cut, cylinder
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, setup, step, taken, tool
from worker.stage.model import Stage

WIDE, LONG, HIGH = 4.0, 30.0, 20.0
DISC, ARBOR = 40.0, 6.0
"""Radii (mm)."""
WALL = 30 - math.sqrt(8**2 - (WIDE / 2) ** 2)
"""Where the far wall of a bore of 16 at x = 30 stands at the slit's sides."""


def block(*taken: Shape) -> Shape:
    """60 x 40 x 20 with a slit 4 wide from x = 30 out through the side at x = 60, and what else is taken."""
    return cut(box((0, 0, 0), (60, 40, HIGH)), box((30, 18, -1), (61, 22, HIGH + 1)), *taken)


def sawn(part: Shape, wide: float = WIDE, axis: tuple[float, float, float] = (0, 1, 0), behind: float = 0.0) -> Stage:
    cutter: Json = tool("side_mill", 2 * DISC, APMX=wide, LU=60, DN=2 * ARBOR, DMM=2 * ARBOR)
    work = step("bottom_and_side_finish_milling", cutter, {"class": "slot"})
    return agreed(part, plan(raw_box((-behind, 0, 0), (60, 40, HIGH)), setup([work], axis=axis)))


@pytest.mark.parametrize("wide", [WIDE, WIDE / 2])
def test_a_slit_is_cut_to_its_square_end(wide: float) -> None:
    """The disc goes by at both sides of the block: 30 x 20 x 4, no corner stays."""
    assert taken(sawn(block(), wide)) == pytest.approx(LONG * HIGH * WIDE, rel=1e-6)


def test_metal_that_hangs_over_a_side_shuts_no_way_in() -> None:
    """The lower wall ends 1 mm inside the upper one: the disc passes between them as before."""
    assert taken(sawn(block(box((-1, -1, -1), (61, 18, 1))))) == pytest.approx(LONG * HIGH * WIDE, rel=1e-6)


@pytest.mark.parametrize("axis", [(0, 1, 0), (0, -1, 0)])
def test_a_slit_into_a_bore_goes_on_as_far_as_disc_and_arbor_let_it(axis: tuple[float, float, float]) -> None:
    """Where the bore is still full the disc takes of it what lies within its radius of any place of the arbor."""
    stage = sawn(block(cylinder((30, 20, -1), (30, 20, HIGH + 1), 16)), axis=axis)
    assert taken(stage) == pytest.approx(WIDE * _covered(), rel=1e-5)


def test_the_disc_does_not_go_round_to_the_part_s_other_side() -> None:
    """30 mm of blank behind the block stay as they are, though a disc at the slit's height could get there too."""
    part = block(cylinder((30, 20, -1), (30, 20, HIGH + 1), 16))
    assert taken(sawn(part, behind=30.0)) == pytest.approx(WIDE * _covered(), rel=1e-5)


def _covered() -> float:
    """Area of the plan that discs cover, by rows: their axes lie on the border of where disc and arbor have room."""
    turn = np.linspace(-math.pi / 2, math.pi / 2, 40001)
    places = [np.column_stack([np.full(2001, 60 + ARBOR), np.linspace(0, HIGH, 2001)])]
    for z, sign in ((HIGH, 1.0), (0.0, -1.0)):
        places.append(np.column_stack([60 + ARBOR * np.cos(turn), z + sign * ARBOR * np.sin(turn)]))
        places.append(np.column_stack([WALL + DISC * np.cos(turn), z + sign * DISC * np.sin(turn)]))
    x, z = np.concatenate(places).T
    room = (_off(x, z, WALL) >= DISC - 1e-9) & (_off(x, z, 60.0) >= ARBOR - 1e-9)
    x, z = x[room], z[room]
    rows = (np.arange(400) + 0.5) * HIGH / 400
    first = [
        np.min(x[near] - np.sqrt(DISC**2 - (row - z[near]) ** 2)) for row in rows for near in [abs(row - z) < DISC]
    ]
    return float((60 - np.maximum(first, WALL)).mean() * HIGH)


def _off(x: np.ndarray, z: np.ndarray, end: float) -> np.ndarray:
    """Distance from the rectangle 0 to ``end`` by the block's height."""
    return np.hypot(np.maximum(x - end, 0.0), np.maximum(np.maximum(-z, z - HIGH), 0.0))
