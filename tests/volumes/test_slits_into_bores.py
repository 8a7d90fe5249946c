"""Slits that break into a bore have two walls, two open ends and no floor: a step on one takes the strip between."""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, setup, step, tool
from worker.kernel import boolean
from worker.kernel import primitives as solid

SLIT = {"class": "slot", "axis": [0, 0, 1]}


def _clamp() -> Shape:
    """30 x 20 x 20 with a bore of 8 along y, a slit of 2 from above into it, and a shoulder 5 x 5 along one side."""
    bore = solid.cylinder((15, -1, 10), (15, 21, 10), 8)
    cutters = [bore, solid.box((14, -1, 10), (16, 21, 21)), solid.box((25, -1, 15), (31, 21, 21))]
    return boolean.cut(solid.box((0, 0, 0), (30, 20, 20)), cutters).wrapped


def test_a_slit_takes_nothing_beside_its_walls() -> None:
    """Down to where its walls meet the bore, sqrt(4^2 - 1) above its axis; the shoulder's stock is another step's."""
    work = setup([step("bottom_and_side_finish_milling", tool("endmill", 1.5), SLIT)])
    (cut,) = agreed(_clamp(), plan(raw_box((0, 0, 0), (30, 20, 20)), work)).cuts
    assert cut.removal_volume == pytest.approx(2 * 20 * (10 - math.sqrt(4**2 - 1)), rel=1e-6)
