"""When round walls on one axis are one hole: air between walls, crossings, equal counterbores, hair differences.

Depths are those the parts were built with. That a gap longer than wall and wall together parts a hole is our reading
(DEVELOPERS.md); that a bore of another's size behind a narrower one is its own is what a drill can make.
"""

from __future__ import annotations

import pytest

from bench.reencode import reencoded
from schemas.feature import HOLES, Feature
from tests.recognise.parts import at_height, block, drill, obround, pocket, rounded
from tests.support.recognised import recognise
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body


def holes(body: Body) -> list[Feature]:
    """Single holes and the elements of compounds, the widest first, then the deepest."""
    found = [f for f in recognise(body) if f.class_ == "round_hole"]
    return sorted(found, key=lambda f: (-(f.diameter or 0.0), -(f.depth or 0.0), f.id))


def fork(gap: float, wall: float, diameter: float, *tools: Body) -> Body:
    """Two cheeks along X on a base, bored through both."""
    whole = gap + 2 * wall
    bore = cylinder((-1, 15, 28), (whole + 1, 15, 28), diameter)
    return cut(block(whole, 30, 40), [box((wall, -1, 15), (wall + gap, 31, 41)), bore, *tools])


@pytest.mark.parametrize(
    ("gap", "wall", "diameter", "depths"),
    [
        (40, 10, 10, [10, 10]),
        (20, 10, 10, [40]),  # a fork head as DIN 71752 draws them: gap as wide as the pin, walls half of it
        (10, 25, 10, [60]),
        (25, 10, 26, [45]),  # a groove narrower than the hole it crosses
        (20.5, 10, 10, [10, 10]),
    ],
)
def test_walls_with_more_air_between_them_than_metal_have_a_hole_each(
    gap: float, wall: float, diameter: float, depths: list[float]
) -> None:
    body = (
        fork(gap, wall, diameter)
        if diameter < 20
        else cut(
            block(45, 60, 60),
            [box((10, -1, 15), (35, 61, 61)), cylinder((-1, 30, 38), (46, 30, 38), diameter)],
        )
    )
    found = holes(body)
    assert [f.depth for f in found] == pytest.approx(depths)
    assert all(len(f.access) == 2 and f.bottom == "through" for f in found)


def test_a_wall_far_away_leaves_the_other_holes_name() -> None:
    near = holes(cut(block(10, 30, 40), [cylinder((-1, 15, 28), (11, 15, 28), 10)]))
    assert {f.id for f in near} < {f.id for f in holes(fork(40, 10, 10))}


def test_each_cheek_has_its_own_counterbore() -> None:
    sinks = [cylinder((-1, 15, 28), (4, 15, 28), 16), cylinder((56, 15, 28), (61, 15, 28), 16)]
    found = recognise(fork(40, 10, 10, *sinks))
    compounds = [f for f in found if f.class_ == "counterbore_hole"]
    assert [(f.diameter, f.top_diameter, f.depth) for f in compounds] == [pytest.approx((10, 16, 10))] * 2
    assert {f.access[0][0] for f in compounds} == {1.0, -1.0}


def test_a_gallery_through_cross_bores_is_one_hole_and_radial_holes_of_a_ring_are_many() -> None:
    bores = [cylinder((x, -1, 20), (x, 31, 20), 24) for x in (25, 60)]
    gallery = cut(block(85, 30, 40), [*bores, cylinder((-1, 15, 20), (86, 15, 20), 8)])
    assert max(f.depth or 0.0 for f in holes(gallery)) == pytest.approx(85) and len(holes(gallery)) == 3
    ring = cut(cylinder((0, 0, 0), (0, 0, 20), 120), [cylinder((0, 0, -1), (0, 0, 21), 100)])
    ring = cut(ring, [cylinder((-61, 0, 10), (61, 0, 10), 8), cylinder((0, -61, 10), (0, 61, 10), 8)])
    assert len([f for f in holes(ring) if f.diameter == pytest.approx(8)]) == 4


def test_equal_counterbores_on_both_sides_are_no_ring_groove() -> None:
    body = cut(block(), [drill(20, 30, -1, 21, 12), drill(20, 30, 14, 21, 20), drill(20, 30, -1, 5, 20)])
    found = recognise(body)
    assert [f.class_ for f in found if f.class_ in ("slot", "counterbore_hole")] == ["counterbore_hole"]
    assert [(f.diameter, f.depth, f.bottom) for f in holes(body)] == [
        (pytest.approx(20), pytest.approx(6), "flat"),
        (pytest.approx(20), pytest.approx(5), "flat"),
        (pytest.approx(12), pytest.approx(9), "through"),
    ]


def test_ring_grooves_of_one_size_are_told_one_by_one() -> None:
    grooves = [drill(50, 30, 10, 13, 24), drill(50, 30, 25, 29, 24)]
    found = recognise(cut(block(z=40), [drill(50, 30, -1, 41, 20), *grooves]))
    assert sorted(f.width or 0.0 for f in found if f.class_ == "slot") == pytest.approx([3, 4])
    assert [f.depth for f in found if f.class_ == "round_hole"] == pytest.approx([40])


def test_a_counterbore_as_wide_as_a_ring_groove_below_it() -> None:
    tools = [drill(50, 30, -1, 41, 20), drill(50, 30, 10, 13, 24), drill(50, 30, 35, 41, 24)]
    found = recognise(cut(block(z=40), tools))
    assert [(f.diameter, f.depth) for f in found if f.class_ == "round_hole"] == [
        (pytest.approx(24), pytest.approx(5)),
        (pytest.approx(20), pytest.approx(35)),
    ]
    assert [f.width for f in found if f.class_ == "slot"] == pytest.approx([3])


HAIRS = [0.0, *(sign * size for size in (1e-7, 1e-6, 1e-5, 1e-4, 1e-3, 2.5e-3, 4.9e-3) for sign in (1, -1))]


@pytest.mark.parametrize("hair", HAIRS)
@pytest.mark.parametrize(
    ("recess", "low", "high", "told"),
    [
        (obround(30, 60, 30, 12, 21, 8), -1, 21, (20, "through", 2)),
        (obround(30, 60, 30, 12, 21, 8), -1, 13, (20, "through", 2)),
        (obround(30, 60, 30, 12, 21, 8), 4, 21, (16, "flat", 1)),
        (obround(30, 60, 30, -1, 8, 8), 8, 21, (20, "through", 2)),
        (pocket((56, 26, 12), (90, 50, 21), 4), -1, 21, (20, "through", 2)),
    ],
    ids=["through", "from below", "blind", "from above", "corner"],
)
def test_a_hole_at_a_round_end_does_not_hang_on_a_hair(
    hair: float, recess: Body, low: float, high: float, told: tuple[float, str, int]
) -> None:
    """The drill is ``hair`` larger or smaller in radius than the slot's end or pocket's corner it is coaxial with."""
    (found,) = holes(cut(block(), [recess, drill(60, 30, low, high, 8 + 2 * hair)]))
    assert (found.depth, found.bottom, len(found.access)) == (pytest.approx(told[0], abs=1e-6), *told[1:])
    assert found.diameter == pytest.approx(8 + 2 * hair, abs=3e-6)


@pytest.mark.parametrize("hair", [0.0, 1e-6, -1e-6, 1e-3, -1e-3])
def test_two_blind_holes_with_a_hairs_difference_keep_their_floors(hair: float) -> None:
    body = cut(block(z=40), [drill(50, 30, 30, 41, 8), drill(50, 30, -1, 10, 8 + hair)])
    assert [(f.depth, f.bottom) for f in holes(body)] == [(pytest.approx(10), "flat")] * 2


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("gap", [40.0, 20.0])
def test_forks_written_otherwise_have_the_same_holes(gap: float, seed: int) -> None:
    body = fork(gap, 10, 10)
    sizes = [(f.diameter, f.depth, f.bottom, len(f.access)) for f in holes(reencoded(body, seed)[0])]
    assert sizes == [(pytest.approx(f.diameter), pytest.approx(f.depth, abs=1e-3), f.bottom, 2) for f in holes(body)]


def test_a_groove_at_the_end_of_a_blind_hole_does_not_open_it() -> None:
    body = cut(block(z=40), [drill(50, 30, 10, 41, 12), drill(50, 30, 10, 13, 15)])
    (found,) = holes(body)
    assert (found.depth, found.bottom, found.access) == (pytest.approx(30), "flat", ((0.0, 0.0, 1.0),))


def test_a_hole_with_a_rounded_floor_is_as_deep_as_its_flat() -> None:
    """As drawings give it (from memory): down to the flat; the radius lies between wall and floor."""
    (found,) = holes(cut(block(z=40), [rounded(drill(50, 30, 20, 41, 10), 2.0, at_height(20))]))
    assert (found.depth, found.bottom, found.planar_radius) == (pytest.approx(20), "flat_with_radius", 2)


@pytest.mark.parametrize("hair", [*HAIRS, 0.02, -0.02, 0.4])
def test_a_pocket_stays_closed_where_a_hole_takes_its_round_corner(hair: float) -> None:
    body = cut(block(), [pocket((56, 26, 12), (90, 50, 21), 4), drill(60, 30, -1, 21, 8 + 2 * hair)])
    (found,) = [f for f in recognise(body) if "pocket" in f.class_]
    assert (found.class_, found.open_sides, found.orthogonal_radius) == ("closed_pocket", 0, pytest.approx(4))
    assert (found.length, found.width, found.depth) == pytest.approx((34, 24, 8), abs=1e-3)


@pytest.mark.parametrize("aside", [0.0, 2.0, 3.5])
def test_a_slot_across_a_countersink_leaves_it_one_cone(aside: float) -> None:
    """90 degrees, from 8 to 16, in two pieces: each was a hole of its own, alike in all but its faces."""
    sunk = [drill(50, 30, -1, 21, 8), cone((50, 30, 16), (50, 30, 21), 8, 18)]
    slot = box((-1, 27 + aside, 12), (101, 33 + aside, 21))
    whole = {f.id: f for f in recognise(cut(block(), sunk)) if f.class_ in HOLES}
    found = {f.id: f for f in recognise(cut(block(), [*sunk, slot])) if f.class_ in HOLES}
    assert found.keys() == whole.keys() and len(found) == 3
    (compound,) = [f for f in found.values() if f.class_ == "countersunk_hole"]
    assert (compound.elements, compound.top_diameter) == (whole[compound.id].elements, pytest.approx(16))
