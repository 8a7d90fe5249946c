"""Features that cut into one another still come out whole, and their walls for what they are."""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, prism
from tests.support.recognised import recognise
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)


def of_class(body: Body, name: str) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ == name]


@pytest.mark.parametrize("across", [box((-1, 10, 8), (101, 40, 32)), box((-1, 10, 25), (101, 40, 41))])
def test_a_passage_through_something_wider_is_one(across: Body) -> None:
    body = cut(block(z=40), [box((40, 20, -1), (52, 30, 41)), across])
    depth = 40 if len(of_class(body, "slot")) == 0 else 25
    (found,) = [f for f in of_class(body, "closed_pocket") if f.access == (UP, DOWN) or f.access == (DOWN, UP)]
    assert (found.length, found.width, found.depth) == pytest.approx((12, 10, depth))
    assert found.bottom == "through" and found.open_sides == 0


def test_windows_in_both_walls_of_a_channel_are_one_passage() -> None:
    body = cut(block(z=40), [box((-1, 15, 10), (101, 45, 41)), box((40, -1, 20), (50, 61, 32))])
    (found,) = of_class(body, "closed_pocket")
    assert (found.length, found.width, found.depth) == pytest.approx((12, 10, 60))
    assert len(found.faces) == 8


def test_pockets_from_both_sides_of_a_wall_are_two() -> None:
    body = cut(block(z=40), [box((40, 15, 25), (52, 30, 41)), box((40, 15, -1), (52, 30, 15))])
    assert [f.depth for f in of_class(body, "closed_pocket")] == pytest.approx([15, 15])


def test_what_two_passages_leave_of_a_third_belongs_to_it() -> None:
    # the passage along x is crossed by two that meet inside it: of its lower edge only a corner is left between them
    third = box((-1, 20, 10), (101, 40, 30))
    first = box((20, 15, -1), (48, 45, 41))
    second = box((52, 10, -1), (80, 36, 41))
    found = of_class(cut(block(z=40), [third, first, second]), "closed_pocket")
    assert sorted(f.depth or 0 for f in found) == pytest.approx([40, 40, 100])
    assert [f for f in recognise(cut(block(z=40), [third, first, second])) if f.class_ == "slot"] == []


def test_the_wall_of_a_passage_that_runs_out_into_a_slant_is_no_chamfer() -> None:
    # the window's floor is a short strip between the end face and the slope inside, at 90 and 37 degrees to them
    hollow = prism([(10.0, 41.0), (10.0, 10.0), (36.0, 10.0), (56.0, 25.0), (56.0, 41.0)], 10.0, 40.0)
    window = box((20, 30, 20), (30, 61, 30))
    assert of_class(cut(block(z=40), [hollow, window]), "chamfer") == []


def test_the_land_between_two_grooves_is_no_chamfer() -> None:
    grooves = [prism([(y - 8.0, 20.5), (y, 12.0), (y + 8.0, 20.5)], -1.0, 101.0) for y in (20.0, 37.0)]
    body = cut(block(), grooves)
    assert of_class(body, "chamfer") == []
    assert len(of_class(body, "slot")) == 2


def test_a_pocket_that_a_passage_crosses_above_its_floor_is_one() -> None:
    body = cut(block(z=40), [box((40, 20, 5), (52, 30, 41)), box((-1, 10, 15), (101, 40, 30))])
    (found,) = [f for f in of_class(body, "closed_pocket") if f.bottom == "planar"]
    assert (found.length, found.width, found.depth) == pytest.approx((12, 10, 35))
    assert found.access == (UP,) and len(found.faces) == 9


def test_a_three_cornered_pocket_that_a_deeper_slot_divides_is_one() -> None:
    corners = prism([(10.0, 10.0), (50.0, 10.0), (30.0, 50.0)], -1.0, 12.0)  # from the left side, 12 deep
    body = cut(block(z=60), [corners, box((-1, -1, 24), (20, 61, 28))])
    (found,) = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature", "slot")]
    assert found.depth == pytest.approx(12) and len(found.faces) == 7


def test_aligned_pockets_of_different_depth_beside_a_slot_stay_two() -> None:
    tools = [box((20, 20, 12), (45, 40, 21)), box((55, 20, 8), (80, 40, 21)), box((44, -1, 4), (56, 61, 21))]
    found = [f for f in recognise(cut(block(), tools)) if f.class_ in ("open_pocket", "slot")]
    assert sorted(round(f.depth or 0, 3) for f in found) == [8, 12, 16]
