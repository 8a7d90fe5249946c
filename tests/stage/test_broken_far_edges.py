"""Windows and outlines whose edges are broken on both sides: depth and overcut count from the part's own faces.

ISO 14649-11: ``overcut_length`` goes on past the end of a through feature. Volumes in closed form.
"""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, chamfer_ring, cut, fuse, polygon, prism, rounded_block
from tests.support.agreed import agreed
from tests.support.trial import inputs, plan, raw_box, setup, step, taken, tool
from worker.stage.model import Stage

REL = 1e-5
DOWN, UP = (0, 0, 1), (0, 0, -1)
STOCK = raw_box((-60, -45, -35), (60, 45, 5))
"""10 mm more all round, 5 mm more below and above than the part has."""


def windowed() -> Shape:
    """100 x 70 x 30 with a window of 40 x 20 with corners of 5 mm, every edge of both faces broken by 1.5 mm."""
    whole = cut(box((-50, -35, -30), (50, 35, 0)), rounded_block((-20, -10, -31), (20, 10, 1), 5))
    return chamfer_ring(chamfer_ring(whole, 0, 1.5), -30, 1.5)


def one(operation: str, name: str, axis: tuple[float, float, float] = DOWN, **keys: float) -> Stage:
    work = step(operation, tool("endmill", 8), {"class": name}, **keys)
    return agreed(windowed(), plan(STOCK, setup([work], axis=axis)))


@pytest.mark.parametrize("axis", [DOWN, UP])
@pytest.mark.parametrize("over", [0.0, 1.0])
def test_a_window_is_cut_through_to_the_far_face(axis: tuple[float, float, float], over: float) -> None:
    """Plan of the window, 40 x 20 less four corners, times part, overcut and the 5 mm that stand above it."""
    stage = one("bottom_and_side_rough_milling", "closed_pocket", axis, overcut_length=over)
    assert stage.cuts[0].tip_z == pytest.approx(-30 - over)
    assert taken(stage) == pytest.approx((800 - (4 - math.pi) * 25) * (35 + over), rel=REL)


@pytest.mark.parametrize("axis", [DOWN, UP])
def test_an_outline_is_milled_down_past_the_far_face(axis: tuple[float, float, float]) -> None:
    """All of the blank outside 100 x 70, 36 mm high: no rim is left round the chamfer below."""
    stage = one("side_rough_milling", "profile_feature", axis, overcut_length=1.0)
    assert stage.cuts[0].tip_z == pytest.approx(-31)
    assert taken(stage) == pytest.approx((120 * 90 - 100 * 70) * 36, rel=REL)


def test_one_side_is_milled_down_as_far_as_the_outline() -> None:
    """10 mm of blank beside the face at x = 50, over its whole length of 90, 36 mm high."""
    work = step(
        "side_rough_milling", tool("endmill", 25), {"class": "planar_face", "normal": [1, 0, 0]}, overcut_length=1.0
    )
    stage = agreed(windowed(), plan(STOCK, setup([work])))
    assert taken(stage) == pytest.approx(10 * 90 * 36, rel=REL)


def test_both_are_told_from_face_to_face() -> None:
    """Depth of a through feature: from the face that it opens in to the one that it comes out of."""
    found = inputs(
        windowed(), plan(STOCK, setup([step("side_rough_milling", tool("endmill", 8), {"class": "profile_feature"})]))
    )
    told = {f.class_: (f.depth, f.placement.location[2]) for f in found.part.features if abs(f.placement.z[2]) > 0.9}
    assert told["closed_pocket"] == pytest.approx((30, 0))
    assert told["profile_feature"] == pytest.approx((30, 0))


def test_an_edge_broken_above_a_lower_sharp_one_is_the_outline_s_end() -> None:
    """Half of the top is 2 mm higher, its edges broken by 3 mm: walls end at 19 and 20, the outline at 22."""
    wedges = [
        prism(polygon([(37, 0, 22), (40, 0, 22), (40, 0, 19)]), (0, 40, 0)),
        prism(polygon([(20, 0, 19), (20, 0, 22), (20, 3, 22)]), (20, 0, 0)),
        prism(polygon([(20, 40, 19), (20, 40, 22), (20, 37, 22)]), (20, 0, 0)),
    ]
    part = cut(fuse(box((0, 0, 0), (40, 40, 20)), box((20, 0, 0), (40, 40, 22))), *wedges)
    work = step("side_rough_milling", tool("endmill", 8), {"class": "profile_feature"})
    found = inputs(part, plan(raw_box((0, 0, 0), (40, 40, 22)), setup([work])))
    outlines = [f for f in found.part.features if f.class_ == "profile_feature" and abs(f.placement.z[2]) > 0.9]
    assert [(f.depth, f.placement.location[2]) for f in outlines] == [pytest.approx((22, 22))]
