"""Tapered holes by the field: cylinders milled out of them and cones sunk into them, against closed forms."""

import math

import numpy as np
import pytest

from examples.shapes import box, cone, cut
from tests.support.trial import inputs, plan, raw_box, setup, step, tool
from worker.field import second_opinion
from worker.field.arcs import NOBODY, NOTHING, chords_of
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

BLOCK = (80 * 60 * 40, raw_box((-40, -30, -40), (40, 30, 0)))
HOLE = {"class": "round_hole"}
MILL = "bottom_and_side_finish_milling"


def _taken(deep: float, below: float, above: float, work) -> tuple[float, float]:
    """Volume that solid and field take of a block with a tapered hole, ``below`` wide at its lower end."""
    part = cut(box((-40, -30, -40), (40, 30, 0)), cone((0, 0, -deep), (0, 0, 0), below, above))
    found = inputs(part, plan(BLOCK[1], setup([work], location=[-40, -30, 0])))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    assert opinion.agrees and opinion.borrowed == ()
    return BLOCK[0] - opinion.solid_volume, BLOCK[0] - opinion.field_volume


@pytest.mark.parametrize(("deep", "below"), [(20, 20), (40, 16)], ids=["blind", "through"])
def test_a_flat_cutter_takes_the_cylinder_of_the_narrow_end(deep: float, below: float) -> None:
    """The narrow end is a circle for both: chords of its wall cost 5 mm3 of the through one before."""
    solid, field = _taken(deep, below, 30, step(MILL, tool("endmill", 8), HOLE))
    exact = math.pi / 4 * below**2 * deep
    assert solid == pytest.approx(exact, rel=1e-9)
    assert field == pytest.approx(exact, abs=1.5)


def test_a_cone_is_sunk_no_deeper_than_the_floor() -> None:
    """A point of 1, 38 long up to its full 20, stands on the floor 20 deep and 20 wide: a blunt cone 20 high."""
    tip, half = 0.5, math.atan(9.5 / 38)
    cutter = tool("chamfer_mill", 20, SIG=math.degrees(2 * half), tip_diameter=1, LU=60)
    solid, field = _taken(20, 20, 30, step("chamfering", cutter, HOLE))
    wide = tip + 20 * math.tan(half)
    exact = math.pi / 3 * 20 * (tip**2 + tip * wide + wide**2)
    assert solid == pytest.approx(exact, rel=1e-6)
    assert field == pytest.approx(exact, abs=0.5)


def test_two_level_lines_of_a_bore_that_lies_are_no_circle() -> None:
    """Their four ends lie on one, as those of every rectangle do (Thales): arcs over them kept 214 mm3 of a side."""
    one, other = [(0, 0, 0), (10, 0, 0), (0, -1, 1)], [(0, 2, 0), (10, 2, 0), (0, 3, 1)]
    leaning = np.array([one, other], float)
    assert len(chords_of(NOTHING, NOBODY, leaning, np.zeros(2, np.int32)).circles) == 0
