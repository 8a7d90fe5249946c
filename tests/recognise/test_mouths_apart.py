"""Countersinks, heads and mouth chamfers that a wide slot cuts off from their hole belong to it; sizes are as drawn."""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, drill
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cone
from worker.kernel.shape import Body


def told(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def sunk(top: float) -> Body:
    """A hole of 8 with a mouth of 90 degrees, up to ``top`` wide."""
    return fuse([drill(50, 30, -1, 21, 8), cone((50, 30, 21), (50, 30, 20 - (top - 8) / 2), top + 2, 8)])


SLOT, CROSS = box((-1, 25, 12), (101, 35.5, 21)), box((47, -1, 12), (52, 61, 21))


@pytest.mark.parametrize("slots", [[SLOT], [box((-1, 28, 12), (101, 35, 21)), CROSS]])
def test_what_slots_leave_of_a_countersink_is_it(slots: list[Body]) -> None:
    body = cut(block(), [sunk(16), *slots])
    (whole,) = [f for f in told(body) if f.class_ == "countersunk_hole"]
    assert (whole.diameter, whole.top_diameter, whole.depth, whole.angle) == pytest.approx((8, 16, 20, 90))
    (head,) = [f for f in told(body) if f.parent == whole.id and f.angle]
    assert (head.top_diameter, head.depth) == pytest.approx((16, 4)) and len(head.faces) > 1
    assert len([f for f in told(body) if f.bottom == "radiused"]) == 0
    same_when_rewritten(body, 3)


def test_what_a_slot_leaves_of_a_broken_mouth_is_one_chamfer() -> None:
    body = cut(block(), [sunk(12), SLOT])
    chamfer, hole, slot = sorted(told(body), key=lambda f: f.class_)
    assert (chamfer.class_, hole.class_, slot.class_) == ("chamfer", "round_hole", "slot")
    assert (chamfer.diameter, chamfer.top_diameter, chamfer.depth, chamfer.width) == pytest.approx((8, 12, 2, 2))
    assert len(chamfer.faces) == 2 and hole.depth == pytest.approx(12)


@pytest.mark.parametrize("cutter", [SLOT, box((-1, 27, 12), (101, 50, 21)), box((46, 26, 12), (90, 50, 21))])
def test_what_a_slot_or_a_pocket_leaves_of_a_head_is_a_counterbore(cutter: Body) -> None:
    """Two pieces of the head, one, or one round a pocket's corner; the hole begins in the cutter's floor."""
    body = cut(block(), [drill(50, 30, -1, 21, 6), drill(50, 30, 15, 21, 16), cutter])
    (whole,) = [f for f in told(body) if f.class_ == "counterbore_hole"]
    assert (whole.diameter, whole.top_diameter, whole.depth) == pytest.approx((6, 16, 20))
    assert sorted(f.depth or 0 for f in told(body) if f.parent == whole.id) == pytest.approx([5, 12])
    same_when_rewritten(body, 3)


def test_holes_of_two_sizes_through_a_forks_cheeks_are_two() -> None:
    """Neither has a floor; they are drilled one after the other, from both sides or through the wider."""
    cheeks = [drill(50, 30, 14, 21, 16), drill(50, 30, -1, 7, 8), box((-1, -1, 6), (101, 61, 14))]
    body = cut(block(), [cut(cheeks[2], [box((-2, -2, 5), (10, 62, 15))]), *cheeks[:2]])
    found = [f for f in told(body) if "hole" in f.class_]
    assert [(f.class_, f.parent) for f in found] == [("round_hole", None)] * 2


def test_a_mouth_beside_its_axis_is_none_of_the_holes() -> None:
    """A hole of 8 in the slot's floor, 0.3 beside the axis of what is left of a cone."""
    pit = cone((50, 30, 21), (50, 30, 16), 18, 8)
    body = cut(block(), [pit, drill(50.3, 30, -1, 13, 8), SLOT])
    assert not [f for f in told(body) if f.class_ == "countersunk_hole"]
