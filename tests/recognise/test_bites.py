"""Holes and pockets that bite into a wall or corner of a recess leave it what it is; sizes are as built."""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, drill
from tests.support.recognised import recognise
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

UP = (0.0, 0.0, 1.0)
LEFT, RIGHT = (-1.0, 0.0, 0.0), (1.0, 0.0, 0.0)
POCKET = box((30, 15, 12), (70, 45, 21))
SLOT = box((-1, 25, 12), (101, 35, 21))


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature", "round_hole")]


@pytest.mark.parametrize("bottom", [-1.0, 10.0, 12.0])
def test_a_pocket_with_relieved_corners_is_closed(bottom: float) -> None:
    reliefs = [drill(x, y, bottom, 21, 6) for x in (31, 69) for y in (16, 44)]
    body = cut(block(), [POCKET, *reliefs])
    (found,) = recesses(body)
    assert (found.class_, found.open_sides, found.depth) == ("closed_pocket", 0, pytest.approx(8))
    assert (found.length, found.width) == pytest.approx((40, 30))
    holes = [f for f in recognise(body) if f.class_ == "round_hole"]
    assert [h.pattern for h in holes] == ["rectangular 2 x 2"] * 4


HOLES = [drill(50, 36, -1, 21, 8), drill(50, 36, 6, 21, 8), drill(50, 30, -1, 21, 20), drill(50, 31, -1, 21, 8)]
"""The last touches the wall from inside."""


@pytest.mark.parametrize("hole", HOLES)
def test_a_hole_in_the_wall_of_a_slot_leaves_it_a_slot(hole: Body) -> None:
    (found,) = recesses(cut(block(), [SLOT, hole]))
    assert (found.class_, found.ends, found.open_sides) == ("slot", "open open", 2)
    assert (found.length, found.width, found.depth) == pytest.approx((100, 10, 8))
    assert set(found.access) == {UP, LEFT, RIGHT}


@pytest.mark.parametrize("bite", [drill(50, 46, -1, 21, 8), box((60, 20, -1), (80, 30, 21))])
def test_what_bites_into_the_wall_of_a_pocket_leaves_it_closed(bite: Body) -> None:
    found = next(f for f in recesses(cut(block(), [POCKET, bite])) if f.bottom == "planar")
    assert (found.class_, found.open_sides) == ("closed_pocket", 0)
    assert (found.length, found.width, found.depth) == pytest.approx((40, 30, 8))


def test_a_slot_that_ends_in_a_bore_is_open_there() -> None:
    (found,) = recesses(cut(block(), [box((-1, 25, 12), (50, 35, 21)), drill(50, 30, -1, 21, 20)]))
    assert (found.class_, found.ends) == ("slot", "open open")


def test_stairs_in_a_corner_stay_steps() -> None:
    tools = [box((-1, -1, 20 - 4 * n), (70 - 10 * n, 50 - 10 * n, 21)) for n in (1, 2, 3)]
    assert [f.class_ for f in recesses(cut(block(), tools))] == ["step"] * 3
