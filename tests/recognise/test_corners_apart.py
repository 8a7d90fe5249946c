"""Pockets with round corners, little wider than a deeper slot that runs through them: it takes the flat of their ends.

They are as long as the cutter went, 4 mm corners and all: sizes are those that the tools were drawn with.
"""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, pocket
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

SLOT = box((-1, 24, 5), (101, 36, 21))
"""12 wide and 15 deep, right through along X."""


def recess(start: float, end: float, width: float, deep: float = 5) -> Body:
    """Its middle along that of the slot; out past the part where it ends beyond that."""
    whole = pocket((start, 30 - width / 2, 20 - deep), (end, 30 + width / 2, 21), 4)
    return cut(whole, [box((102, 0, 0), (150, 60, 30))])


def told(body: Body) -> tuple[Feature, Feature]:
    """The slot and the recess over it."""
    found = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    slot, other = sorted(found, key=lambda f: f.width != pytest.approx(12))
    assert (slot.class_, slot.ends, slot.length) == ("slot", "open open", pytest.approx(100))
    return slot, other


@pytest.mark.parametrize("width", [13.0, 16.0, 19.9, 22.0])
def test_a_closed_pocket_is_as_long_as_it_was_drawn(width: float) -> None:
    body = cut(block(), [SLOT, recess(40, 65, width)])
    _, found = told(body)
    assert (found.class_, found.open_sides) == ("closed_pocket", 0)
    assert (found.length, found.width, found.depth) == pytest.approx((25, width, 5))
    if width == 16:
        same_when_rewritten(body, 3)


@pytest.mark.parametrize(("start", "class_", "ends"), [(75.0, "open_pocket", None), (40.0, "slot", "open flat")])
def test_one_from_the_end_of_the_part_is_open_there_alone(start: float, class_: str, ends: str | None) -> None:
    """Twice as long as wide it is a slot, as without the deeper one."""
    body = cut(block(), [SLOT, recess(start, 130, 16)])
    _, found = told(body)
    assert (found.class_, found.ends, found.open_sides) == (class_, ends, 1)
    assert (found.length, found.width, found.depth) == pytest.approx((100 - start, 16, 5))
    (plain,) = (f for f in recognise(cut(block(), [recess(start, 130, 16)])) if f.class_ == class_)
    assert (plain.ends, plain.open_sides, plain.length) == (ends, 1, pytest.approx(100 - start))
    if ends:
        same_when_rewritten(body, 2)


@pytest.mark.parametrize("corner", [0.0, 2.0])
def test_a_wide_slot_along_a_deeper_one_that_leaves_some_of_its_end_is_a_slot(corner: float) -> None:
    """18 wide: the gap in its end begins at the deeper slot, and leads out of the part at the far side alone."""
    whole = pocket((60, 21, 12), (130, 39, 21), corner)
    _, found = told(cut(block(), [SLOT, cut(whole, [box((102, 0, 0), (150, 60, 30))])]))
    assert (found.class_, found.ends, found.open_sides) == ("slot", "open flat", 1)
    assert (found.length, found.width, found.depth) == pytest.approx((40, 18, 8))
