"""Shafts with keyways and flats up to a shoulder, and bosses that something parts, are whole; sizes are as drawn."""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, drill, pocket
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

UP, RIGHT = (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)
SHAFT = fuse([cylinder((0, 0, 0), (60, 0, 0), 30), cylinder((60, 0, 0), (100, 0, 0), 22)])
PLATE = fuse([box((0, 0, 0), (100, 60, 12)), drill(50, 30, 12, 30, 24)])


SQUARE = fuse([box((0, 0, 0), (100, 60, 12)), box((30, 18, 12), (70, 42, 30))])


def of_class(body: Body, *classes: str) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ in classes]


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def ids(body: Body) -> set[str]:
    return {f.id for f in recognise(body)}


@pytest.mark.parametrize(
    ("tool", "class_", "size", "access"),
    [
        (fuse([box((60, -3, 7.5), (85, 3, 20)), drill(85, 0, 7.5, 20, 6)]), "closed_pocket", (28, 6, 3.5), {UP}),
        (box((60, -3, 7.5), (101, 3, 20)), "slot", (40, 6, 3.5), {UP, RIGHT}),
        (box((60, -20, 8), (101, 20, 20)), "step", (2 * 57**0.5, 40, 3), {UP, RIGHT}),  # a flat: the chord at 8 mm
    ],
)
def test_what_is_cut_into_a_shaft_up_to_its_shoulder_leaves_both_whole(
    tool: Body, class_: str, size: tuple[float, float, float], access: set[tuple[float, float, float]]
) -> None:
    body = cut(SHAFT, [tool])
    (found,) = of_class(body, "closed_pocket", "slot", "step", "open_pocket", "region")
    assert (found.class_, set(found.access)) == (class_, access)
    assert (found.length, found.width, found.depth) == pytest.approx(size)
    names = ids(SHAFT)
    assert {f.id for f in recognise(body) if f.class_ in ("boss", "profile_feature")} <= names
    assert {f.id for f in recognise(body) if f.placement.location[0] == pytest.approx(60)} <= names | {found.id}


def test_another_encoding_of_a_keyway_up_to_a_shoulder() -> None:
    same_when_rewritten(cut(SHAFT, [box((60, -3, 7.5), (101, 3, 20))]), 2)


def test_two_flats_up_to_a_shoulder_leave_one_shaft() -> None:
    body = cut(SHAFT, [box((60, -20, 8), (101, 20, 20)), box((60, -20, -20), (101, 20, -8))])
    assert [f.diameter for f in of_class(body, "boss")] == pytest.approx([22]) and len(of_class(body, "step")) == 2


def test_a_flat_on_a_boss_of_a_plate_is_its_own_wall() -> None:
    body = cut(PLATE, [box((0, 38, 12), (100, 61, 31))])
    (boss,) = of_class(body, "boss", "step")
    assert (boss.width, boss.diameter) == (pytest.approx(20), None)


@pytest.mark.parametrize(
    "body",
    [
        PLATE,
        cut(block(z=30), [cut(pocket((10, 8, 18), (90, 52, 31), 6), [drill(50, 30, 17, 32, 24)])]),
        SQUARE,
    ],
)
@pytest.mark.parametrize(
    "slots", [[box((-1, 27, 8), (101, 33, 31))], [box((-1, 27, 8), (101, 33, 31)), box((47, -1, 8), (53, 61, 31))]]
)
def test_a_boss_that_deeper_slots_part_is_one(body: Body, slots: list[Body]) -> None:
    whole = {f.id for f in recognise(body) if f.class_ in ("boss", "closed_pocket")}
    parted = recesses(cut(body, slots))
    assert {f.id for f in parted if f.class_ != "slot"} == whole
    assert len([f for f in parted if f.class_ == "slot"]) == len(slots)


def test_another_encoding_of_a_parted_boss() -> None:
    same_when_rewritten(cut(SQUARE, [box((-1, 27, 8), (101, 33, 31))]), 4)


def test_walls_round_a_parted_floor_are_no_boss() -> None:
    """Four corner posts, and a slot deeper than the cross between them; a pocket open to one side, and one across."""
    posts = [box((-1, 10, 12), (101, 50, 21)), box((10, -1, 12), (90, 61, 21)), box((-1, 27, 8), (101, 33, 21))]
    open_ = [pocket((20, 10, 12), (120, 50, 21), 5), box((40, -1, 8), (46, 61, 21))]
    for tools in (posts, open_):
        assert sorted(f.class_ for f in recesses(cut(block(), tools))) == ["open_pocket", "slot"]


def test_halves_whose_flats_stand_on_the_floor_are_two_where_no_circle_makes_them_one() -> None:
    """Their slot is no deeper than the floor: round walls about one axis are one boss all the same."""
    slot = box((-1, 27, 12), (101, 33, 31))
    assert len(of_class(cut(PLATE, [slot]), "boss")) == 1
    assert len(of_class(cut(SQUARE, [slot]), "boss")) == 2
