"""A slot along a pocket's wall line, or over two of its corners: at every depth it is whole, and the pocket is one.

At one depth the pocket opens to the slot, as it does to a deeper one: a machinist clears the pocket with a wide cutter
up to the slot's line, and runs the slot with its own.
"""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, obround, pocket
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body


def told(body: Body) -> list[Feature]:
    return sorted((f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")), key=_class)


def _class(feature: Feature) -> str:
    return feature.class_


POCKET = pocket((30, 20, 11), (70, 45, 21), 4)


@pytest.mark.parametrize("floor", [8.0, 11.0])
@pytest.mark.parametrize("low", [20.0, 15.0])
def test_a_slot_along_a_pockets_side_is_whole_and_the_pocket_opens_to_it(floor: float, low: float) -> None:
    body = cut(block(), [POCKET, box((-1, low, floor), (101, low + 8, 21))])
    bay, slot = told(body)
    assert (slot.class_, slot.ends, bay.class_, bay.open_sides) == ("slot", "open open", "open_pocket", 1)
    assert (slot.length, slot.width, slot.depth) == pytest.approx((100, 8, 20 - floor))
    assert (bay.length, bay.width, bay.depth) == pytest.approx((40, 45 - low - 8, 9))
    assert bay.orthogonal_radius == pytest.approx(4)
    assert len(slot.access) == 3 and bay.access == ((0.0, 0.0, 1.0),)


def test_a_slot_closed_at_both_ends_is_whole_too_and_ids_stay() -> None:
    body = cut(block(), [POCKET, obround(15, 85, 20, 11, 21, 8)])
    bay, slot = told(body)
    assert (slot.ends, slot.length, slot.width) == ("radiused radiused", pytest.approx(78), pytest.approx(8))
    assert (bay.length, bay.width, bay.open_sides) == (pytest.approx(40), pytest.approx(21), 1)
    same_when_rewritten(body, 2)
    alone = told(cut(block(), [obround(15, 85, 20, 11, 21, 8)]))
    assert [f.id for f in alone] == [slot.id]


def test_pockets_on_both_sides_of_a_slot_are_one_each() -> None:
    others = [box((10, 20, 11), (35, 40, 21)), box((55, 5, 11), (90, 20, 21))]
    first, second, slot = told(cut(block(), [*others, box((-1, 15, 11), (101, 24, 21))]))
    assert sorted((f.length, f.width) for f in (first, second)) == [pytest.approx((25, 16)), pytest.approx((35, 10))]
    assert (slot.length, slot.width) == pytest.approx((100, 9))


@pytest.mark.parametrize(
    "arm",
    [
        box((45, 20, 11), (60, 45, 21)),  # less than twice as wide as the slot: a branch of its path
        box((30, 20, 11), (70, 31, 21)),  # less deep than the slot is wide: a wide place of it
        box((30, 20, 11), (70, 61, 21)),  # open at the far side: a T
    ],
)
def test_what_is_no_pocket_beside_a_slot_stays_one_with_it(arm: Body) -> None:
    (found,) = told(cut(block(), [arm, box((-1, 20, 11), (101, 28, 21))]))
    assert found.class_ == "open_pocket" and found.length == pytest.approx(100)
