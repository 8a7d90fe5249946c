"""Pockets, slots, steps and bosses; sizes are those they were built with."""

from __future__ import annotations

import math

import pytest

from bench.reencode import turned
from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround, pocket, prism, rounded, t_slot, upright
from tests.support.recognised import recognise
from worker.kernel.boolean import cut, fuse
from worker.kernel.planar import polygon
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import WORLD, Body
from worker.kernel.sweep import prism as sweep

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
RIGHT, LEFT = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)
BACK, FRONT = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)


def of_class(body: Body, name: str) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ == name]


def one(body: Body, name: str) -> Feature:
    (found,) = of_class(body, name)
    return found


def test_sharp_pocket() -> None:
    found = one(cut(block(), [box((30, 20, 12), (70, 45, 21))]), "closed_pocket")
    assert (found.length, found.width, found.depth) == pytest.approx((40, 25, 8))
    assert found.access == (UP,) and found.bottom == "planar" and found.open_sides == 0
    assert found.placement.location == pytest.approx((50, 32.5, 20))


def test_pocket_with_corner_radii_and_floor_fillet() -> None:
    found = one(cut(block(), [pocket((30, 20, 12), (70, 45, 21), 5, 2)]), "closed_pocket")
    assert (found.orthogonal_radius, found.planar_radius) == pytest.approx((5, 2))
    assert (found.length, found.width, found.depth) == pytest.approx((40, 25, 8))
    assert found.access == (UP,)


def test_pocket_with_island_lists_the_boss() -> None:
    volume = cut(pocket((30, 20, 12), (70, 45, 21), 5), [drill(50, 32, 12, 16, 8)])
    body = cut(block(), [volume])
    found, boss = one(body, "closed_pocket"), one(body, "boss")
    assert found.bosses == (boss.id,) and boss.parent == found.id
    assert (boss.diameter, boss.height) == pytest.approx((8, 4))
    assert set(boss.faces) < set(found.faces)


def test_pocket_in_a_pocket() -> None:
    body = cut(block(), [box((20, 10, 14), (80, 50, 21)), box((40, 20, 6), (60, 40, 21))])
    assert sorted(f.depth or 0 for f in of_class(body, "closed_pocket")) == pytest.approx([6, 8])


def test_through_pocket() -> None:
    found = one(cut(block(), [pocket((30, 20, -1), (70, 45, 21), 5)]), "closed_pocket")
    assert found.bottom == "through" and set(found.access) == {UP, DOWN}
    assert (found.length, found.width, found.depth, found.orthogonal_radius) == pytest.approx((40, 25, 20, 5))


def test_obround_slot() -> None:
    found = one(cut(block(), [obround(30, 60, 30, 12, 21, 10)]), "slot")
    assert (found.length, found.width, found.depth) == pytest.approx((40, 10, 8))
    assert found.ends == "radiused radiused" and found.access == (UP,)


def test_open_slot_is_seen_from_above_and_from_its_ends() -> None:
    found = one(cut(block(), [box((-1, 25, 12), (101, 35, 21))]), "slot")
    assert (found.length, found.width, found.depth) == pytest.approx((100, 10, 8))
    assert set(found.access) == {UP, LEFT, RIGHT} and found.ends == "open open" and found.open_sides == 2


def test_slot_with_one_round_end() -> None:
    body = cut(block(), [fuse([box((-1, 25, 12), (30, 35, 21)), drill(30, 30, 12, 21, 10)])])
    found = one(body, "slot")
    assert found.ends == "open radiused" and (found.length, found.width) == pytest.approx((35, 10))
    assert set(found.access) == {UP, LEFT}


def test_slot_with_floor_fillets() -> None:
    from tests.recognise.parts import rounded

    volume = rounded(box((-1, 25, 12), (101, 35, 21)), 2, lambda a, b: a[2] == b[2] == 12 and a[1] == b[1])
    found = one(cut(block(), [volume]), "slot")
    assert found.planar_radius == pytest.approx(2) and found.width == pytest.approx(10)


def test_vee_slot() -> None:
    found = one(cut(block(), [prism([(20, 20), (40, 20), (30, 10)], 0, 100)]), "slot")
    assert found.depth == pytest.approx(10) and found.slope == pytest.approx(45) and UP in found.access
    assert (found.length, found.width) == pytest.approx((100, 20))


def test_step_is_seen_from_three_sides_and_its_ends() -> None:
    found = one(cut(block(), [box((-1, -1, 14), (101, 20, 21))]), "step")
    assert (found.length, found.width, found.depth) == pytest.approx((100, 20, 6))
    assert set(found.access) == {UP, FRONT, LEFT, RIGHT} and found.open_sides == 3


def test_corner_step() -> None:
    found = one(cut(block(), [box((-1, -1, 14), (30, 20, 21))]), "step")
    assert found.open_sides == 2 and set(found.access) == {UP, FRONT, LEFT}


def test_notch_through_a_plate_with_corner_radii_is_cut_from_the_face() -> None:
    body = cut(block(), [pocket((30, -30, -1), (70, 20, 21), 6)])
    found = one(body, "open_pocket")
    assert found.placement.axis in (UP, DOWN) and found.bottom == "through"
    assert found.orthogonal_radius == pytest.approx(6) and {UP, DOWN} <= set(found.access)


def test_open_pocket() -> None:
    found = one(cut(block(), [box((30, -1, 12), (70, 30, 21))]), "open_pocket")
    assert found.open_sides == 1 and set(found.access) == {UP, FRONT}


def test_slot_through_a_pocket() -> None:
    body = cut(block(), [box((30, 15, 8), (70, 45, 21)), box((-1, 26, 14), (101, 34, 21))])
    assert one(body, "closed_pocket").depth == pytest.approx(12)
    slots = of_class(body, "slot")
    assert len(slots) == 1 and slots[0].width == pytest.approx(8) and slots[0].length == pytest.approx(100)


def test_crossing_slots_of_different_depth() -> None:
    body = cut(block(), [box((-1, 25, 10), (101, 35, 21)), box((45, -1, 14), (55, 61, 21))])
    assert sorted((f.depth, f.width, f.length) for f in of_class(body, "slot")) == [
        pytest.approx((6, 10, 60)),
        pytest.approx((10, 10, 100)),
    ]


def test_t_slot_has_no_access_and_says_why() -> None:
    found = one(t_slot(), "slot")
    assert found.access == () and found.undercut and "T-slot" in found.undercut
    assert (found.width, found.depth) == pytest.approx((22, 29))


def test_dovetail_has_no_access_and_says_why() -> None:
    body = cut(block(), [prism([(25, 20), (35, 20), (40, 10), (20, 10)], 0, 100)])
    found = one(body, "slot")
    assert found.access == () and found.undercut and "dovetail" in found.undercut


def test_t_notch_of_a_thin_plate_is_cut_through_its_face() -> None:
    body = cut(block(z=6), [box((40, -1, -1), (60, 20, 7)), box((30, 20, -1), (70, 32, 7))])
    found = one(body, "open_pocket")
    assert set(found.access) == {UP, DOWN} and found.undercut is None


def test_recess_on_the_hidden_side_has_no_access() -> None:
    # A pocket in the roof of a slot, out of sight of every straight tool.
    body = cut(block(z=40), [box((-1, 20, 10), (101, 40, 20)), box((40, 25, 20), (60, 35, 26))])
    hidden = [f for f in recognise(body) if f.undercut]
    assert len(hidden) == 1 and hidden[0].access == ()
    assert hidden[0].undercut == "no straight tool sees all of it, an undercutting cutter may reach it"


def test_boss_on_a_plate() -> None:
    body = fuse([block(z=10), drill(50, 30, 10, 25, 30)])
    boss = one(body, "boss")
    assert (boss.diameter, boss.height) == pytest.approx((30, 15))
    shelf = next(f for f in of_class(body, "planar_face") if boss.id in f.bosses)
    assert shelf.placement.location[2] == pytest.approx(10) and UP in shelf.access


@pytest.mark.parametrize("height", [3.0, 8.0])
def test_two_floors_side_by_side_are_two_features(height: float) -> None:
    body = cut(block(), [box((20, 15, 12), (50, 45, 21)), box((50, 15, 12 - height), (80, 45, 21))])
    found = [f for f in recognise(body) if f.class_ in ("closed_pocket", "open_pocket")]
    assert sorted(f.depth or 0 for f in found) == pytest.approx([8, 8 + height])


POSTS = [drill(40, 30, 5, 12, 6), drill(60, 30, 5, 12, 6), box((36, 26, 12), (64, 34, 16))]
FLUSH = [box((37, 28, 5), (43, 32, 14)), box((57, 28, 5), (63, 32, 14)), box((43, 28, 10), (57, 32, 14))]


@pytest.mark.parametrize(("parts", "width"), [(POSTS, 6), (FLUSH, 4)])
def test_what_stands_on_two_feet_is_one_boss(parts: list[Body], width: float) -> None:
    tub = cut(block(), [box((20, 10, 6), (80, 50, 21))])
    (boss,) = [f for f in recognise(fuse([tub, *parts])) if f.class_ == "boss"]
    assert (boss.length, boss.width) == pytest.approx((26, width))
    (sunk,) = [f for f in recognise(fuse([tub, *parts])) if f.class_ == "closed_pocket"]
    assert (sunk.bottom, sunk.bosses) == ("planar", (boss.id,))  # its floor goes on under the bridge


def test_the_slot_of_a_fork_whose_cheeks_lean_is_cut_from_its_round_nose() -> None:
    """A lever's web is tangent to discs of 40 and 30, 90 apart: no face of the outside looks along the slot's depth."""
    c, s = 5 / 90, math.sqrt(1 - (5 / 90) ** 2)
    web = sweep(
        polygon(((20 * c, -20 * s), (90 + 15 * c, -15 * s), (90 + 15 * c, 15 * s), (20 * c, 20 * s))), WORLD, 0, 23
    )
    body = fuse([web, drill(0, 0, 0, 23, 40), drill(90, 0, 0, 23, 30)])
    body = cut(body, [box((79, -25, 7), (110, 25, 15))])
    found = one(body, "slot")
    assert (found.ends, found.bottom, found.depth, found.width) == (
        "open open",
        "planar",
        pytest.approx(26),
        pytest.approx(8),
    )
    assert found.placement.axis == pytest.approx(RIGHT) and RIGHT in found.access
    assert found.length == pytest.approx(2 * (20 - 79 * c) / s)  # the tangent is c x + s y = 20


def test_teeth_all_over_a_face_are_vee_slots_across_it() -> None:
    """15 vees of 90 degrees, 4 wide: each has nothing beside it but the next, and the block's ends."""
    teeth = [prism([(y, 21), (y + 4, 21), (y + 4, 20), (y + 2, 18), (y, 20)], -1, 101) for y in range(0, 60, 4)]
    found = [f for f in recognise(cut(block(), teeth)) if f.class_ not in ("planar_face", "profile_feature")]
    assert {(f.class_, f.ends) for f in found} == {("slot", "open open")} and len(found) == 15
    assert all((f.length, f.width, f.depth) == pytest.approx((100, 4, 2)) for f in found)
    assert all(f.placement.axis == UP for f in found)


@pytest.mark.parametrize(("low", "high"), [(8.0, 12.0), (4.0, 16.0)])
def test_a_sloping_pocket_with_round_corners_and_floor_fillets_is_one(low: float, high: float) -> None:
    """40 x 30, rounded by 5 and 2: its blends are free forms that begin upright, and chords of those turn away."""
    rise = (high - low) / 40
    outline = ((21.0, low - 9 * rise), (79.0, high + 9 * rise), (79.0, -9.0), (21.0, -9.0))
    front = Frame(location=(0, 0, 0), axis=(0, -1, 0), ref_direction=(1, 0, 0))
    wedge = sweep(polygon(outline), front, -70, 1)
    tool = rounded(cut(box((30, 15, 0), (70, 45, 21)), [wedge]), 5, upright)
    tool = rounded(tool, 2, lambda a, b: max(a[2], b[2]) < 20 and not upright(a, b))
    (found,) = [f for f in recognise(cut(block(), [tool])) if f.class_ not in ("planar_face", "profile_feature")]
    assert (found.class_, found.orthogonal_radius, found.planar_radius) == ("closed_pocket", 5, pytest.approx(2))
    assert (found.length, found.width) == pytest.approx((40, 30), abs=1e-3) and found.access == (UP,)


def test_a_drafted_window_in_one_plane_with_its_pocket_is_told_apart() -> None:
    """All walls lean by 5 degrees: 40 x 30 and 20 x 16 at their floors, 10 deep and 11 more, one wall in common."""
    slope = math.tan(math.radians(5))
    upper = drafted(30, 15, 70, 45, 10, 21, slope)
    window = drafted(30 + 11 * slope, 22, 50, 38, -1, 10.5, slope)
    found = [f for f in recognise(cut(block(), [upper, window])) if f.class_ == "closed_pocket"]
    sizes = sorted((f.length, f.width, f.depth) for f in found)
    assert sizes[1] == pytest.approx((40 + 20 * slope, 30 + 20 * slope, 10))
    assert sizes[0] == pytest.approx((20 + 11 * slope, 16 + 22 * slope, 10), abs=2e-3)


def drafted(x0: float, y0: float, x1: float, y1: float, low: float, high: float, slope: float) -> Body:
    """A frustum by its floor; its walls go out by ``slope`` a millimetre."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakePolygon
    from OCP.BRepOffsetAPI import BRepOffsetAPI_ThruSections
    from OCP.gp import gp_Pnt

    builder = BRepOffsetAPI_ThruSections(True, True)
    for z in (low, high):
        out, outline = (z - low) * slope, BRepBuilderAPI_MakePolygon()
        for x, y in ((x0 - out, y0 - out), (x1 + out, y0 - out), (x1 + out, y1 + out), (x0 - out, y1 + out)):
            outline.Add(gp_Pnt(x, y, z))
        outline.Close()
        builder.AddWire(outline.Wire())
    builder.Build()
    return Body(builder.Shape())


def test_bearing_seats_that_a_recess_divides_are_seen_from_the_parting_face() -> None:
    """Half a bore of 50 in a cap, in its middle half a recess of 58."""
    body = cut(block(y=30, z=40), [cylinder((50, -1, 0), (50, 31, 0), 50), cylinder((50, 8, 0), (50, 22, 0), 58)])
    seats = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    assert len(seats) == 2 and all((0.0, 0.0, -1.0) in f.access for f in seats)


SLANT = Frame(location=(30, 20, 30), axis=(1, 0, 1), ref_direction=(0, 1, 0))
"""Its axis looks out of the corner of an L, halfway between its legs."""


@pytest.mark.parametrize(
    ("rib", "classes"),
    [
        (cut(box((9, 17, 9), (50, 23, 50)), [box((-90, -90, 0), (90, 90, 80), SLANT)]), ["step"]),
        (box((9, 17, 9), (30, 23, 40)), ["step", "step"]),  # lower than the wall: land on top of it
        (box((9, 17, 9), (30, 23, 62)), ["step"]),
    ],
)
def test_a_rib_in_the_corner_of_an_l_leaves_it_a_step(rib: Body, classes: list[str]) -> None:
    """A bracket 80 x 40 x 60 with legs of 10; a rib of 6 stands on one and against the other."""
    body = cut(block(80, 40, 60), [cut(box((10, -1, 10), (81, 41, 61)), [rib])])
    for part in (body, turned(body, 1)[0]):
        found = [f for f in recognise(part) if f.class_ not in ("planar_face", "profile_feature")]
        assert [f.class_ for f in found] == classes
        corner = max(found, key=lambda f: f.length or 0)
        assert (corner.length, corner.width, corner.depth) in (pytest.approx((40, 70, 50)), pytest.approx((40, 50, 70)))
        assert len(corner.access) >= 2


@pytest.mark.parametrize("low", [-1.0, 8.0])
def test_a_round_window_with_two_flats_is_closed(low: float) -> None:
    """ø20 with flats 14 apart, through or 12 deep: both round walls lie on one cylinder."""
    round_ = cylinder((50, 30, low), (50, 30, 21), 20)
    flats = [box((30, y, low - 1), (70, y + 20, 22)) for y in (3, 37)]
    (found,) = [f for f in recognise(cut(block(), [cut(round_, flats)])) if not f.class_.startswith("p")]
    assert (found.class_, found.length, found.width) == ("closed_pocket", pytest.approx(20), pytest.approx(14))
