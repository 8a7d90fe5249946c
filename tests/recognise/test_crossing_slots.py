"""Slots and pockets of equal depth that cross share a floor and still come out whole; sizes are as built."""

from __future__ import annotations

import pytest

from schemas.base import Vec3
from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround, pocket, prism
from tests.support.recognised import recognise
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box
from worker.kernel.shape import Body

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
RIGHT, LEFT = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)
BACK, FRONT = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)
ALONG = box((-1, 25, 12), (101, 35, 21))


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def sizes(found: list[Feature]) -> list[tuple[str, float | None, float | None, float | None]]:
    def n(value: float | None) -> float | None:
        return None if value is None else round(value, 3)

    return sorted((f.class_, n(f.length), n(f.width), n(f.depth)) for f in found)


def crosswise(y0: float, y1: float, x: float, z0: float, z1: float, width: float) -> Body:
    """An obround along Y, by its centres."""
    return fuse(
        [box((x - width / 2, y0, z0), (x + width / 2, y1, z1)), *(drill(x, y, z0, z1, width) for y in (y0, y1))]
    )


@pytest.mark.parametrize("width", [10.0, 15.0])
def test_two_slots_that_cross_are_whole(width: float) -> None:
    body = cut(block(), [ALONG, box((45, -1, 12), (45 + width, 61, 21))])
    found = recesses(body)
    assert sizes(found) == [("slot", 60, width, 8), ("slot", 100, 10, 8)]
    by_length = sorted(found, key=lambda f: f.length or 0)
    assert [set(f.access) for f in by_length] == [{UP, FRONT, BACK}, {UP, LEFT, RIGHT}]
    assert all(f.ends == "open open" and f.open_sides == 2 for f in found)
    assert len(set(by_length[0].faces) & set(by_length[1].faces)) == 1


def test_slots_that_cross_aslant_are_whole() -> None:
    slant = prism([(0.0, 12.0), (8.0, 12.0), (8.0, 21.0), (0.0, 21.0)], 0.0, 200.0)
    body = cut(block(), [ALONG, slanted(slant)])
    assert sorted((f.class_, round(f.width or 0, 6)) for f in recesses(body)) == [("slot", 8), ("slot", 10)]


def slanted(body: Body) -> Body:
    """Turned by 60 degrees about the part's corner and moved so that it crosses the middle."""
    import math

    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec

    turn, move = gp_Trsf(), gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), math.radians(60))
    move.SetTranslation(gp_Vec(5, -50, 0))
    return Body(BRepBuilderAPI_Transform(body.wrapped, move.Multiplied(turn), True).Shape())


def test_a_grid_of_slots() -> None:
    tools = [box((-1, y, 12), (101, y + 7, 21)) for y in (15, 40)] + [
        box((x, -1, 12), (x + 8, 61, 21)) for x in (25, 65)
    ]
    assert sizes(recesses(cut(block(), tools))) == [("slot", 60, 8, 8)] * 2 + [("slot", 100, 7, 8)] * 2


def test_a_slot_with_round_ends_that_another_crosses() -> None:
    found = recesses(cut(block(), [obround(20, 80, 30, 12, 21, 10), box((45, -1, 12), (55, 61, 21))]))
    assert sizes(found) == [("slot", 60, 10, 8), ("slot", 70, 10, 8)]
    assert {f.ends for f in found} == {"open open", "radiused radiused"}
    closed = next(f for f in found if f.ends == "radiused radiused")
    assert closed.access == (UP,) and closed.open_sides == 0


def test_slots_with_floor_fillets_that_cross() -> None:
    tools = fuse([pocket((-5, 25, 12), (105, 35, 21), 0, 2), pocket((45, -5, 12), (55, 65, 21), 0, 2)])
    found = recesses(cut(block(), [tools]))
    assert sizes(found) == [("slot", 60, 10, 8), ("slot", 100, 10, 8)]
    assert [f.planar_radius for f in found] == pytest.approx([2, 2])


@pytest.mark.parametrize("corner", [0.0, 5.0])
def test_a_slot_through_a_pocket_of_the_same_depth(corner: float) -> None:
    found = recesses(cut(block(), [pocket((30, 15, 12), (70, 45, 21), corner), box((-1, 26, 12), (101, 34, 21))]))
    assert sizes(found) == [("closed_pocket", 40, 30, 8), ("slot", 100, 8, 8)]


def test_round_ended_slots_right_through_that_cross() -> None:
    found = recesses(cut(block(), [obround(20, 80, 30, -1, 21, 10), crosswise(10, 50, 50, -1, 21, 8)]))
    assert sizes(found) == [("slot", 48, 8, 20), ("slot", 70, 10, 20)]
    assert all(f.ends == "radiused radiused" and set(f.access) == {UP, DOWN} for f in found)


@pytest.mark.parametrize(
    "tools",
    [
        [ALONG, box((45, -1, 12), (55, 30, 21))],  # a T
        [box((-1, 25, 12), (55, 35, 21)), box((45, -1, 12), (55, 35, 21))],  # an L
        [ALONG, box((45, -1, 12), (55, 30, 21)), box((43, 30, 12), (57, 61, 21))],  # a plus with unlike arms
        [box((-1, 10, 12), (101, 50, 21)), box((10, -1, 12), (90, 61, 21))],  # what four corner posts leave
    ],
)
def test_what_does_not_go_on_beyond_a_crossing_stays_one_open_pocket(tools: list[Body]) -> None:
    assert [f.class_ for f in recesses(cut(block(), tools))] == ["open_pocket"]


def test_pockets_in_line_right_through_stay_two() -> None:
    places: list[Vec3] = [(20, 20, -1), (60, 20, -1)]
    body = cut(block(), [box(p, (p[0] + 20, 40, 21)) for p in places])
    assert sizes(recesses(body)) == [("closed_pocket", 20, 20, 20)] * 2


def test_a_pocket_with_stepped_corners_stays_whole() -> None:
    """Two areas that cross, 60 x 34 and 50 x 40 mm: neither is longer than wide enough to be a slot."""
    body = cut(block(), [fuse([box((20, 13, 12), (80, 47, 21)), box((25, 10, 12), (75, 50, 21))])])
    assert sizes(recesses(body)) == [("closed_pocket", 60, 40, 8)]
