"""Floors with a slot, an undercut or a relief between them and their wall: sizes as built."""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, drill, prism
from tests.recognise.test_channels import UP, along_x, recesses, sizes, undercuts
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

STEP = box((-1, -1, 25), (101, 30, 41))
"""30 wide, 15 deep, in a block 40 high."""


def of_class(body: Body, class_: str) -> list[Feature]:
    return [f for f in recesses(body) if f.class_ == class_]


@pytest.mark.parametrize(
    ("relief", "class_", "wanted"),
    [
        (box((-1, 28, 22), (101, 30, 41)), "slot", (100, 2, 3)),  # in the floor
        (box((-1, 28, 25), (101, 32, 27)), "slot", (100, 2, 2)),  # in the wall
        (prism([(28.0, 25.0), (30.0, 23.0), (32.0, 25.0), (30.0, 27.0)], -1, 101), "slot", (100, 8**0.5, 8**0.5)),
        (cylinder((-1, 30, 25), (101, 30, 25), 3), "round_hole", (None, None, 100)),
    ],
)
def test_a_relief_at_its_inner_corner_takes_no_step(
    relief: Body, class_: str, wanted: tuple[float | None, ...]
) -> None:
    body = cut(block(z=40), [STEP, relief])
    (step,), (found,) = of_class(body, "step"), of_class(body, class_)
    assert len(recesses(body)) == 2
    assert step.length == pytest.approx(100) and {round(step.width or 0, 6), round(step.depth or 0, 6)} == {30, 15}
    assert {UP, (0.0, -1.0, 0.0)} <= set(step.access) and len(step.access) == 4
    assert sizes(found) == pytest.approx(wanted)
    if class_ == "slot":
        same_when_rewritten(body, 2)


def test_a_slot_with_both_corners_relieved_is_one() -> None:
    reliefs = [box((-1, y, 23), (101, y + 2, 41)) for y in (20, 38)]
    found = of_class(cut(block(z=40), [box((-1, 20, 25), (101, 40, 41)), *reliefs]), "slot")
    assert sorted(sizes(f) for f in found) == [pytest.approx((100, 2, 2))] * 2 + [pytest.approx((100, 20, 15))]
    assert all(UP in f.access and f.ends == "open open" for f in found)


def test_a_step_whose_relief_and_wall_something_crosses_is_one() -> None:
    across = box((40, -1, 20), (50, 61, 41))
    body = cut(block(z=40), [STEP, box((-1, 28, 22), (101, 30, 41)), across])
    (step,) = of_class(body, "step")
    assert sizes(step) == pytest.approx((100, 30, 15)) and UP in step.access
    assert sorted(sizes(f) for f in of_class(body, "slot")) == [
        pytest.approx((60, 10, 20)),
        pytest.approx((100, 2, 3)),
    ]


def test_a_slot_wider_than_the_floor_beside_it_has_a_step_in_its_wall() -> None:
    body = cut(block(z=40), [box((-1, 20, 10), (101, 40, 41)), box((-1, 40, 30), (101, 45, 41))])
    assert [sizes(f) for f in of_class(body, "slot")] == [pytest.approx((100, 20, 30))]
    assert [sizes(f) for f in of_class(body, "step")] == [pytest.approx((100, 5, 10))]


def test_an_island_close_to_its_pockets_wall_gets_no_step() -> None:
    pocket = cut(box((10, 10, 20), (90, 50, 41)), [box((30, 12, -1), (70, 48, 35))])
    assert {f.class_ for f in recesses(cut(block(z=40), [pocket]))} == {"closed_pocket", "boss"}


@pytest.mark.parametrize(
    ("low", "high", "class_", "wanted"),
    [
        (24, 55, "slot", (100, 31, 10)),  # from a wall of the neck to beyond it
        (10, 36, "slot", (100, 26, 10)),
        (19, 50, "slot", (100, 31, 10)),  # its wall in the plane of the foot's side
        (24, 61, "step", (100, 36, 10)),
    ],
)
def test_a_wide_slot_flush_with_a_t_slot(low: float, high: float, class_: str, wanted: tuple[float, ...]) -> None:
    body = cut(block(z=40), [*along_x(-1, 101), box((-1, low, 30), (101, high, 41))])
    (undercut,) = undercuts(body, "T-slot")
    assert sizes(undercut) == pytest.approx((100, 22, 19)) and undercut.ends == "open open"
    (plain,) = [f for f in recesses(body) if not f.undercut]
    assert plain.class_ == class_ and sizes(plain) == pytest.approx(wanted) and UP in plain.access
    same_when_rewritten(body, 4)


def test_a_hole_in_the_step_that_a_relief_cuts_off_stays_a_hole() -> None:
    body = cut(block(z=40), [STEP, box((-1, 28, 22), (101, 30, 41)), drill(50, 14, -1, 41, 8)])
    (hole,), (step,) = of_class(body, "round_hole"), of_class(body, "step")
    assert (hole.diameter, hole.depth) == pytest.approx((8, 25)) and sizes(step) == pytest.approx((100, 30, 15))


@pytest.mark.parametrize(
    ("low", "relief"),
    [
        (30, box((-1, 23.5, 26), (101, 26.5, 40))),
        (38, box((-1, 23.5, 34), (101, 26.5, 41))),
        (30, cylinder((-1, 25, 30), (101, 25, 30), 4)),
    ],
)
def test_a_relief_at_its_bottom_takes_no_vee(low: float, relief: Body) -> None:
    """40 wide at the top of a block 50 high; its planes would meet at the height of ``low``."""
    planes = prism([(25.0, low), (46.0, 50 + (50 - low) / 20), (4.0, 50 + (50 - low) / 20)], -1, 101)
    body = cut(box((0, 0, 0), (100, 50, 50)), [planes, relief])
    (vee,) = [f for f in of_class(body, "slot") if f.bottom == "general"]
    assert (vee.length, vee.width, vee.ends) == (pytest.approx(100), pytest.approx(40), "open open")
    assert UP in vee.access and of_class(body, "step") == []
    same_when_rewritten(body, 2)


@pytest.mark.parametrize(
    ("groove", "wanted"),
    [
        (box((-1, 10, 22), (101, 14, 41)), (100, 4, 3)),
        (cylinder((-1, 10, 25), (101, 10, 25), 4), (100, 4, 2)),
        (cylinder((-1, 27, 25), (101, 27, 25), 4), (100, 4, 2)),  # 1 from the wall: seen from aside it is the step
    ],
)
def test_a_groove_along_its_floor_divides_no_step(groove: Body, wanted: tuple[float, ...]) -> None:
    body = cut(block(z=40), [STEP, groove])
    (step,), (slot,) = of_class(body, "step"), of_class(body, "slot")
    assert sizes(step) == pytest.approx((100, 30, 15)) and len(step.faces) == 3
    assert UP in step.access and sizes(slot) == pytest.approx(wanted)
    same_when_rewritten(body, 3)
