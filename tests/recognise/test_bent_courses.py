"""Slots whose path bends: one width, and the length of the middle line, straight stretches and arcs by closed form."""

from __future__ import annotations

import math

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, drill
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box
from worker.kernel.shape import Body

QUARTER = 20 * math.pi / 2
"""A quarter of a circle of 20."""


def bend(wide: float = 8.0, outer: float = 24.0) -> Body:
    """A quarter ring about (70, 50) from (70, 30) to (90, 50)."""
    ring = cut(drill(70, 50, 12, 21, 2 * outer), [drill(70, 50, 11, 22, 2 * (outer - wide))])
    return cut(ring, [box((0, 0, 0), (70, 100, 30)), box((0, 50, 0), (120, 100, 30))])


def told(*tools: Body) -> list[Feature]:
    body = cut(block(120, 100), [fuse(list(tools))])
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def straight(start: float, stop: float) -> Body:
    return box((start, 26, 12), (stop, 34, 21))


UPWARDS = box((86, 50, 12), (94, 101, 21))


@pytest.mark.parametrize(
    ("tools", "length", "ends"),
    [
        ([straight(-1, 70), bend()], 70 + QUARTER, "open flat"),
        ([straight(-1, 70), bend(), box((86, 50, 12), (94, 60, 21))], 80 + QUARTER, "open flat"),
        ([straight(-1, 70), bend(), UPWARDS], 120 + QUARTER, "open open"),
        (
            [straight(20, 70), bend(), drill(20, 30, 12, 21, 8), drill(90, 50, 12, 21, 8)],
            58 + QUARTER,
            "radiused radiused",
        ),
        ([straight(20, 70), bend(), drill(90, 50, 12, 21, 8)], 54 + QUARTER, "flat radiused"),
    ],
)
def test_a_slot_that_bends_is_one_as_long_as_its_middle(tools: list[Body], length: float, ends: str) -> None:
    (found,) = told(*tools)
    assert (found.class_, found.course_of_travel, found.ends) == ("slot", "general", ends)
    assert (found.length, found.width, found.depth) == pytest.approx((length, 8, 8))


def test_it_stays_one_however_it_is_written() -> None:
    body = cut(block(120, 100), [fuse([straight(-1, 70), bend(), UPWARDS])])
    same_when_rewritten(body, 2)


@pytest.mark.parametrize(
    "tools",
    [
        [straight(-1, 70), bend(9, 24), UPWARDS],  # wider in the bend
        [straight(-1, 94), UPWARDS, box((86, 26, 12), (94, 51, 21))],  # a sharp corner
        [straight(-1, 121), bend(), UPWARDS],  # a bend that leaves a straight slot
        [straight(-1, 121), bend(), drill(90, 50, 12, 21, 8)],  # ... and ends
        [straight(-1, 121), bend()],
    ],
)
def test_what_widens_turns_a_corner_or_branches_is_no_slot(tools: list[Body]) -> None:
    (found,) = told(*tools)
    assert (found.class_, found.course_of_travel) == ("open_pocket", None)
