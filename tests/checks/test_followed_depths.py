"""A stated depth of a ball that follows faces: a plane stops it, a bent face is followed whole, which is told.

A quarter round of 5 on an edge at 20 ends upright at 15: there a ball of 5 touches its own radius over its tip. A plane
that rises t in 1 is touched 5 (1 - 1 / sqrt(1 + t^2)) over the tip.
"""

from __future__ import annotations

import functools
import math

import pytest

from examples.shapes import box, cut, cylinder, polygon, prism
from schemas.finding import Finding
from tests.support.block import told
from tests.support.plans import applied
from tests.support.trial import Json, plan, raw_box, setup, step, step_bytes, tool

VISE: Json = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 38, "parallel_height": 30}
ROUND, SLOPE = {"class": "edge_round"}, {"class": "planar_face", "at": [20, 20, 17]}


@functools.cache
def _part(named: str) -> bytes:
    if named == "round":
        corner = cut(box((-1, -1, 15), (41, 5, 21)), cylinder((-2, 5, 15), (42, 5, 15), 10))
        return step_bytes(cut(box((0, 0, 0), (40, 40, 20)), corner))
    return step_bytes(prism(polygon([(0, 0, 0), (40, 0, 0), (40, 0, 20), (0, 0, 14)]), (0, 40, 0)))


def _plan(feature: Json, bottom_z: float) -> Json:
    ball = tool("ballnose_endmill", 10, APMX=12, LU=30)
    works = [step("freeform_operation", ball, feature, bottom_z=bottom_z)]
    return plan(raw_box((0, 0, 0), (40, 40, 20)), setup(works, location=[0, 0, 20], workholding=VISE))


def _short(part: str, document: Json) -> list[Finding]:
    return [f for f in told(document, _part(part)) if f.code == "depth.short"]


@pytest.mark.parametrize(("bottom", "level"), [(-7.0, "error"), (-10.0, None), (-12.0, "warning")])
def test_a_round_says_itself_how_deep(bottom: float, level: str | None) -> None:
    found = _short("round", _plan(ROUND, bottom))
    assert [f.level for f in found] == ([level] if level else [])
    if found:
        assert found[0].remedy is not None and found[0].remedy.value == pytest.approx(15 - 5 - 20)


def test_a_slope_that_is_not_followed_to_its_end_is_told_how_deep_the_tip_must_go() -> None:
    document = _plan(SLOPE, -4.0)
    (found,) = _short("slope", document)
    needed = 14 - 20 - 5 * (1 - 1 / math.sqrt(1 + (6 / 40) ** 2))
    assert found.measured == pytest.approx(-4.0 - needed)
    assert _short("slope", applied(document, found.remedy)) == []
