"""Plane faces that lean, made by a pointed cutter's flank: chamfers too wide for their plate to be told as such."""

from __future__ import annotations

import pytest

from examples.shapes import Shape, box, cut, polygon, prism
from tests.support.agreed import agreed
from tests.support.block import told
from tests.support.trial import FAR_PLATE, Json, plan, raw_box, setup, step, step_bytes, taken, tool

LEG = 6.0
BLANK = raw_box((0, 0, 0), (60, 40, 10))
SLANT: Json = {"class": "planar_face", "normal": [1, 0, 1]}
CHAMFER: Json = {"class": "chamfer", "normal": [0, 1, 1]}
FLANK = tool("chamfer_mill", 20, SIG=90, tip_diameter=2, LU=9)


def wedge(leg: float, side: str) -> Shape:
    """What a chamfer of 45 degrees takes off the upper edge at x = 60, or at y = 40."""
    if side == "x":
        return prism(polygon([(60 - leg, 0, 10), (60, 0, 10), (60, 0, 10 - leg)]), (0, 40, 0))
    return prism(polygon([(0, 40 - leg, 10), (0, 40, 10), (0, 40, 10 - leg)]), (60, 0, 0))


def plate(*wedges: Shape) -> Shape:
    """60 x 40 x 10 without them."""
    return cut(box((0, 0, 0), (60, 40, 10)), *wedges)


def test_the_flank_takes_the_wedge() -> None:
    """Half a square of 6 x 40 long; both computations tell it."""
    stage = agreed(plate(wedge(LEG, "x")), plan(BLANK, setup([step("chamfering", FLANK, SLANT)])))
    assert taken(stage) == pytest.approx(LEG * LEG / 2 * 40, rel=1e-6)


@pytest.mark.parametrize(("angle", "left"), [(90, False), (80, True)])
def test_another_flank_leaves_metal_and_its_angle_is_named(angle: float, left: bool) -> None:
    work = step("chamfering", {**FLANK, "SIG": angle, "tip_diameter": 2}, SLANT)
    found = told(plan(BLANK, setup([work])), step_bytes(plate(wedge(LEG, "x"))))
    remedies = [f.remedy.value for f in found if f.code == "left.stock" and f.remedy]
    assert remedies == ([pytest.approx(90.0)] if left else [])


@pytest.mark.parametrize("first", [SLANT, CHAMFER])
def test_where_it_meets_a_chamfer_either_may_be_cut_first(first: Json) -> None:
    """The other's metal stands on the end of neither's own side (common practice: round the plate in any order)."""
    second = CHAMFER if first is SLANT else SLANT
    works = [step("chamfering", FLANK, one) for one in (first, second)]
    found = told(plan(BLANK, setup(works, workholding=FAR_PLATE)), step_bytes(plate(wedge(LEG, "x"), wedge(1, "y"))))
    assert not {f.code for f in found} & {"order.sequence", "left.stock", "left.feature", "cut.gouge"}
