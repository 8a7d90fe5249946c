"""Recesses whose wall a counterbore's head as deep takes, where that comes out at the side of the part: sizes as drawn.

A machinist reads the pocket by its walls' lines, and the head by its own hole.
"""

from __future__ import annotations

import pytest

from schemas.base import Vec3
from schemas.feature import Feature
from tests.recognise.parts import block, drill
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

Box = tuple[Vec3, Vec3]
CLOSED: Box = ((20, 15, 12), (70, 45, 21))
OPEN: Box = ((-1, 20, 12), (50, 50, 21))
CORNER: Box = ((50, -1, 12), (101, 30, 21))
STEP: Box = ((-1, -1, 12), (101, 30, 21))
SLOT: Box = ((-1, 44, 12), (101, 52, 21))


def headed(recess: Box, x: float, y: float, head: float) -> Body:
    """100 x 60 x 20 with a recess 8 deep, and a bore a third as wide as its head, which is as deep as the recess."""
    return cut(block(), [box(*recess), drill(x, y, 12, 21, head), drill(x, y, -1, 21, head / 3)])


def recesses(body: Body) -> list[Feature]:
    others = ("planar_face", "profile_feature", "round_hole")
    return sorted((f for f in recognise(body) if f.class_ not in others), key=lambda f: f.class_)


@pytest.mark.parametrize(
    ("recess", "head", "class_", "sizes", "sides"),
    [
        (CLOSED, (45, 52, 18), "closed_pocket", (50, 30), 0),
        (CLOSED, (70, 52, 18), "closed_pocket", (50, 30), 0),  # takes a corner
        (OPEN, (25, 54, 16), "open_pocket", (50, 30), 1),
        (OPEN, (50, 54, 16), "open_pocket", (50, 30), 1),
        (OPEN, (2, 50, 16), "open_pocket", (50, 30), 1),  # the bore comes out at the mouth too
        (STEP, (98, 30, 16), "step", (100, 30), 3),
        (CORNER, (75, 34, 16), "step", (50, 30), 2),  # parts the longer wall: both pieces are shorter than the other
        (CORNER, (46, 15, 16), "step", (50, 30), 2),
        (SLOT, (42, 52, 20), "slot", (100, 8), 2),  # bites into the wall across as well
    ],
)
def test_the_recess_is_as_large_as_drawn_and_the_head_its_holes(
    recess: Box, head: Vec3, class_: str, sizes: tuple[float, float], sides: int
) -> None:
    body = headed(recess, *head)
    hole, found = sorted(recesses(body), key=lambda f: f.class_ != "counterbore_hole")
    assert (found.class_, found.open_sides) == (class_, sides)
    assert (found.length, found.width, found.depth) == pytest.approx((*sizes, 8))
    assert (hole.diameter, hole.top_diameter) == pytest.approx((head[2] / 3, head[2]))


def test_two_sides_of_the_part_at_once_and_however_it_is_written() -> None:
    body = headed(((10, 10, 12), (90, 50, 21)), 10, 50, 24)
    pocket, _ = recesses(body)
    assert (pocket.class_, pocket.length, pocket.width) == ("closed_pocket", pytest.approx(80), pytest.approx(40))
    same_when_rewritten(body, 3)


@pytest.mark.parametrize(
    "way_out",
    [
        drill(45, 50, 12, 21, 24),  # less than half a circle, no bore in it: a round bay of the pocket
        box((36, 40, 12), (54, 61, 21)),  # no hole: a wide way out
    ],
)
def test_what_is_no_hole_opens_the_pocket(way_out: Body) -> None:
    (found,) = recesses(cut(block(), [box(*CLOSED), way_out]))
    assert (found.class_, found.open_sides, found.width) == ("open_pocket", 1, pytest.approx(45))
