"""Slots of one depth that cross, with windows that take a stretch or a corner of them; pockets open at a corner."""

from __future__ import annotations

import pytest

from schemas.base import Frame
from tests.recognise.parts import block, pocket, rounded, upright
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body
from worker.recognise import recognise

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
