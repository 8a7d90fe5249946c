"""Recesses whose wall stands over a T-slot's roof or a dovetail's flank: told as without those; sizes as drawn."""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, pocket, prism, t_slot
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

DOVETAIL = cut(block(z=40), [prism([(24, 40), (16, 11), (44, 11), (36, 40)], -1, 101)])
DEPTHS = [15.0, 20.0, 25.0, 32.0]
"""Above the T-slot's roof at z = 20, level with it, within its foot, below that (z = 11)."""


def recess_of(body: Body) -> Feature:
    """The one recess beside the channel, which is told whole."""
    found = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    channel, other = sorted(found, key=lambda f: f.undercut is None)
    assert (channel.class_, channel.length, channel.ends) == ("slot", pytest.approx(100), "open open")
    return other


@pytest.mark.parametrize("deep", DEPTHS)
@pytest.mark.parametrize("corner", [0.0, 4.0])
def test_a_pocket_right_across_the_neck_is_closed_over_the_far_roof(deep: float, corner: float) -> None:
    """The neck is open from y = 24 to 36, the foot from 19 to 41."""
    body = cut(t_slot(), [pocket((40, 10, 40 - deep), (60, 38, 41), corner)])
    found = recess_of(body)
    assert (found.class_, found.open_sides, found.bottom) == ("closed_pocket", 0, "planar")
    assert (found.length, found.width, found.depth) == pytest.approx((28, 20, deep))
    if corner and deep == 20:
        same_when_rewritten(body, 3)


@pytest.mark.parametrize("deep", DEPTHS)
def test_one_from_the_side_of_the_part_ends_at_its_wall_over_the_roof(deep: float) -> None:
    found = recess_of(cut(t_slot(), [box((40, 38, 40 - deep), (60, 61, 41))]))
    assert (found.class_, found.open_sides) == ("open_pocket", 1)
    assert sorted((found.length or 0, found.width or 0, found.depth or 0)) == pytest.approx(sorted((22, 20, deep)))
    assert {(0.0, 0.0, 1.0), (0.0, 1.0, 0.0)} == set(found.access)


@pytest.mark.parametrize("deep", DEPTHS[:3])
def test_a_slot_across_the_neck_ends_flat_over_the_roof(deep: float) -> None:
    found = recess_of(cut(t_slot(), [box((40, -1, 40 - deep), (46, 38, 41))]))
    assert (found.class_, found.ends) == ("slot", "open flat")
    assert (found.length, found.width, found.depth) == pytest.approx((38, 6, deep))


@pytest.mark.parametrize("deep", [12.0, 25.0])
def test_so_it_is_over_the_flank_of_a_dovetail(deep: float) -> None:
    found = recess_of(cut(DOVETAIL, [box((40, 10, 40 - deep), (60, 38.5, 41))]))
    assert (found.class_, found.length, found.width) == ("closed_pocket", pytest.approx(28.5), pytest.approx(20))


@pytest.mark.parametrize("deep", [15.0, 20.0])
def test_a_pocket_that_ends_in_the_neck_is_open_to_it(deep: float) -> None:
    found = recess_of(cut(t_slot(), [box((40, 10, 40 - deep), (60, 30, 41))]))
    assert (found.class_, found.open_sides, found.width) == ("open_pocket", 1, pytest.approx(14))


def test_walls_on_one_plane_with_metal_between_are_two_pockets() -> None:
    """One on each side of a T-slot's neck that stays closed between them."""
    tools = [box((20, 10, 25), (40, 30, 41)), box((20, 34, 20), (40, 38, 41))]
    found = recognise(cut(block(z=40), [*tools, box((-1, 31, 12), (101, 45, 20))]))
    assert sorted(f.width or 0 for f in found if f.placement.axis[2] == 1 and "pocket" in f.class_) == [4, 20]


@pytest.mark.parametrize("deep", [15.0, 20.0, 25.0])
@pytest.mark.parametrize("side", [(10, 38), (22, 50), (10, 50)])
@pytest.mark.parametrize("corner", [0.0, 4.0])
def test_a_pocket_open_to_the_end_of_the_part_is_open_there_alone(
    side: tuple[float, float], deep: float, corner: float
) -> None:
    """Its wall over the roof, on one side or both, is a wall like any other."""
    found = recess_of(cut(t_slot(), [end_pocket(*side, deep, corner)]))
    assert (found.class_, found.open_sides, found.placement.axis) == ("open_pocket", 1, (0, 0, 1))
    width = side[1] - side[0]
    assert (found.length, found.width, found.depth) == pytest.approx((max(30, width), min(30, width), deep))


@pytest.mark.parametrize("side", [(10, 38), (10, 50)])
def test_below_the_foot_it_is_open_to_one_side_too_seen_from_the_end(side: tuple[float, float]) -> None:
    """30 deep from there and 32 from above: the T-slot comes out in what is its floor then."""
    found = next(f for f in recognise(cut(t_slot(), [end_pocket(*side, 32, 0)])) if f.class_ == "open_pocket")
    assert (found.open_sides, found.placement.axis, found.depth) == (1, (1, 0, 0), pytest.approx(30))


@pytest.mark.parametrize("deep", [20.0, 25.0])
def test_a_pocket_with_round_corners_within_the_foot_is_one_through_into_it(deep: float) -> None:
    """Of 16 mm between the walls over both roofs the neck takes 12, and all flat that its ends had between corners."""
    closed = cut(t_slot(), [pocket((40, 22, 40 - deep), (60, 38, 41), 4)])
    open_ = cut(t_slot(), [end_pocket(22, 38, deep, 4)])
    for body, class_, sides, length in ((closed, "closed_pocket", 0, 20), (open_, "open_pocket", 1, 30)):
        found = recess_of(body)
        assert (found.class_, found.open_sides, found.bottom) == (class_, sides, "through")
        assert (found.length, found.width, found.depth) == pytest.approx((length, 16, 20))
        if deep == 20:
            same_when_rewritten(body, 4)


def end_pocket(low: float, high: float, deep: float, corner: float) -> Body:
    """From x = 70 out past the end of the part."""
    return cut(pocket((70, low, 40 - deep), (130, high, 41), corner), [box((102, 0, 0), (140, 60, 50))])
