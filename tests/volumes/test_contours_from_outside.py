"""A contour's cutter comes from beside the metal: what lies behind a slit that it does not pass is another step's."""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, setup, step, tool
from worker.kernel import boolean
from worker.kernel import primitives as solid

WIDE, HIGH, OVER = 30.0, 8.0, 1.0
ROUND = {"class": "profile_feature", "axis": [0, 0, 1]}


def _clamp(slit: float) -> Shape:
    """A block with a square window of 12 and a slit from it to the outside: the bore of a clamp."""
    window = solid.box((9, 9, -1), (21, 21, HIGH + 1))
    gap = solid.box((15 - slit / 2, 20, -1), (15 + slit / 2, WIDE + 1, HIGH + 1))
    return boolean.cut(solid.box((0, 0, 0), (WIDE, WIDE, HIGH)), [window, gap]).wrapped


def _contour() -> Json:
    raw = raw_box((-OVER, -OVER, 0), (WIDE + OVER, WIDE + OVER, HIGH))
    return plan(raw, setup([step("side_finish_milling", tool("endmill", 4), ROUND)]))


@pytest.mark.parametrize("slit", [2.0, 5.0])
def test_a_contour_goes_in_where_the_cutter_passes(slit: float) -> None:
    """Round the block stands a frame 1 mm wide. Through a slit of 5 the cutter of 4 goes on into the window and leaves
    (1 - pi / 4) r^2 in each of its four corners and nothing in the slit; into the mouth of one of 2 it dips by the
    segment of its circle over that chord."""
    frame = ((WIDE + 2 * OVER) ** 2 - WIDE**2) * HIGH
    window = (12 * 12 + 9 * slit - 4 * (1 - math.pi / 4) * 2**2) * HIGH
    dip = (2**2 * math.asin(1 / 2) - math.sqrt(2**2 - 1)) * HIGH
    (cut,) = agreed(_clamp(slit), _contour()).cuts
    assert cut.removal_volume == pytest.approx(frame + (window if slit > 4 else dip), rel=1e-6)
