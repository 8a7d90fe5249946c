"""Bosses that slots part, down to the floor they stand on and at the part's edge: a boss and a slot, sizes as drawn."""

from __future__ import annotations

import math

import pytest

from schemas.feature import Feature
from tests.recognise.parts import at_height, block, chamfered, drill, obround
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box
from worker.kernel.shape import Body

EDGE = box((-1, -50, 0), (101, 0, 50))


def boss_at(y: float) -> Body:
    """A boss of 30, 10 high, on a plate of 100 x 60 x 10, as far as that goes."""
    return fuse([block(z=10), cut(drill(50, y, 10, 20, 30), [EDGE])])


def told(body: Body) -> list[Feature]:
    found = (f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature"))
    return sorted(found, key=lambda f: f.class_)


def chord(off: float) -> float:
    """Of a circle of 30, so far from its middle (Pythagoras)."""
    return 2 * math.sqrt(15**2 - off**2)


@pytest.mark.parametrize("floor", [10.0, 15.0])
@pytest.mark.parametrize(
    ("y", "slot", "length"),
    [
        (30, (46, -1, 54, 61), 30),  # across a whole boss
        (30, (52, -1, 58, 61), chord(2)),  # beside its middle: as long as its longer side was
        (0, (46, -1, 54, 61), 15),  # half a boss at the part's edge, square to that
        (0, (-1, 5, 101, 10), chord(5)),  # along it
        (5, (-1, 8, 101, 14), chord(3)),  # more than half a boss
    ],
)
def test_a_slot_across_a_boss_parts_it_in_no_two(
    y: float, slot: tuple[float, float, float, float], length: float, floor: float
) -> None:
    a, b, c, d = slot
    body = cut(boss_at(y), [box((a, b, floor), (c, d, 21))])
    boss, across = told(body)
    assert (boss.class_, across.class_, across.ends) == ("boss", "slot", "open open")
    assert (boss.diameter, boss.length, boss.width, boss.height) == pytest.approx((30, 30, 30, 10))
    assert boss.placement.location == pytest.approx((50, y, 20))
    assert (across.length, across.width) == pytest.approx((length, min(c - a, d - b)))
    assert across.depth == pytest.approx(20 - floor) and len(across.access) == 3
    assert [f.id for f in told(boss_at(y))] == [boss.id]


def test_what_leads_half_way_into_a_boss_and_what_crosses_there() -> None:
    half = cut(boss_at(30), [box((46, 30, 10), (54, 61, 21))])
    boss, notch = told(half)
    assert (boss.diameter, notch.class_, notch.open_sides) == (pytest.approx(30), "open_pocket", 1)
    assert (notch.length, notch.width) == pytest.approx((15, 8))
    round_ = cut(boss_at(30), [box((46, 30, 10), (54, 61, 21)), drill(50, 30, 10, 21, 8)])
    boss, notch = told(round_)
    assert (boss.diameter, notch.ends, notch.length) == (pytest.approx(30), "open radiused", pytest.approx(19))
    cross = cut(boss_at(30), [box((46, -1, 10), (54, 61, 21)), box((-1, 27, 10), (101, 33, 21))])
    boss, *slots = told(cross)
    assert boss.diameter == pytest.approx(30) and [f.class_ for f in slots] == ["slot", "slot"]
    assert sorted((f.width, f.length) for f in slots) == [pytest.approx((6, 30)), pytest.approx((8, 30))]
    same_when_rewritten(cross, 2)


def test_a_flat_on_a_boss_is_no_slot_and_blocks_side_by_side_are_two() -> None:
    flat = cut(boss_at(30), [box((58, -1, 10), (80, 61, 21))])
    assert [f.class_ for f in told(flat)] == ["boss"]
    blocks = fuse([block(z=10), *(box((x, 15, 10), (x + 11, 45, 20)) for x in (35, 54))])
    assert [(f.class_, f.width) for f in told(blocks)] == [("boss", pytest.approx(11))] * 2


def test_a_block_into_which_a_deeper_slot_leads_is_a_boss() -> None:
    body = cut(fuse([block(z=10), box((35, 15, 10), (65, 45, 20))]), [box((46, 30, 7), (54, 61, 21))])
    boss, slot = told(body)
    assert (boss.length, boss.width, boss.height) == pytest.approx((30, 30, 10))
    assert (slot.class_, slot.length, slot.width, slot.depth) == ("slot", *map(pytest.approx, (30, 8, 13)))


def test_a_hole_takes_the_place_where_a_slot_ends_or_breaks_a_boss_open() -> None:
    """Beside the round end of a slot in a boss, and through its wall: the boss is told all the same."""
    notch = [box((46, 30, 10), (54, 61, 21)), drill(50, 30, 10, 21, 8)]
    boss, hole, slot = told(cut(boss_at(30), [*notch, drill(45, 30, -1, 21, 4)]))
    assert (boss.diameter, hole.diameter, slot.ends, slot.length) == (*map(pytest.approx, (30, 4)), "open radiused", 19)
    boss, hole = told(cut(boss_at(30), [drill(61, 30, -1, 21, 9)]))
    assert (boss.class_, boss.diameter, boss.height) == ("boss", pytest.approx(30), pytest.approx(10))
    assert (hole.diameter, hole.depth) == pytest.approx((9, 20))


def test_slots_that_cross_in_a_boss_one_of_them_deeper_leave_it_whole() -> None:
    body = cut(boss_at(30), [box((46, -1, 5), (54, 61, 21)), box((-1, 20, 10), (101, 27, 21))])
    boss, *slots = told(body)
    assert (boss.class_, boss.diameter, len(boss.faces)) == ("boss", pytest.approx(30), 4)
    sizes = sorted((f.depth, f.width, f.length) for f in slots)
    assert sizes == [pytest.approx((10, 7, chord(3))), pytest.approx((15, 8, 60))]


def test_what_a_deep_slot_leaves_of_a_boss_on_a_narrow_strip_is_of_the_boss() -> None:
    """Half a boss at the part's edge, and a strip of 2.4 between that and the slot: no step from aside."""
    body = cut(boss_at(-2), [box((-1, 2.4, 4), (101, 8.8, 21))])
    boss, slot = told(body)
    assert (boss.class_, boss.diameter, len(boss.faces)) == ("boss", pytest.approx(30), 3)
    assert (slot.length, slot.width, slot.depth) == pytest.approx((100, 6.4, 16))
    same_when_rewritten(body, 2)


@pytest.mark.parametrize("leg", [0.0, 1.0])
def test_notches_on_opposite_sides_between_which_the_boss_goes_on_are_two(leg: float) -> None:
    """Of 8 wide, their round ends' middles at 12 from the axis of a boss of 50: 8 + 5 = 17 long, as deep as it is high,
    a broken edge round their mouths counted in."""
    boss = cut(drill(50, 30, 10, 20, 50), [obround(0, 38, 30, 10, 21, 8), obround(62, 100, 30, 10, 21, 8)])
    if leg:
        boss = chamfered(boss, leg, at_height(20))
    body = fuse([block(z=10), boss])
    whole, *notches = told(body) if not leg else [f for f in told(body) if f.class_ != "chamfer"]
    assert (whole.class_, whole.diameter, whole.height) == ("boss", pytest.approx(50), pytest.approx(10))
    assert [(f.class_, f.ends, f.open_sides) for f in notches] == [("slot", "open radiused", 1)] * 2
    for notch, x in zip(sorted(notches, key=lambda f: f.placement.location), (33.5, 66.5), strict=True):
        assert (notch.length, notch.width, notch.depth) == pytest.approx((17, 8, 10))
        assert notch.placement.location == pytest.approx((x, 30, 20)) and len(notch.access) == 2
    if leg:
        same_when_rewritten(body, 3)
