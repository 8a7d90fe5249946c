"""Slots of one depth that cross, with windows that take a stretch or a corner of them; pockets open at a corner."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from tests.recognise.parts import block, pocket, rounded, upright
from tests.support.recognised import recognise
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

SLOTS = [box((-1, 12, 12), (101, 20, 21)), box((70, -1, 12), (80, 61, 21))]
WINDOWS = {
    "in one wall": box((40, 8, -1), (55, 14, 21)),
    "right across": box((40, 8, -1), (55, 24, 21)),
    "at the crossing": box((66, 16, -1), (73, 24, 21)),
}


@pytest.mark.parametrize("window", WINDOWS.values(), ids=WINDOWS)
def test_slots_that_cross_stay_whole_beside_a_window(window: Body) -> None:
    whole = {f.id: f for f in recognise(cut(block(), SLOTS)) if f.class_ == "slot"}
    found = {f.id: f for f in recognise(cut(block(), [*SLOTS, window])) if f.class_ == "slot"}
    assert sorted((f.length, f.width, f.depth) for f in found.values()) == [(60, 10, 8), (100, 8, 8)]
    assert found.keys() == whole.keys()
    assert all(set(found[id].access) == set(whole[id].access) for id in whole)


@pytest.mark.parametrize("turn", [5, 12, 20])
@pytest.mark.parametrize("aside", [0.0, 1.5])
def test_a_slot_takes_the_flanks_of_an_obround_pocket_at_its_round_ends(turn: float, aside: float) -> None:
    """60 x 12, crossed by 8 of its depth so flat that a wall of one has but one piece: both keep ids and sizes."""
    line = (math.cos(math.radians(turn)), math.sin(math.radians(turn)), 0.0)
    lie = Frame(location=(50, 30 + aside, 12), ref_direction=line)
    ends = [lie.to_world((x, 0.0, z)) for x in (-24, 24) for z in (0, 9)]
    obround = [box((-24, -6, 0), (24, 6, 9), lie), *(cylinder(a, b, 12) for a, b in (ends[:2], ends[2:]))]
    across = box((-1, 26, 12), (101, 34, 21))
    alone = {f.id for tools in ([across], obround) for f in recognise(cut(block(), tools)) if f.class_ == "slot"}
    found = [f for f in recognise(cut(block(), [across, *obround])) if f.depth == pytest.approx(8)]
    assert {f.id for f in found} == alone and len(alone) == 2
    told = sorted((f.length, f.width, f.ends) for f in found)
    assert told == [(pytest.approx(60), pytest.approx(12), "radiused radiused"), (100, pytest.approx(8), "open open")]


@pytest.mark.parametrize("turn", [0, 12, 25])
def test_a_slot_takes_the_corners_of_a_pocket_that_it_leads_through(turn: float) -> None:
    """40 x 16 with rounds of 4: at 12 degrees the slot takes most of a corner; an end of it has but one piece."""
    lie = Frame(location=(50, 31, 0), ref_direction=(math.cos(math.radians(turn)), math.sin(math.radians(turn)), 0.0))
    pocket_ = rounded(box((-20, -8, 12), (20, 8, 21), lie), 4, upright)
    across = box((-1, 27, 12), (101, 33, 21))
    alone = {f.id for tool in (across, pocket_) for f in recognise(cut(block(), [tool])) if f.depth == pytest.approx(8)}
    found = [f for f in recognise(cut(block(), [across, pocket_])) if f.depth == pytest.approx(8)]
    assert {f.id for f in found} == alone and {f.class_ for f in found} == {"slot", "closed_pocket"}


@pytest.mark.parametrize("end", [2.0, 5.0, 12.0])
def test_an_end_that_a_deeper_slot_cuts_off_is_its_slots(end: float) -> None:
    """Its floor is less long than the walls are high, or more: seen from the cut a short one is a pocket."""
    blind, across = box((40, -1, 12), (48, 40 + end, 21)), box((-1, 32, 6), (101, 40, 21))
    alone = {f.id for tool in (blind, across) for f in recognise(cut(block(), [tool])) if f.class_ == "slot"}
    found = [f for f in recognise(cut(block(), [blind, across])) if f.class_ not in ("planar_face", "profile_feature")]
    assert {f.id for f in found} == alone and len(found) == 2


@pytest.mark.parametrize("narrow", [0.0, 6.0])
def test_a_flat_hole_where_slots_cross_leaves_them_both(narrow: float) -> None:
    """A hole of 18, as deep as they are, with or without a through hole in its floor."""
    head = [cylinder((75, 16, 12), (75, 16, 21), 18)]
    more = [cylinder((75, 16, -1), (75, 16, 21), narrow)] if narrow else []
    whole = {f.id for f in recognise(cut(block(), SLOTS)) if f.class_ == "slot"}
    found = recognise(cut(block(), [*SLOTS, *head, *more]))
    assert {f.id for f in found if f.class_ in ("slot", "open_pocket", "closed_pocket")} == whole
    assert [f.depth for f in found if f.diameter == pytest.approx(18)] == [pytest.approx(8)]


def test_a_pocket_open_at_its_corners_stays_open_when_a_slot_crosses_it() -> None:
    """60 x 30 with rounds of 4, turned by 70 degrees: two of its corners lie past the part's sides."""
    lie = Frame(location=(50, 30, 0), ref_direction=(0.3420201433, 0.9396926208, 0))
    tool = rounded(box((-30, -15, 12), (30, 15, 21), lie), 4, upright)
    for more in ([], [box((-1, 26, 8), (101, 34, 21))]):
        (found,) = [f for f in recognise(cut(block(), [tool, *more])) if f.depth == pytest.approx(8)]
        assert (found.class_, found.open_sides) == ("open_pocket", 2)


def test_a_slot_meets_no_pocket_that_is_none() -> None:
    """Two crossing slots with a window flush with one's wall: as wide as the part, they are open all round."""
    body = cut(block(), [*SLOTS, pocket((40, 12, -1), (55, 16, 21))])
    assert not [f for f in recognise(body) if f.class_ == "closed_pocket" and f.depth == pytest.approx(8)]


def along(x: float, y: float, degrees: float, width: float, length: float = 300.0) -> Body:
    """A slot's volume through a place, turned by some degrees."""
    turn = math.radians(degrees)
    lie = Frame(location=(x, y, 12), ref_direction=(math.cos(turn), math.sin(turn), 0.0))
    return box((-length / 2, -width / 2, 0), (length / 2, width / 2, 9), lie)


@pytest.mark.parametrize("degrees", [30.96375653, 45, 20])
def test_a_slot_out_of_the_parts_corner_is_as_long_where_another_crosses_it(degrees: float) -> None:
    slot = along(100, 60, degrees, 8)
    (alone,) = [f for f in recognise(cut(block(), [slot])) if f.class_ == "slot"]
    both = [f for f in recognise(cut(block(), [slot, along(60, 30, 90, 6)])) if f.class_ == "slot"]
    assert len(both) == 2 and alone.id in {f.id for f in both}
    farthest = 100 * math.cos(math.radians(degrees)) + 60 * math.sin(math.radians(degrees))
    (slanting,) = [f for f in both if f.id == alone.id]
    end = sum(a * b for a, b in zip(slanting.placement.location, slanting.placement.x, strict=True))
    assert abs(end) + (slanting.length or 0) / 2 == pytest.approx(farthest)


@pytest.mark.parametrize("corner", [0.0, 4.0])
@pytest.mark.parametrize("slots", [(36.8699,), (30,), (36.8699, -36.8699)])
def test_slots_over_opposite_corners_of_a_pocket_leave_it_whole(slots: tuple[float, ...], corner: float) -> None:
    """40 x 30 as deep as the slots; in pieces of two walls each, or of one."""
    recess = pocket((30, 15, 12), (70, 45, 21), corner)
    (alone,) = [f for f in recognise(cut(block(), [recess])) if f.class_ == "closed_pocket"]
    body = cut(block(), [recess, *(along(50, 30, turn, 12) for turn in slots)])
    found = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    assert sorted(f.class_ for f in found) == ["closed_pocket", *["slot"] * len(slots)]
    (whole,) = [f for f in found if f.class_ == "closed_pocket"]
    assert (whole.length, whole.width, whole.depth, whole.open_sides) == pytest.approx((40, 30, 8, 0))
    assert whole.id == alone.id
    assert [f.width for f in found if f.class_ == "slot"] == pytest.approx([12] * len(slots))
