"""A slot keeps its round ends where a hole stands in their axis; closed forms: length over the ends, half the width."""

from __future__ import annotations

import pytest

from bench.reencode import as_nurbs, reencoded, split, turned
from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cone
from worker.kernel.shape import Body

SLOT = obround(30, 60, 30, 14, 21, 8)
HAIRS = (0.0, 1e-7, -1e-7, 1e-5, -1e-5, 1e-3, -1e-3, 4.9e-3, -4.9e-3, 9.9e-3, -9.9e-3, 0.02, -0.02, 0.25, -0.25, 0.5)


def at_end(more: float, bottom: float = -1.0, x: float = 60.0) -> Body:
    """A hole in a round end; ``more``: by how much its radius is larger."""
    return drill(x, 30, bottom, 21, 8 + 2 * more)


def slots(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ == "slot"]


def holes(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ == "round_hole"]


def holds(slot: Feature, plain: Feature) -> None:
    """The slot is told as it is without holes."""
    assert (slot.id, slot.ends, slot.open_sides) == (plain.id, "radiused radiused", 0)
    assert (slot.length, slot.width, slot.depth) == pytest.approx((38, 8, 6), abs=1e-6)
    assert slot.orthogonal_radius == pytest.approx(4, abs=1e-6)
    assert slot.placement.location == pytest.approx((45, 30, 20), abs=1e-6)
    assert slot.access == plain.access


@pytest.fixture(scope="module")
def plain() -> Feature:
    (found,) = slots(cut(block(), [SLOT]))
    return found


@pytest.mark.parametrize("more", HAIRS)
def test_a_hole_at_one_end_leaves_the_slot_closed(plain: Feature, more: float) -> None:
    body = cut(block(), [SLOT, at_end(more)])
    (slot,), (hole,) = slots(body), holes(body)
    holds(slot, plain)
    assert hole.diameter == pytest.approx(8 + 2 * more)
    assert hole.placement.location[:2] == pytest.approx((60, 30), abs=1e-6)


@pytest.mark.parametrize("more", [0.0, -1e-7, 1e-3, -0.25])
def test_so_do_holes_at_both_ends_and_in_the_middle(plain: Feature, more: float) -> None:
    ends = [at_end(more), at_end(more, x=30)]
    for tools, count in ((ends, 2), ([*ends, drill(45, 30, -1, 21, 9)], 3), ([drill(45, 30, -1, 21, 8 + more)], 1)):
        body = cut(block(), [SLOT, *tools])
        (slot,) = slots(body)
        holds(slot, plain)
        assert len(holes(body)) == count


@pytest.mark.parametrize("tools", [[at_end(0, 8)], [at_end(0), cone((60, 30, 21), (60, 30, 19), 12, 8)]])
def test_so_do_blind_and_chamfered_holes(plain: Feature, tools: list[Body]) -> None:
    (slot,) = slots(cut(block(), [SLOT, *tools]))
    assert (slot.id, slot.ends, slot.length) == (plain.id, "radiused radiused", pytest.approx(38))


def test_the_name_of_a_hole_is_that_without_a_slot() -> None:
    (alone,), (hole,) = holes(cut(block(), [at_end(0)])), holes(cut(block(), [SLOT, at_end(0)]))
    assert hole.id == alone.id


def test_a_slot_from_the_side_stays_open_there_alone() -> None:
    (slot,) = slots(cut(block(), [box((-1, 26, 14), (60, 34, 21)), at_end(0)]))
    assert (slot.ends, slot.open_sides, slot.length) == ("open radiused", 1, pytest.approx(64))


def test_a_flat_end_stays_flat() -> None:
    (slot,) = slots(cut(block(), [box((30, 26, 14), (60, 34, 21)), at_end(0)]))
    assert (slot.ends, slot.length, slot.orthogonal_radius) == ("flat radiused", pytest.approx(34), None)


@pytest.mark.parametrize("space", [drill(60, 30, -1, 21, 16.1), drill(60, 30, 17, 21, 20)])
def test_a_much_wider_space_is_what_the_slot_opens_into(space: Body) -> None:
    (slot,) = slots(cut(block(), [SLOT, at_end(0), space]))
    assert (slot.ends, slot.open_sides) == ("open radiused", 1)


@pytest.mark.parametrize(
    "hole",
    [
        drill(60, 30, -1, 21, 12),  # a keyhole
        drill(60, 30, 14, 21, 12),  # as deep as the slot
        drill(57, 30, -1, 21, 12),  # some of the slot's end stands beyond it
        drill(63, 30, -1, 21, 8.5),  # some of it stands on both sides
        drill(60, 33, -1, 21, 8.5),  # ... on one
        drill(60, 32, -1, 21, 12),  # off the middle, and takes all of it
    ],
)
def test_a_keyhole_leaves_its_slot_as_it_was(plain: Feature, hole: Body) -> None:
    body = cut(block(), [SLOT, hole])
    (slot,), (head,) = slots(body), holes(body)
    holds(slot, plain)
    assert head.diameter in (pytest.approx(12), pytest.approx(8.5))
    same_when_rewritten(body, 1)


def test_so_do_keyholes_at_both_ends_and_right_through() -> None:
    heads = [drill(x, 30, -1, 21, 20) for x in (36, 64)]
    (slot,) = slots(cut(block(), [obround(30, 70, 30, 12, 21, 16), *heads]))
    assert (slot.ends, slot.open_sides, slot.length, slot.width) == ("radiused radiused", 0, 56, 16)
    (slot,) = slots(cut(block(), [obround(30, 60, 30, -1, 21, 8), drill(60, 30, -1, 21, 12)]))
    assert (slot.ends, slot.bottom, slot.length, slot.width) == ("radiused radiused", "through", 38, 8)


def test_a_deeper_slot_beyond_the_hole_leaves_no_end() -> None:
    found = slots(cut(block(), [SLOT, obround(60, 80, 30, 10, 21, 8), at_end(0)]))
    assert sorted((f.depth, f.ends) for f in found) == [(6.0, "open radiused"), (10.0, "open radiused")]


@pytest.mark.parametrize("more", [0.0, -1e-3])
def test_another_encoding_gives_the_same_slot(plain: Feature, more: float) -> None:
    body = cut(block(), [SLOT, at_end(more), at_end(more, x=30)])
    ids = [f.id for f in recognise(body)]
    for other, in_place in ((reencoded(body, 3), False), (as_nurbs(body), True), (split(body, 5), True)):
        found = recognise(other[0])
        (slot,) = [f for f in found if f.class_ == "slot"]
        assert (slot.ends, slot.open_sides, slot.length) == ("radiused radiused", 0, pytest.approx(38, abs=1e-4))
        assert not in_place or [f.id for f in found] == ids
    (slot,) = slots(turned(body, 9)[0])
    assert (slot.ends, slot.length) == ("radiused radiused", pytest.approx(38, abs=1e-4))


EATEN = {
    "a deeper pocket": [box((73, 15, 5), (90, 45, 21))],
    "most of the tip": [box((70.5, 15, 5), (90, 45, 21))],
    "a window": [box((73, 15, -1), (90, 45, 21))],
    "a narrow pocket": [box((73, 28, 5), (90, 32, 21))],
    "a deeper slot across": [box((72, -1, 6), (80, 61, 21))],
    "both tips": [box((73, 15, 5), (90, 45, 21)), box((10, 15, 4), (26, 45, 21))],
}


@pytest.mark.parametrize("tools", EATEN.values(), ids=EATEN)
def test_a_round_end_whose_tip_something_took_still_says_how_long_the_slot_is(tools: list[Body]) -> None:
    """40 from centre to centre and 10 wide: 50 long, its middle half-way, as it is without what takes the tip."""
    plain = cut(block(), [obround(30, 70, 30, 10, 21, 10)])
    (alone,) = [f for f in recognise(plain) if f.class_ == "slot"]
    eaten = cut(plain, tools)
    for body in (eaten, reencoded(eaten, 3)[0]):
        (found,) = [f for f in recognise(body) if f.class_ == "slot" and "radiused" in (f.ends or "")]
        assert (found.ends, found.open_sides) == ("radiused radiused", 0)
        assert (found.length, found.width, found.depth) == pytest.approx((50, 10, 10))
    (found,) = [f for f in recognise(eaten) if f.id == alone.id]
    assert found.placement.location == pytest.approx((50, 30, 20))


def test_a_slot_that_the_parts_side_cuts_off_is_as_long_as_what_is_left() -> None:
    (found,) = [f for f in recognise(cut(block(x=73), [obround(30, 70, 30, 10, 21, 10)])) if f.class_ == "slot"]
    assert (found.ends, found.length) == ("open radiused", pytest.approx(48))
