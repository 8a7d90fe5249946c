"""Recesses that a cutter's own shape makes: dishes, pits, round-bottomed grooves, vees, key seats; sizes by hand."""

from __future__ import annotations

import math

import pytest
from OCP.BRepPrimAPI import BRepPrimAPI_MakeSphere, BRepPrimAPI_MakeTorus
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

from bench.reencode import split, turned
from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import block, drill, prism
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.planar import polygon
from worker.kernel.primitives import box, cone, cylinder, revolve_profile
from worker.kernel.shape import Body
from worker.kernel.sweep import prism as swept
from worker.recognise.table import feature_table

UP = (0.0, 0.0, 1.0)


def ball(x: float, y: float, z: float, radius: float) -> Body:
    return Body(BRepPrimAPI_MakeSphere(gp_Pnt(x, y, z), radius).Shape())


def ring(x: float, y: float, z: float, radius: float, tube: float) -> Body:
    axis = gp_Ax2(gp_Pnt(x, y, z), gp_Dir(0, 0, 1))
    return Body(BRepPrimAPI_MakeTorus(axis, radius, tube).Shape())


def recess(body: Body, *tools: Body) -> Feature:
    """The one feature of a part that is no outside face."""
    (found,) = [f for f in recognise(cut(body, list(tools))) if f.class_ not in ("planar_face", "profile_feature")]
    return found


def test_dimple_of_a_ball_has_the_depth_and_mouth_of_a_spherical_cap() -> None:
    # A ball of radius R sunk h deep leaves a circle of diameter 2 sqrt(h (2R - h)): 2 sqrt(2 * 8) = 8.
    dimple = recess(block(), ball(50, 30, 23, 5))
    assert (dimple.class_, dimple.bottom, dimple.open_sides) == ("closed_pocket", "spherical", 0)
    assert (dimple.depth, dimple.diameter, dimple.planar_radius) == pytest.approx((2, 8, 5), abs=1e-9)
    assert dimple.placement.location == pytest.approx((50, 30, 20)) and dimple.access == (UP,)


def test_dimple_deeper_than_half_a_ball_is_an_undercut() -> None:
    dimple = recess(block(), ball(50, 30, 17, 5))
    assert dimple.depth == pytest.approx(8) and dimple.access == () and dimple.undercut


@pytest.mark.parametrize("turn", [0.0, 0.7, 2.2])
def test_dimple_in_a_round_bar_is_seen_along_its_own_normal(turn: float) -> None:
    # Where circles of radius 20 and 5, 22 apart, meet: z = (400 + 484 - 25) / 44, half width sqrt(400 - z^2).
    place = (22 * math.sin(turn), 22 * math.cos(turn))
    dimple = recess(cylinder((0, 0, 0), (100, 0, 0), 40), ball(50, *place, 5))
    assert dimple.class_ == "closed_pocket" and dimple.depth == pytest.approx(20 - 17, abs=1e-4)
    (seen,) = dimple.access
    assert seen == pytest.approx((0, math.sin(turn), math.cos(turn)), abs=1e-4)
    half = math.sqrt(400 - ((400 + 484 - 25) / 44) ** 2)
    assert sorted((dimple.length or 0, dimple.width or 0)) == pytest.approx([2 * half, 2 * math.sqrt(21)], abs=1e-3)


def test_dimple_with_a_chamfered_mouth() -> None:
    body = cut(block(), [ball(50, 30, 18, 5), cone((50, 30, 20), (50, 30, 18), 14, 10)])
    chamfer, dimple = sorted(
        (f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")), key=lambda f: f.class_
    )
    assert (chamfer.class_, chamfer.top_diameter, chamfer.angle) == ("chamfer", pytest.approx(14), pytest.approx(45))
    assert (dimple.class_, dimple.depth) == ("closed_pocket", pytest.approx(7))


def test_pit_of_a_pointed_tool_is_a_hole_without_cylinder() -> None:
    # ISO 14649-10: the depth of a blind hole is its cylindrical part; 90 degrees, 4 deep: 8 wide.
    body = cut(block(), [cone((50, 30, 21), (50, 30, 16), 10, 0)])
    pit = recess(block(), cone((50, 30, 21), (50, 30, 16), 10, 0))
    assert (pit.class_, pit.bottom, pit.access) == ("round_hole", "conical", (UP,))
    assert (pit.depth, pit.diameter, pit.tip_angle) == (0.0, pytest.approx(8), pytest.approx(90))
    (line,) = [text for text in feature_table(recognise(body)).splitlines() if text.startswith("round_hole")]
    assert line.split()[2:4] == ["ø8", "4"]  # people are told how deep the point lies


def test_blind_taper_has_both_diameters_and_a_flat_bottom() -> None:
    taper = recess(block(), cone((50, 30, 20), (50, 30, 15), 20, 10))
    assert (taper.class_, taper.bottom, taper.depth) == ("round_hole", "flat", pytest.approx(5))
    assert taper.top_diameter == pytest.approx(20) and taper.angle == pytest.approx(90)
    assert "ø10 / ø20" in feature_table([taper])


def test_dish_whose_fillet_takes_all_its_depth() -> None:
    # Half the section, (r, z): a flat of radius 7 and a quarter round of radius 3 up to the face.
    arc = [(7.0, 17.0), (7 + 3 * math.sin(math.pi / 4), 20 - 3 * math.cos(math.pi / 4)), (10.0, 20.0)]
    profile = [(0.0, 17.0), *arc, (0.0, 20.0)]
    dish = recess(
        block(),
        fuse([
            revolve_profile([profile[0], profile[1], (7.0, 20.0), profile[-1]], Frame(location=(50, 30, 0))),
            cut(cylinder((50, 30, 17), (50, 30, 20), 20), [_outside_of_fillet()]),
        ]),
    )  # fmt: skip
    assert (dish.class_, dish.bottom) == ("closed_pocket", "planar")
    assert (dish.depth, dish.planar_radius) == pytest.approx((3, 3))
    assert (dish.length, dish.width) == pytest.approx((20, 20))


def _outside_of_fillet() -> Body:
    """What of a disc of radius 10 and height 3 lies below a ring of tube radius 3 at radius 7."""
    outer = cut(cylinder((50, 30, 17), (50, 30, 20), 20), [cylinder((50, 30, 16), (50, 30, 21), 14)])
    return cut(outer, [ring(50, 30, 20, 7, 3)])


def test_round_groove_in_a_face_closes_on_itself() -> None:
    groove = recess(block(), ring(50, 30, 20, 12, 2))
    assert (groove.class_, groove.ends, groove.bottom) == ("slot", "loop", "radiused")
    assert (groove.diameter, groove.width, groove.depth) == pytest.approx((24, 4, 2))


def rod(x0: float, x1: float, z: float, radius: float) -> Body:
    return cylinder((x0, 30, z), (x1, 30, z), 2 * radius)


GROOVES = [
    ("open open", (100, 8, 10), [rod(-1, 101, 14, 4), box((-1, 26, 14), (101, 34, 21))]),
    ("open radiused", (55, 10, 5), [rod(-1, 50, 20, 5), ball(50, 30, 20, 5)]),
    ("radiused radiused", (50, 10, 5), [rod(30, 70, 20, 5), ball(30, 30, 20, 5), ball(70, 30, 20, 5)]),
    ("radiused radiused", (48, 8, 10), [rod(30, 70, 14, 4), ball(30, 30, 14, 4), ball(70, 30, 14, 4),
        box((30, 26, 14), (70, 34, 21)), drill(30, 30, 14, 21, 8), drill(70, 30, 14, 21, 8)]),
    ("flat flat", (40, 8, 10), [rod(30, 70, 14, 4), box((30, 26, 14), (70, 34, 21))]),
    ("flat flat", (40, 8, 4), [prism([(26, 20), (34, 20), (30, 16)], 30, 70)]),
    ("open flat", (70, 8, 4), [prism([(26, 20), (34, 20), (30, 16)], -1, 70)]),
]  # fmt: skip


@pytest.mark.parametrize(("ends", "size", "tools"), GROOVES)
def test_grooves_by_their_ends(ends: str, size: tuple[float, float, float], tools: list[Body]) -> None:
    groove = recess(block(), fuse(tools))
    assert (groove.class_, groove.ends) == ("slot", ends)
    assert (groove.length, groove.width, groove.depth) == pytest.approx(size)
    assert groove.placement.axis == UP and UP in groove.access


def test_groove_at_an_angle_is_measured_along_itself() -> None:
    a, b = (30.0, 20.0, 20.0), (30 + 40 * math.cos(0.5), 20 + 40 * math.sin(0.5), 20.0)
    groove = recess(block(), fuse([cylinder(a, b, 6), ball(*a, 3), ball(*b, 3)]))
    assert (groove.length, groove.width, groove.depth) == pytest.approx((46, 6, 3), abs=1e-6)
    assert groove.placement.ref_direction == pytest.approx((math.cos(0.5), math.sin(0.5), 0))


def test_key_seat_of_a_side_cutter() -> None:
    # A cutter of radius R with its middle 4 over the face sinks R - 4; the chord is 2 sqrt(R^2 - 4^2).
    seat = recess(block(), cylinder((50, 26, 24), (50, 34, 24), 30))
    assert (seat.class_, seat.ends) == ("slot", "woodruff woodruff")
    assert (seat.length, seat.width, seat.depth) == pytest.approx((2 * math.sqrt(225 - 16), 8, 11))


def test_slots_whose_floor_runs_out_in_the_arc_of_a_disc() -> None:
    """A disc of radius 20, 8 deep: its arc leaves the face (20^2 - 12^2)^(1/2) = 16 beyond where the floor ends."""
    disc = [cylinder((x, 25, 32), (x, 35, 32), 40) for x in (30, 50)]
    milled = recess(block(), fuse([box((-1, 25, 12), (50, 35, 21)), disc[1]]))
    assert (milled.class_, milled.ends, milled.open_sides) == ("slot", "open woodruff", 1)
    assert (milled.length, milled.width, milled.depth) == pytest.approx((66, 10, 8))
    tool = fuse([box((30, 25, 12), (50, 35, 21)), *disc])
    seat = recess(block(), tool)
    assert (seat.class_, seat.ends, seat.bottom) == ("slot", "woodruff woodruff", "planar")
    assert (seat.length, seat.width, seat.depth, seat.planar_radius) == pytest.approx((52, 10, 8, 20))
    same_when_rewritten(cut(block(), [tool]), 2)


def test_hollow_along_an_edge_is_open() -> None:
    cove = recess(block(), cylinder((-1, 0, 20), (101, 0, 20), 16))
    assert (cove.class_, cove.open_sides, cove.depth) == ("open_pocket", 3, pytest.approx(8))


def test_a_woodruff_seat_in_a_shaft() -> None:
    """A cutter of 22, 6 wide, its middle 3 outside a shaft of 30: 8 deep, 2 (11^2 - 3^2)^(1/2) long."""
    body = cut(drill(0, 0, 0, 100, 30), [cylinder((18, -3, 60), (18, 3, 60), 22)])
    for part in (body, split(body, 1)[0], split(body, 4)[0]):
        (seat,) = [f for f in recognise(part) if f.class_ not in ("planar_face", "profile_feature")]
        assert (seat.class_, seat.ends) == ("slot", "woodruff woodruff")
        assert (seat.length, seat.width, seat.depth) == pytest.approx((2 * 112**0.5, 6, 8))
        assert seat.access == ((1.0, 0.0, 0.0),)


def test_a_balls_seat_over_a_bore_is_a_dish() -> None:
    body = cut(block(), [ball(50, 30, 26, 15), drill(50, 30, -1, 21, 8)])
    (seat,) = [f for f in recognise(body) if f.class_ == "closed_pocket"]
    assert (seat.bottom, seat.diameter, seat.planar_radius) == ("spherical", pytest.approx(2 * 189**0.5), 15)
    assert seat.access == (UP,) and [f for f in recognise(body) if f.class_ == "region"] == []


def along(y: float, diameter: float) -> Body:
    return cylinder((-1, y, 20), (101, y, 20), diameter)


def across(x: float, diameter: float) -> Body:
    return cylinder((x, -1, 20), (x, 61, 20), diameter)


VEE = ((-6.0, -21.0), (6.0, -21.0), (0.0, -15.0))
"""Of 90 degrees, 5 deep in a block 20 high: across, down."""
X_VEE = swept(polygon(VEE), Frame(location=(0, 30, 0), axis=(1, 0, 0), ref_direction=(0, -1, 0)), -1, 101)
Y_VEE = swept(polygon(VEE), Frame(location=(50, 0, 0), axis=(0, 1, 0), ref_direction=(1, 0, 0)), -1, 61)


@pytest.mark.parametrize(
    ("tools", "wanted"),
    [
        ([along(30, 6), across(50, 6)], [(60, 6, 3), (100, 6, 3)]),
        ([along(30, 6), across(50, 10)], [(60, 10, 5), (100, 6, 3)]),
        ([along(30, 6), box((40, -1, 12), (50, 61, 21))], [(60, 10, 8), (100, 6, 3)]),
        ([along(30, 6), drill(50, 30, -1, 21, 12)], [(100, 6, 3)]),
        ([X_VEE, Y_VEE], [(60, 10, 5), (100, 10, 5)]),
        ([X_VEE, box((40, -1, 10), (50, 61, 21))], [(60, 10, 10), (100, 10, 5)]),
    ],
)
def test_what_crosses_a_groove_divides_it_in_no_two(tools: list[Body], wanted: list[tuple[float, ...]]) -> None:
    body = cut(block(), tools)
    found = [f for f in recognise(body) if f.class_ == "slot"]
    assert sorted((f.length, f.width, f.depth) for f in found) == [pytest.approx(w) for w in wanted]
    assert all(f.ends == "open open" and UP in f.access for f in found)
    assert {f.class_ for f in recognise(body)} <= {"slot", "round_hole", "planar_face", "profile_feature"}
    if any(tool is X_VEE for tool in tools):
        same_when_rewritten(body, 1)


def half_bores() -> dict[str, tuple[tuple[object, ...], Body]]:
    """Parts with one half bore or round groove, each with class, length, width and depth.

    The chord at h under the middle of a circle of radius r is 2 sqrt(r^2 - h^2) long.
    """
    chord, wide = 2 * math.sqrt(15**2 - 3**2), 2 * math.sqrt(18**2 - 10**2)
    in_bar = 2 * math.sqrt(25**2 - 21**2)  # the groove's bottom lies 21 off the middle of a bar of radius 25
    return {
        "into the side of a plate": (
            ("open_pocket", chord, 12.0, 6.0),
            cut(block(40, 30, 6), [drill(20, -3, -1, 21, 30)]),
        ),
        "as deep as half the plate's width": (
            ("slot", 16.0, wide, 8.0),
            cut(block(16, 40, 20), [cylinder((-1, 20, 30), (17, 20, 30), 36)]),
        ),
        "across a bar": (
            ("slot", in_bar, 2 * math.sqrt(5**2 - 1**2), 4.0),  # the part's skin is 1 under the groove's middle
            cut(cylinder((0, 0, 0), (0, 0, 40), 50), [cylinder((-30, 26, 20), (30, 26, 20), 10)]),
        ),
        "deeper from end to end": (
            ("slot", 60.0, None, 20 - (21 + 10 * 5 / 80 - 8 / math.cos(math.atan(5 / 80)))),
            cut(block(60, 30, 20), [cylinder((-10, 15, 21), (70, 15, 26), 16)]),
        ),
    }


@pytest.mark.parametrize("name", half_bores())
def test_half_bores_are_measured_along_themselves_however_the_part_lies(name: str) -> None:
    (class_, *sizes), body = half_bores()[name]
    for part in (body, turned(body, 1)[0], turned(body, 3)[0]):
        found = recess(part)
        assert found.class_ == class_
        told = (found.length, found.width, found.depth)
        assert [t for t, s in zip(told, sizes, strict=True) if s] == pytest.approx([s for s in sizes if s], abs=1e-4)
        assert class_ != "slot" or (found.ends, found.open_sides) == ("open open", 2)


@pytest.mark.parametrize("half", [45.0, 30.0])
@pytest.mark.parametrize("ends", [1, 2])
def test_a_vee_that_ends_in_half_a_cone_is_a_slot(half: float, ends: int) -> None:
    """5 deep and 30 to 70 along x: as a pointed cutter leaves it that does not run out, at one end or both."""
    wide = 5 * math.tan(math.radians(half))
    start = 30.0 if ends == 2 else -1.0
    flanks = prism([(30, 15), (30 - wide, 20), (30 + wide, 20)], start, 70)
    cones = [cone((x, 30, 15), (x, 30, 20), 0, 2 * wide) for x in (70.0, 30.0)[:ends]]
    body = cut(block(), [flanks, *cones])
    found = recess(block(), flanks, *cones)
    assert (found.class_, found.ends) == ("slot", "radiused radiused" if ends == 2 else "open radiused")
    assert found.width == pytest.approx(2 * wide) and found.depth == pytest.approx(5) and found.bottom == "general"
    assert found.length == pytest.approx(40 + 2 * wide if ends == 2 else 70 + wide)
    assert found.slope == pytest.approx(half) and abs(found.placement.x[0]) == pytest.approx(1)
    for seed in range(3):
        same_when_rewritten(body, seed)
