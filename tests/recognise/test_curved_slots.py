"""Kidney slots, ring grooves, pockets with something standing in them or a floor that slopes; sizes by hand."""

from __future__ import annotations

import math

import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon, BRepBuilderAPI_Transform
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec

from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround, pocket, prism, rounded, upright
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import common, cut, fuse
from worker.kernel.measure import volume
from worker.kernel.primitives import box
from worker.kernel.shape import Body

OUTSIDE = ("planar_face", "profile_feature")


def inside(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in OUTSIDE]


def arc(radius: float, width: float, start: float, turn: float, low: float, high: float) -> Body:
    """A slot's volume round (50, 30) with flat ends: the middle runs on the radius from one angle on (rad)."""
    wall = cut(drill(50, 30, low, high, 2 * radius + width), [drill(50, 30, low - 1, high + 1, 2 * radius - width)])
    polygon = BRepBuilderAPI_MakePolygon()
    polygon.Add(gp_Pnt(50, 30, low))
    for i in range(9):
        angle = start + turn * i / 8
        polygon.Add(gp_Pnt(50 + 60 * math.cos(angle), 30 + 60 * math.sin(angle), low))
    polygon.Close()
    sector = BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(polygon.Wire()).Face(), gp_Vec(0, 0, high - low)).Shape()
    return common(wall, [Body(sector)])


def kidney(radius: float, width: float, start: float, turn: float, low: float, high: float) -> Body:
    """A slot's volume round (50, 30): the middle runs on the radius from one angle on (rad)."""
    ends = [
        drill(50 + radius * math.cos(a), 30 + radius * math.sin(a), low, high, width) for a in (start, start + turn)
    ]
    return fuse([arc(radius, width, start, turn, low, high), *ends])


@pytest.mark.parametrize("turn", [0.6, 1.2, 3.6])
@pytest.mark.parametrize("low", [12.0, -1.0])
def test_kidney_slot(turn: float, low: float) -> None:
    body = cut(block(), [kidney(20, 6, 0.2, turn, low, 21)])
    (slot,) = inside(body)
    assert (slot.class_, slot.ends, slot.course_of_travel) == ("slot", "radiused radiused", "circular")
    assert (slot.diameter, slot.width, slot.length) == pytest.approx((40, 6, 20 * turn + 6))
    # The ground plan of a stadium bent round: middle length x width and one full circle.
    area = (48000 * 2.5 - volume(body)) / (slot.depth or 1)
    assert area == pytest.approx(20 * turn * 6 + math.pi * 9, rel=1e-6)


@pytest.mark.parametrize("turn", [0.6, math.pi, 3.6])
@pytest.mark.parametrize("corner", [0.0, 1.5])
def test_kidney_slot_with_flat_ends(turn: float, corner: float) -> None:
    tool = arc(20, 6, 0.2, turn, 12, 21)
    body = cut(block(), [rounded(tool, corner, upright) if corner else tool])
    (slot,) = inside(body)
    assert (slot.class_, slot.ends, slot.course_of_travel) == ("slot", "flat flat", "circular")
    assert (slot.diameter, slot.width, slot.length) == pytest.approx((40, 6, 20 * turn))
    assert slot.orthogonal_radius == (pytest.approx(corner) if corner else None)
    if not corner:  # the area of a sector of a ring is its middle length x width
        assert (120000 - volume(body)) / (slot.depth or 1) == pytest.approx(20 * turn * 6, rel=1e-6)


def test_short_sector_of_a_ring_is_a_pocket() -> None:
    (pocket_,) = inside(cut(block(), [arc(20, 14, 0.2, 0.6, 12, 21)]))
    assert (pocket_.class_, pocket_.course_of_travel) == ("closed_pocket", None)


@pytest.mark.parametrize("ends", ["open open", "open radiused", "open flat"])
def test_circular_slot_that_comes_out_of_a_side(ends: str) -> None:
    """Round the corner of a block: a quarter turn, or as much as 1 rad from one side."""
    turn = {"open open": math.pi / 2}.get(ends, 1.0)
    tool = arc(40, 6, -0.3, turn + 0.3 + 0.3 * (ends == "open open"), 12, 21)
    if ends == "open radiused":
        tool = fuse([tool, drill(50 + 40 * math.cos(1), 30 + 40 * math.sin(1), 12, 21, 6)])
    (slot,) = inside(cut(box((50, 30, 0), (150, 90, 20)), [tool]))
    assert (slot.class_, slot.ends, slot.course_of_travel) == ("slot", ends, "circular")
    length = 40 * turn + (3 if ends == "open radiused" else 0)
    assert (slot.diameter, slot.width, slot.length, slot.depth) == pytest.approx((80, 6, length, 8))


def on_middle(angle: float, radius: float = 20.0) -> tuple[float, float]:
    return 50 + radius * math.cos(angle), 30 + radius * math.sin(angle)


X, Y = on_middle(0.8)
DIVIDES = {
    "slot across": [box((X - 3, Y - 30, 6), (X + 3, 61, 21))],
    "slot along": [box((-1, Y - 3, 6), (101, Y + 3, 21))],
    "slot near an end": [box((66, -1, 6), (71, 61, 21))],
    "wide hole": [drill(X, Y, -1, 21, 10)],
    "two holes": [drill(*on_middle(a), -1, 21, 8) for a in (0.5, 1.0)],
    "hole as wide at an end": [drill(*on_middle(0.2), -1, 21, 6)],
    "head at an end": [drill(*on_middle(0.2), -1, 21, 9)],
    "heads at both ends": [drill(*on_middle(a), -1, 21, 9) for a in (0.2, 1.4)],
}


@pytest.mark.parametrize("tools", DIVIDES.values(), ids=DIVIDES)
def test_what_divides_a_kidney_slot_leaves_it_one(tools: list[Body]) -> None:
    """6 wide on 40, 1.2 rad from end to end: 20 x 1.2 + 6 = 30 long; the name is that of a whole one."""
    (whole,) = inside(cut(block(), [kidney(20, 6, 0.2, 1.2, 12, 21)]))
    body = cut(block(), [kidney(20, 6, 0.2, 1.2, 12, 21), *tools])
    (found,) = [f for f in inside(body) if f.course_of_travel == "circular"]
    assert (found.id, found.ends, found.open_sides) == (whole.id, "radiused radiused", 0)
    assert (found.diameter, found.width, found.length, found.depth) == pytest.approx((40, 6, 30, 8))
    assert "open_pocket" not in {f.class_ for f in inside(body)}
    same_when_rewritten(body, 5)


def test_kidney_slots_on_one_circle_stay_apart() -> None:
    """Metal stands between them."""
    body = cut(block(), [kidney(20, 6, start, 0.6, 12, 21) for start in (0.2, 1.4, 2.6)])
    assert [f.length for f in inside(body)] == pytest.approx([18, 18, 18])


def test_a_kidney_slot_that_opens_into_a_bore_is_open_there() -> None:
    (found,) = [
        f
        for f in inside(cut(block(), [kidney(20, 6, 0.2, 1.2, 12, 21), drill(*on_middle(0.2), -1, 21, 16)]))
        if f.class_ == "slot"
    ]
    assert (found.ends, found.open_sides) == ("open radiused", 1)


def test_straight_slot_says_so() -> None:
    (slot,) = inside(cut(block(), [obround(30, 70, 30, 12, 21, 10)]))
    assert slot.course_of_travel == "linear" and slot.diameter is None


def test_ring_groove_in_a_face_is_a_slot_and_no_through_hole() -> None:
    (groove,) = inside(cut(block(), [cut(drill(50, 30, 15, 21, 40), [drill(50, 30, 14, 22, 30)])]))
    assert (groove.class_, groove.ends, groove.course_of_travel) == ("slot", "loop", "circular")
    assert (groove.diameter, groove.width, groove.depth) == pytest.approx((35, 5, 5))
    assert groove.access == ((0.0, 0.0, 1.0),) and groove.bottom == "planar"


def test_round_pocket_with_an_island_is_a_pocket() -> None:
    found = inside(cut(block(), [cut(drill(50, 30, 12, 21, 44), [box((40, 25, 11), (55, 32, 16))])]))
    pocket_, island = sorted(found, key=lambda f: f.class_, reverse=True)
    assert (pocket_.class_, pocket_.depth, pocket_.bosses) == ("closed_pocket", pytest.approx(8), (island.id,))
    assert (island.class_, island.height) == ("boss", pytest.approx(4))


def test_hole_in_the_floor_of_a_bore_is_no_island() -> None:
    classes = sorted(f.class_ for f in inside(cut(block(), [drill(50, 30, 12, 21, 30), drill(50, 30, -1, 13, 8)])))
    assert classes == ["counterbore_hole", "round_hole", "round_hole"]


@pytest.mark.parametrize("corner", [0.0, 5.0])
def test_pocket_with_a_sloping_floor_is_closed(corner: float) -> None:
    tool = cut(pocket((20, 15, 10), (80, 45, 31), corner), [prism([(15, 10), (45, 10), (45, 20)], 20, 80)])
    (found,) = inside(cut(block(z=30), [tool]))
    assert (found.class_, found.open_sides, found.bottom) == ("closed_pocket", 0, "general")
    assert found.depth == pytest.approx(20) and found.slope == pytest.approx(math.degrees(math.atan2(30, 10)))


def test_tops_of_four_spokes_are_a_face_of_their_own_size() -> None:
    """Spokes in a ring groove from R10 to R24 span its diameter both ways, not the way round its middle."""
    ring = cut(drill(50, 30, 6, 21, 48), [drill(50, 30, 5, 22, 20)])
    spokes = [box((20, 27, 6), (80, 33, 16)), box((47, 0, 6), (53, 60, 16))]
    (face,) = (f for f in recognise(cut(block(), [cut(ring, spokes)])) if f.placement.location[2] == pytest.approx(16))
    assert face.class_ == "planar_face"
    assert (face.length, face.width) == pytest.approx((48.0, 48.0), abs=1e-5)


def turned(body: Body, degrees: float, up: float = 0.0) -> Body:
    """Turned about the upright line through (50, 30), then moved along Y."""
    turn, move = gp_Trsf(), gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(50, 30, 0), gp_Dir(0, 0, 1)), math.radians(degrees))
    move.SetTranslation(gp_Vec(0, up, 0))
    return Body(BRepBuilderAPI_Transform(body.wrapped, move.Multiplied(turn), True).Shape())


CROSSING = {
    "open": (box((46, -1, 12), (54, 61, 21)), (60, 8)),
    "askew": (turned(box((-50, 26, 12), (150, 34, 21)), 60), None),
    "closed": (turned(obround(58, 76, 30, 12, 21, 6), 90), (24, 6)),
    "past its ends": (box((-1, 31, 12), (101, 37, 21)), (100, 6)),
    "running in": (box((46, 52, 12), (54, 61, 21)), None),
}


@pytest.mark.parametrize("name", CROSSING)
def test_kidney_slot_that_one_of_its_depth_crosses_is_whole(name: str) -> None:
    """From 18 to 160 degrees, 6 wide about a radius of 20: named as alone, the other as long and wide as drawn."""
    other, sizes = CROSSING[name]
    bent = kidney(20, 6, math.radians(18), math.radians(142), 12, 21)
    (alone,) = inside(cut(block(), [bent]))
    body = cut(block(), [bent, other])
    found = {f.course_of_travel: f for f in inside(body)}
    assert sorted(found) == ["circular", "linear"] and len(inside(body)) == 2
    assert found["circular"].id == alone.id and found["circular"].ends == "radiused radiused"
    assert found["circular"].length == pytest.approx(20 * math.radians(142) + 6)
    assert sizes is None or (found["linear"].length, found["linear"].width) == pytest.approx(sizes)


def test_kidney_slot_that_one_of_its_depth_ends_is_open_there() -> None:
    """As wide, across its middle where one end was: its outer wall reaches farther by the sine of half that width."""
    across = turned(box((-50, 27, 12), (150, 33, 21)), 18)
    body = cut(block(), [kidney(20, 6, math.radians(18), math.radians(142), 12, 21), across])
    found = {f.course_of_travel: f for f in inside(body)}
    assert sorted((f.course_of_travel, f.ends) for f in inside(body)) == [
        ("circular", "open radiused"),
        ("linear", "open open"),
    ]
    assert found["circular"].length == pytest.approx(20 * (math.radians(142) - math.asin(3 / 23)) + 3)


def test_kidney_slots_that_cross_are_whole_however_they_are_written() -> None:
    bent = kidney(20, 6, math.radians(18), math.radians(142), 12, 21)
    body = cut(block(), [bent, turned(kidney(20, 6, math.radians(200), math.radians(130), 12, 21), 0, 24)])
    found = [(f.class_, f.course_of_travel, f.diameter, f.width) for f in inside(body)]
    assert found == [("slot", "circular", pytest.approx(40), pytest.approx(6))] * 2
    same_when_rewritten(body, 3)
