"""Corners and tips that a deeper cut or a relief hole took leave slots, forks and windows whole; sizes as built."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import at_height, block, chamfered, drill, obround
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

FLAT = box((-1, 25, 12), (60, 35, 21))
ROUND = fuse([FLAT, drill(60, 30, 12, 21, 10)])
CORNERS = {
    "pocket": box((57, 32, 5), (75, 45, 21)),
    "window": box((57, 32, -1), (75, 45, 21)),
    "step": box((57, 32, 6), (101, 61, 21)),
    "hole": drill(60, 35, -1, 21, 8),
}
TIPS = {
    "pocket": box((62, 20, 5), (80, 40, 21)),
    "narrow": box((62, 28, 5), (80, 32, 21)),
    "step": box((63, -1, 6), (101, 61, 21)),
}


def one(body: Body, class_: str = "slot") -> Feature:
    (found,) = [f for f in recognise(body) if f.class_ == class_ and f.depth != 15]
    return found


@pytest.mark.parametrize("bite", CORNERS.values(), ids=CORNERS)
@pytest.mark.parametrize(("slot", "ends", "length"), [(FLAT, "open flat", 60), (ROUND, "open radiused", 65)])
def test_a_corner_of_an_open_slot(slot: Body, ends: str, length: float, bite: Body) -> None:
    found, whole = one(cut(block(), [slot, bite])), one(cut(block(), [slot]))
    assert (found.ends, found.open_sides, found.id) == (ends, 1, whole.id)
    assert (found.length, found.width, found.depth) == pytest.approx((length, 10, 8))


@pytest.mark.parametrize("bite", TIPS.values(), ids=TIPS)
def test_the_tip_of_a_round_end(bite: Body) -> None:
    found = one(cut(block(), [ROUND, bite]))
    assert (found.ends, found.length, found.width) == ("open radiused", pytest.approx(65), pytest.approx(10))


def test_both_ends_of_an_obround_bitten_into() -> None:
    body = cut(block(), [obround(20, 60, 30, 12, 21, 10), CORNERS["window"], box((5, 15, 6), (18, 28, 21))])
    found = one(body)
    assert (found.ends, found.length, found.width) == ("radiused radiused", pytest.approx(50), pytest.approx(10))
    same_when_rewritten(body, 3)


def test_a_corner_of_a_pocket_leaves_it_closed() -> None:
    pockets = [f for f in recognise(cut(block(), [box((20, 15, 12), (60, 35, 21)), CORNERS["pocket"]])) if f.depth == 8]
    assert [(f.class_, f.open_sides) for f in pockets] == [("closed_pocket", 0)]
    assert (pockets[0].length, pockets[0].width) == pytest.approx((40, 20))


WINDOW = box((30, 20, -1), (70, 40, 21))
FORK = box((-1, 20, -1), (40, 40, 21))


@pytest.mark.parametrize("inset", [0.0, 1.0])
@pytest.mark.parametrize("count", [1, 2, 4])
def test_a_window_with_relieved_corners_is_one(count: int, inset: float) -> None:
    """Holes in the corners of a window 40 x 20 through 20."""
    spots = [(30 + inset, 20 + inset), (70 - inset, 40 - inset), (30 + inset, 40 - inset), (70 - inset, 20 + inset)]
    body = cut(block(), [WINDOW, *(drill(x, y, -1, 21, 6) for x, y in spots[:count])])
    found = one(body, "closed_pocket")
    assert (found.length, found.width, found.depth) == pytest.approx((40, 20, 20))
    assert (found.bottom, found.open_sides) == ("through", 0)
    assert {f.class_ for f in recognise(body)} <= {"planar_face", "profile_feature", "round_hole", "closed_pocket"}
    assert len([f for f in recognise(body) if f.class_ == "round_hole"]) == count


def test_a_fork_with_relieved_corners() -> None:
    """20 wide and 40 long from the end: one relief leaves it as it is without, two let it be milled from above."""
    reliefs = [drill(40, 20, -1, 21, 6), drill(40, 40, -1, 21, 6)]
    whole, one_less = one(cut(block(), [FORK])), one(cut(block(), [FORK, reliefs[0]]))
    assert one_less.id == whole.id and one_less.access == whole.access
    body = cut(block(), [FORK, *reliefs])
    found = one(body, "open_pocket")
    assert (found.length, found.width, found.depth) == pytest.approx((40, 20, 20))
    assert (found.bottom, found.open_sides) == ("through", 1)
    same_when_rewritten(body, 1)


def test_a_relieved_corner_of_a_step_right_through() -> None:
    whole = one(cut(block(), [box((-1, -1, -1), (40, 40, 21))]), "step")
    assert one(cut(block(), [box((-1, -1, -1), (40, 40, 21)), drill(40, 40, -1, 21, 6)]), "step").id == whole.id


@pytest.mark.parametrize("leg", [1.0, 4.0, 6.0])
def test_a_slot_that_runs_out_near_the_end_of_a_broken_edge(leg: float) -> None:
    """Between it and the part's end the slant is shorter than wide: the slot is cut from above all the same."""
    stock = chamfered(block(), leg, lambda a, b: abs(a[0]) + abs(b[0]) < 1e-6 and at_height(20)(a, b))
    body = cut(stock, [box((-1, 5, 12), (60, 15, 21))])
    found = one(body)
    assert (found.length, found.width, found.depth) == pytest.approx((60, 10, 8))
    assert found.placement.axis == (0.0, 0.0, 1.0)
    if leg < 5:
        broken = one(body, "chamfer")
        assert (broken.length, broken.depth) == pytest.approx((60, leg))


def test_an_obround_passage_across_an_edge_has_no_chamfer() -> None:
    """12 long and 4 wide, at 45 degrees from the top to a side: one of its sides slants off both, as a chamfer does."""
    out = (math.sqrt(0.5), 0.0, -math.sqrt(0.5))
    frame = Frame(location=(98, 30, 18), axis=out, ref_direction=(0, 1, 0))
    ends = [cylinder(frame.to_world((x, 0, -15)), frame.to_world((x, 0, 15)), 4) for x in (-4.0, 4.0)]
    body = cut(block(), [fuse([box((-4, -2, -15), (4, 2, 15), frame), *ends])])
    assert {f.class_ for f in recognise(body)} == {"planar_face", "profile_feature", "slot"}
    found = one(body)
    assert (found.length, found.width, found.ends) == (pytest.approx(12), pytest.approx(4), "radiused radiused")
    assert {tuple(round(c, 6) for c in d) for d in found.access} == {
        tuple(round(way * c, 6) for c in out) for way in (1, -1)
    }


@pytest.mark.parametrize("turn", [45.0, 90.0, 120.0])
def test_two_keyways_in_one_bore_make_no_corner_that_it_relieves(turn: float) -> None:
    """8 wide and to 18.5 from the middle of a bore of 30, its wall between them: out of it their cheeks come at 14.4568
    = sqrt(15^2 - 4^2)."""
    lies = [
        Frame(location=(50, 30, 0), ref_direction=(math.cos(math.radians(a)), math.sin(math.radians(a)), 0))
        for a in (0.0, turn)
    ]
    body = cut(block(), [drill(50, 30, -1, 21, 30), *(box((0, -4, -1), (18.5, 4, 21), lie) for lie in lies)])
    ways = [f for f in recognise(body) if f.class_ == "slot"]
    assert [(f.width, f.length) for f in ways] == [(pytest.approx(8), pytest.approx(20))] * 2
    assert [f.depth for f in ways] == pytest.approx([18.5 - math.sqrt(15**2 - 4**2)] * 2)
    assert {f.class_ for f in recognise(body)} == {"planar_face", "profile_feature", "round_hole", "slot"}
