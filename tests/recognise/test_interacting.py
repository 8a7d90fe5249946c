"""Features that cut, stand on or run into one another, as a shop would name them; sizes are as built."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from bench.reencode import turned
from schemas.feature import Feature
from tests.recognise.parts import block, chamfered, drill, prism, rounded
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
BORE = drill(50, 30, -1, 41, 30)


def of_class(body: Body, name: str) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ == name]


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def one(body: Body, name: str) -> Feature:
    (found,) = of_class(body, name)
    return found


@pytest.mark.parametrize(
    ("bottom", "length", "ends", "access"),
    [
        (-1.0, 40, "open open", {UP, DOWN}),
        (20.0, 20, "open flat", {UP}),
    ],
)
def test_a_keyway_in_a_bore_is_a_slot_along_it(
    bottom: float, length: float, ends: str, access: set[tuple[float, float, float]]
) -> None:
    body = cut(block(z=40), [BORE, box((46, 30, bottom), (54, 48, 41))])
    keyway = one(body, "slot")
    # its bottom lies 18 from the bore's middle, its cheeks come out of the bore where that is 4 off the middle
    assert (keyway.length, keyway.width, keyway.depth) == pytest.approx((length, 8, 18 - math.sqrt(15**2 - 4**2)))
    assert keyway.ends == ends and set(keyway.access) == access
    assert one(body, "round_hole").diameter == pytest.approx(30)


@pytest.mark.parametrize("across", [box((-1, -1, 12), (101, 50, 24)), drill(50, 30, 12, 20, 40)])
def test_what_divides_a_bore_divides_its_keyway_and_oil_groove_in_no_two(across: Body) -> None:
    """A keyway as above towards +y; an oil groove of 4, its middle on the bore's wall, towards -y.

    Circles of radius 15 and 2 whose middles are 15 apart meet where x = 15 - 2^2 / 30.
    """
    square, round_ = box((46, 30, -1), (54, 48, 41)), drill(50, 15, -1, 41, 4)
    body = cut(block(z=40), [BORE, square, round_, across])
    along = [f for f in of_class(body, "slot") if set(f.access) == {UP, DOWN}]
    groove, keyway = sorted(along, key=lambda f: f.width or 0)
    assert (keyway.length, keyway.width, keyway.depth) == pytest.approx((40, 8, 18 - math.sqrt(15**2 - 4**2)))
    lip = 15 - 2**2 / 30
    assert (groove.length, groove.width, groove.depth) == pytest.approx((40, 4, 17 - lip))
    assert (groove.ends, groove.bottom, groove.planar_radius) == ("open open", "radiused", pytest.approx(2))
    same_when_rewritten(body, 2)


def test_a_half_bore_with_an_oil_groove_in_its_bottom_is_whole_however_it_lies() -> None:
    """20 wide, its groove of 4 as above."""
    body = cut(block(z=40), [cylinder((-1, 30, 40), (101, 30, 40), 20), cylinder((-1, 30, 30), (101, 30, 30), 4)])
    for part in (body, turned(body, 2)[0]):
        groove, half = sorted(of_class(part, "slot"), key=lambda f: f.width or 0)
        assert (half.length, half.width, half.depth) == pytest.approx((100, 20, 9.8)) and half.ends == "open open"
        assert (groove.length, groove.width, groove.depth) == pytest.approx((100, 4, 2.2))
        assert (len(half.access), len(groove.access)) == (3, 2)


def test_keyways_on_both_sides_of_a_bore_are_two() -> None:
    body = cut(block(z=40), [BORE, box((46, 12, -1), (54, 48, 41))])
    assert [f.width for f in of_class(body, "slot")] == pytest.approx([8, 8])


def test_a_hole_with_a_flat_is_no_round_hole() -> None:
    body = cut(block(), [cut(drill(50, 30, -1, 21, 20), [box((56, 0, -2), (70, 60, 22))])])
    found = one(body, "closed_pocket")
    assert (found.length, found.width, found.orthogonal_radius) == pytest.approx((20, 16, 10))
    assert of_class(body, "round_hole") == [] and set(found.access) == {UP, DOWN}


def test_a_flat_on_a_round_bar_is_a_step_from_its_side() -> None:
    body = cut(cylinder((0, 0, 0), (100, 0, 0), 30), [box((60, -20, 10), (101, 20, 20))])
    found = one(body, "step")
    assert found.depth == pytest.approx(5) and found.placement.axis == UP


def test_a_boss_keeps_its_diameter_over_a_fillet() -> None:
    def foot(a: tuple[float, float, float], b: tuple[float, float, float]) -> bool:
        return abs(a[2] - 10) + abs(b[2] - 10) < 1e-6 and abs(math.hypot(a[0] - 50, a[1] - 30) - 10) < 1e-3

    boss = one(rounded(fuse([block(z=10), drill(50, 30, 10, 20, 20)]), 2, foot), "boss")
    assert (boss.diameter, boss.height) == pytest.approx((20, 10))


def test_half_a_boss_at_the_edge_of_a_plate() -> None:
    body = fuse([block(z=10), cut(drill(50, 0, 10, 20, 30), [box((0, -30, 0), (100, 0, 30))])])
    boss = one(body, "boss")
    assert (boss.diameter, boss.height) == pytest.approx((30, 10))
    assert boss.placement.location == pytest.approx((50, 0, 20))
    assert [f for f in recognise(body) if "pocket" in f.class_] == []


def test_a_low_rib_divides_no_pocket() -> None:
    body = cut(block(z=40), [cut(box((10, 10, 20), (90, 50, 41)), [box((45, 10, 20), (50, 50, 30))])])
    found = one(body, "closed_pocket")
    assert (found.length, found.width, found.depth) == pytest.approx((80, 40, 20))
    assert of_class(body, "slot") == [] and len(of_class(body, "planar_face")) == 7


def test_a_dovetail_with_a_round_end_says_so() -> None:
    tail = fuse([prism([(24, 20), (36, 20), (40, 10), (20, 10)], 50, 101), cone((50, 30, 10), (50, 30, 20), 20, 12)])
    found = one(cut(block(), [tail]), "slot")
    assert found.ends == "open radiused" and "dovetail" in (found.undercut or "") and found.access == ()


def test_rounded_rims_of_a_pocket_are_no_contour() -> None:
    def rim(a: tuple[float, float, float], b: tuple[float, float, float]) -> bool:
        return all(abs(p[2] - 20) < 1e-6 and 29 < p[0] < 71 and 14 < p[1] < 46 for p in (a, b))

    body = rounded(cut(block(), [box((30, 15, 12), (70, 45, 21))]), 2, rim)
    assert len(of_class(body, "profile_feature")) == 3
    assert all(f.access for f in of_class(body, "profile_feature"))
    assert len(of_class(body, "edge_round")) == 4


def test_a_low_rib_with_posts_on_it_is_no_slot_either() -> None:
    """A cover 80 x 40 within, 12 deep: one rib 4 wide and 7 high all along it, and two posts of 12 that stand on it."""
    hollow = cut(box((10, 10, 8), (90, 50, 21)), [box((10, 28, 7), (90, 32, 15)), *(_post(x) for x in (35, 65))])
    found = recesses(cut(block(), [hollow]))
    assert sorted(f.class_ for f in found) == ["boss", "boss", "closed_pocket"]
    pocket_ = max(found, key=lambda f: f.class_)
    assert (pocket_.length, pocket_.width, pocket_.depth) == pytest.approx((80, 40, 12))


def _post(x: float) -> Body:
    return cylinder((x, 30, 7), (x, 30, 20), 12)


@pytest.mark.parametrize("stop", [17.0, 57.0])
def test_a_slot_that_ends_at_a_post_is_a_slot_however_short(stop: float) -> None:
    """4 wide and 22 deep, from one side up to a post as high as the block: the way in is from above."""
    slot = cut(box((48, -1, 8), (52, 70, 31)), [cylinder((50, stop + 8, 7), (50, stop + 8, 31), 16)])
    body = cut(block(z=30), [cut(slot, [box((40, stop + 8, 0), (60, 80, 40))])])
    (found,) = recesses(body)
    assert (found.class_, found.ends, found.placement.z) == ("slot", "open flat", (0.0, 0.0, 1.0))
    reach = stop + 8 - (64 - 4) ** 0.5  # where the flanks meet the round
    assert (found.length, found.width, found.depth) == pytest.approx((reach, 4, 22))


def test_low_ribs_in_a_pocket_leave_it_whole_and_are_no_slot() -> None:
    """80 x 40, 12 deep, with two ribs 4 wide and 9 high across it: their tops are faces."""
    pocket = cut(box((10, 10, 8), (90, 50, 21)), [box((x, 0, 0), (x + 4, 60, 17)) for x in (34, 62)])
    found = recesses(cut(block(), [pocket]))
    assert [(f.class_, f.length, f.width, f.depth) for f in found] == [("closed_pocket", 80, 40, 12)]


def test_low_ribs_that_cross_are_no_pocket_of_their_own() -> None:
    """108 x 68, 35 deep, with one rib along and two across it, 10 below its mouth."""
    ribs = [box((38, 0, 0), (41, 80, 30)), box((78, 0, 0), (81, 80, 30)), box((0, 38, 0), (120, 41, 30))]
    found = recesses(cut(block(120, 80, 40), [cut(box((6, 6, 5), (114, 74, 41)), ribs)]))
    assert [(f.class_, f.length, f.width, f.depth) for f in found] == [("closed_pocket", 108, 68, 35)]


@pytest.mark.parametrize("broken", [chamfered, rounded])
def test_a_boss_is_as_high_as_the_face_on_it_whatever_breaks_its_edge(broken: Callable[..., Body]) -> None:
    post = broken(cylinder((50, 30, 10), (50, 30, 40), 30), 2, lambda a, b: abs(a[2] - 40) + abs(b[2] - 40) < 1e-6)
    boss = one(fuse([block(), post]), "boss")
    assert (boss.height, boss.placement.location[2]) == pytest.approx((20, 40))
