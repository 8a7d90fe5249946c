"""Round holes, counterbores, countersinks, stepped and crossing bores; sizes are those they were built with."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import block, drill, point
from tests.support.recognised import recognise
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)


def of_class(body: Body, name: str) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ == name]


def one(body: Body, name: str) -> Feature:
    (found,) = of_class(body, name)
    return found


def test_through_hole_is_seen_from_both_sides() -> None:
    hole = one(cut(block(), [drill(20, 30, -1, 21, 6.6)]), "round_hole")
    assert (hole.diameter, hole.depth, hole.bottom) == (pytest.approx(6.6), pytest.approx(20), "through")
    assert set(hole.access) == {UP, DOWN}
    assert hole.placement.location == pytest.approx((20, 30, 20))


def test_conical_bottom_and_depth_of_the_cylindrical_part() -> None:
    # A 118 degree point of diameter D is D / 2 / tan(59 degrees) high (handbook).
    height = 4 / math.tan(math.radians(59))
    hole = one(cut(block(), [fuse([drill(20, 30, 8, 21, 8), point(20, 30, 8, 8, height)])]), "round_hole")
    assert (hole.depth, hole.bottom, hole.tip_angle) == (pytest.approx(12), "conical", pytest.approx(118))
    assert hole.access == (UP,)


def test_flat_bottom() -> None:
    hole = one(cut(block(), [drill(20, 30, 8, 21, 8)]), "round_hole")
    assert (hole.depth, hole.bottom) == (pytest.approx(12), "flat")


def test_spherical_bottom() -> None:
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeSphere
    from OCP.gp import gp_Pnt

    ball = Body(BRepPrimAPI_MakeSphere(gp_Pnt(20, 30, 8), 4).Shape())
    hole = one(cut(block(), [fuse([drill(20, 30, 8, 21, 8), ball])]), "round_hole")
    assert (hole.depth, hole.bottom, hole.diameter) == (pytest.approx(12, abs=0.01), "spherical", pytest.approx(8))


def test_counterbore_lists_its_two_holes() -> None:
    body = cut(block(), [drill(20, 30, -1, 21, 6.6), drill(20, 30, 13, 21, 11)])
    compound = one(body, "counterbore_hole")
    holes = {f.id: f for f in of_class(body, "round_hole")}
    large, small = (holes[i] for i in compound.elements)
    assert (compound.diameter, compound.top_diameter, compound.depth) == pytest.approx((6.6, 11, 20))
    assert (large.diameter, large.depth, large.bottom, large.parent) == (11, pytest.approx(7), "flat", compound.id)
    assert (small.diameter, small.depth, small.bottom) == (6.6, pytest.approx(13), "through")
    assert compound.access == (UP,) and set(small.access) == {UP, DOWN}


def test_countersink() -> None:
    body = cut(block(), [drill(20, 30, -1, 21, 6.6), cone((20, 30, 21), (20, 30, 14), 14.6, 0.6)])
    compound = one(body, "countersunk_hole")
    assert (compound.diameter, compound.angle) == pytest.approx((6.6, 90))
    assert compound.top_diameter == pytest.approx(12.6)


def test_small_cone_at_the_mouth_is_a_chamfer_and_belongs_to_the_depth() -> None:
    # 8.5 mm drilled for M10, chamfered to 10.5: common practice.
    body = cut(block(), [drill(20, 30, 4, 21, 8.5), cone((20, 30, 20), (20, 30, 19), 10.5, 8.5)])
    hole, chamfer = one(body, "round_hole"), one(body, "chamfer")
    assert hole.depth == pytest.approx(16)
    assert (chamfer.top_diameter, chamfer.angle) == (pytest.approx(10.5), pytest.approx(45))
    assert chamfer.access[0] == UP


def test_seat_from_each_side() -> None:
    tools = [drill(20, 30, -1, 21, 12), drill(20, 30, 14, 21, 20), drill(20, 30, -1, 5, 18)]
    body = cut(block(), tools)
    compound = one(body, "counterbore_hole")
    holes = {f.diameter: f for f in of_class(body, "round_hole")}
    assert len(compound.elements) == 3 and compound.access == ()
    assert holes[20].access == (UP,) and holes[18].access == (DOWN,)
    assert holes[18].placement.axis == DOWN and holes[18].depth == pytest.approx(5)
    assert set(holes[12].access) == {UP, DOWN}


def test_hole_crossed_by_another_stays_one_hole() -> None:
    body = cut(block(z=40), [drill(50, 30, -1, 41, 8), cylinder((50, -1, 20), (50, 61, 20), 12)])
    holes = of_class(body, "round_hole")
    assert sorted(h.diameter or 0 for h in holes) == [8, 12]
    small = min(holes, key=lambda h: h.diameter or 0)
    assert small.depth == pytest.approx(40) and set(small.access) == {UP, DOWN}


def test_blind_holes_on_one_axis_are_two() -> None:
    body = cut(block(z=40), [drill(50, 30, 30, 41, 8), drill(50, 30, -1, 10, 8)])
    assert [h.access for h in of_class(body, "round_hole")] in ([(UP,), (DOWN,)], [(DOWN,), (UP,)])


def test_hole_on_an_edge() -> None:
    hole = one(cut(block(), [drill(50, 2, -1, 21, 10)]), "round_hole")
    assert hole.diameter == pytest.approx(10)


def test_bore_slit_by_a_slot_is_a_bore() -> None:
    body = cut(block(), [drill(50, 30, -1, 21, 30), box((50, 28, -1), (101, 32, 21))])
    assert one(body, "round_hole").diameter == pytest.approx(30)


def test_hole_under_an_overhang_is_seen_from_below_only() -> None:
    body = cut(block(z=40), [box((-1, -1, 15), (60, 61, 25)), drill(30, 30, -1, 15, 8)])
    assert one(body, "round_hole").access == (DOWN,)


def test_tilted_hole() -> None:
    axis = (math.sin(math.radians(30)), 0.0, math.cos(math.radians(30)))
    a, b = tuple(50 - 60 * c if i == 0 else 30 if i == 1 else 10 - 60 * c for i, c in enumerate(axis)), None
    b = (50 + 60 * axis[0], 30.0, 10 + 60 * axis[2])
    hole = one(cut(block(), [cylinder((a[0], 30.0, a[2]), b, 8)]), "round_hole")
    assert any(d == pytest.approx(axis, abs=1e-9) for d in hole.access) and len(hole.access) == 2


def test_ring_groove_in_a_bore_is_an_undercut() -> None:
    body = cut(block(z=40), [drill(50, 30, -1, 41, 20), drill(50, 30, 15, 18, 24)])
    groove = one(body, "slot")
    assert groove.access == () and groove.undercut and groove.width == pytest.approx(3)
    assert one(body, "round_hole").diameter == pytest.approx(20)


def test_tapered_hole() -> None:
    hole = one(cut(block(), [cone((50, 30, 20), (50, 30, 0), 14, 10)]), "round_hole")
    assert hole.top_diameter == pytest.approx(14) and hole.access == (UP,)


@pytest.mark.parametrize(("wider", "class_"), [(8.01, "round_hole"), (8.1, "counterbore_hole")])
def test_a_ledge_of_some_micrometres_makes_no_counterbore(wider: float, class_: str) -> None:
    body = cut(block(), [drill(50, 30, -1, 21, 8), drill(50, 30, -1, 4, wider)])
    found = [f for f in recognise(body) if "hole" in f.class_]
    assert found[0].class_ == class_ and len(found) == (1 if class_ == "round_hole" else 3)
    assert (found[0].diameter, found[0].depth) == pytest.approx((8, 20))
    assert set(found[0].faces) == {f for hole in found for f in hole.faces}
    assert found[0].access == ((UP, DOWN) if class_ == "round_hole" else (DOWN,))


def test_blind_holes_that_share_a_floor_are_flat() -> None:
    keyhole = fuse([drill(20, 30, 8, 21, 6), drill(23, 31, 8, 21, 5)])
    found = sorted(of_class(cut(block(), [keyhole]), "round_hole"), key=lambda f: f.diameter or 0.0)
    assert [f.diameter for f in found] == pytest.approx([5, 6])
    assert [(f.depth, f.bottom) for f in found] == [(pytest.approx(12), "flat")] * 2


def test_a_tapered_hole_over_a_bore_is_no_countersink() -> None:
    """A pipe thread's taper of 1 : 16 (ISO 7-1), 16 deep, over a drilled hole; a countersink stays one."""
    body = cut(block(z=40), [cone((50, 30, 40), (50, 30, 24), 21, 20), drill(50, 30, -1, 25, 14)])
    found = one(body, "counterbore_hole")
    assert (found.diameter, found.top_diameter, found.depth) == pytest.approx((14, 21, 40))
    assert sorted((f.diameter, f.top_diameter) for f in of_class(body, "round_hole") if f.top_diameter) == [(21, 21)]
    assert of_class(body, "countersunk_hole") == []
    sunk = cut(block(z=40), [cone((50, 30, 40), (50, 30, 37), 14, 8), drill(50, 30, -1, 41, 8)])
    assert one(sunk, "countersunk_hole").angle == pytest.approx(90)


def test_a_bore_of_which_splines_leave_less_than_half_is_one() -> None:
    """23 wide, six keyways 6 wide and 14 from the axis: of each sixth 60 - 2 asin(3 / 11.5) degrees are left."""
    ways = [
        box((-3, 0, -1), (3, 14, 31), Frame(location=(0, 0, 0), axis=UP, ref_direction=(math.cos(a), math.sin(a), 0)))
        for a in (k * math.pi / 3 for k in range(6))
    ]
    body = cut(drill(0, 0, 0, 30, 50), [drill(0, 0, -1, 31, 23), *ways])
    found = one(body, "round_hole")
    assert (found.diameter, found.depth, found.bottom) == (pytest.approx(23), pytest.approx(30), "through")
    slots = of_class(body, "slot")
    assert len(slots) == 6 and {round(f.depth or 0, 6) for f in slots} == {round(14 - (11.5**2 - 9) ** 0.5, 6)}
    assert of_class(body, "open_pocket") == []


@pytest.mark.parametrize(("low", "bottom"), [(-1, "through"), (4, "flat")])
def test_a_pilot_below_a_pointed_shoulder_gives_the_compound_its_bottom(low: float, bottom: str) -> None:
    body = cut(block(z=30), [drill(40, 30, low, 31, 8), drill(40, 30, 20, 31, 16), point(40, 30, 20, 16, 4.8)])
    found = one(body, "counterbore_hole")
    assert (found.bottom, found.tip_angle, found.depth) == (bottom, None, pytest.approx(30 - max(low, 0)))
