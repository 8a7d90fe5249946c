"""Plane faces that lean in a setup: a cutter with a round corner follows them, a flat one gets down to their upper end.

What stands on the slope of a wedge is a triangle's prism: half its length times its fall times its width.
"""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse, polygon, prism, volume
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, removals, setup, step, tool

X, Y, Z, FALL, OVER = 60.0, 40.0, 30.0, 16.0, 2.0
SLOPE: Json = {"class": "planar_face", "at": [X / 2, Y / 4, Z - FALL / 2]}
STANDS, ABOVE = X * FALL / 2 * Y, X * Y * OVER
RAW = raw_box((0, 0, 0), (X, Y, Z + OVER))
FOLLOW, FACE = "freeform_operation", "plane_finish_milling"
ROUND = [("ballnose_endmill", {}), ("bullnose_endmill", {"RE": 2})]


def wedge() -> Shape:
    off = prism(polygon([(0, -1, Z), (X + X / 4, -1, Z - FALL * 5 / 4), (X + X / 4, -1, Z)]), (0, Y + 2, 0))
    return cut(box((0, 0, 0), (X, Y, Z)), off)


@pytest.mark.parametrize(("type", "sizes"), ROUND)
@pytest.mark.parametrize("turn", [0.0, 0.6])
def test_a_round_corner_follows_a_leaning_plane(type: str, sizes: Json, turn: float) -> None:
    way = [math.cos(turn), math.sin(turn), 0]
    stage = agreed(wedge(), plan(RAW, setup([step(FOLLOW, tool(type, 10, **sizes), SLOPE)], ref_direction=way)))
    assert removals(stage) == pytest.approx([STANDS + ABOVE], rel=1e-6)
    assert volume(stage.to_be.wrapped) == pytest.approx(volume(wedge()), rel=1e-9)


@pytest.mark.parametrize(("operation", "type", "sizes"), [(FACE, "endmill", {}), (FACE, *ROUND[0])])
def test_facing_it_stops_at_its_upper_end(operation: str, type: str, sizes: Json) -> None:
    stage = agreed(wedge(), plan(RAW, setup([step(operation, tool(type, 10, **sizes), SLOPE)])))
    assert removals(stage) == pytest.approx([ABOVE], rel=1e-6)


def test_a_sharp_corner_follows_nothing_that_leans() -> None:
    stage = agreed(wedge(), plan(RAW, setup([step(FOLLOW, tool("endmill", 10), SLOPE)])))
    assert removals(stage) == [0.0]


def test_what_stands_on_the_plane_keeps_it_from_being_taken_whole() -> None:
    """A post square to the slope: the round corner would leave metal at its foot."""
    foot, top = (X / 2 - FALL / 10, Y / 2, Z - FALL / 2 - X / 10), (X / 2 + FALL / 10, Y / 2, Z - FALL / 2 + X / 10)
    part = fuse(wedge(), cylinder(foot, top, 8))
    stage = agreed(part, plan(RAW, setup([step(FOLLOW, tool("ballnose_endmill", 10), SLOPE)])))
    assert removals(stage)[0] < STANDS / 2 + ABOVE
