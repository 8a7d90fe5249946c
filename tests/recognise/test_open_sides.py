"""To how many sides recesses are open: counted by gap and by side of the block, however those are rounded."""

from __future__ import annotations

import math

import pytest

from bench.reencode import reencoded
from schemas.base import Frame, Vec3
from tests.recognise.parts import block, chamfered, drill, prism, rounded, upright
from tests.support.recognised import recognise
from worker.kernel.boolean import cut, fuse
from worker.kernel.planar import polygon
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body
from worker.kernel.sweep import prism as sweep


def open_sides(body: Body, class_: str) -> int | None:
    (found,) = [f for f in recognise(body) if f.class_ == class_]
    return found.open_sides


@pytest.mark.parametrize(
    ("tool", "class_", "sides"),
    [
        (box((-1, -1, 14), (101, 20, 21)), "step", 3),
        (box((-1, -1, 14), (30, 20, 21)), "step", 2),
        (box((-1, 4, 10), (70, 56, 21)), "open_pocket", 1),  # its gap meets the rounds of both corners
    ],
)
@pytest.mark.parametrize("radius", [0.0, 8.0])
def test_rounded_corners_of_the_block_are_no_sides(tool: Body, class_: str, sides: int, radius: float) -> None:
    whole = rounded(block(), radius, upright) if radius else block()
    assert open_sides(cut(whole, [tool]), class_) == sides


def test_a_window_in_the_floor_at_a_gap_opens_no_more_sides() -> None:
    """A half-round scallop through the floor's free edge."""
    body = cut(block(), [box((30, -1, 10), (70, 40, 21)), drill(50, 0, -1, 21, 12)])
    assert [f.open_sides for f in recognise(body) if f.bottom == "planar"] == [1]


def upper_ends(a: Vec3, b: Vec3) -> bool:
    """The upper edges of the block's two ends."""
    return abs(a[0] - b[0]) + abs(a[2] - 20) + abs(b[2] - 20) < 1e-6


NECK = cylinder((0, 0, 0), (60, 0, 0), 36)


@pytest.mark.parametrize(
    ("body", "sides"),
    [
        (cut(NECK, [box((54, -20, -4), (61, 20, 4))]), 2),  # both ends run out into one round face
        (cut(block(), [prism([(20, 21), (30, 8), (40, 21)], -1, 101)]), 2),
        (cut(chamfered(block(), 3, upper_ends), [prism([(20, 21), (30, 8), (40, 21)], -1, 101)]), 2),
        (cut(block(), [prism([(20, 21), (30, 8), (40, 21)], -1, 101), box((90, -1, 14), (101, 61, 21))]), 2),
        (cut(chamfered(block(), 3, upper_ends), [cylinder((-1, 30, 20), (101, 30, 20), 10)]), 2),
    ],
)
def test_a_slot_is_open_at_its_open_ends(body: Body, sides: int) -> None:
    assert open_sides(body, "slot") == sides


def test_a_round_along_an_edge_is_open_to_its_side_and_both_ends() -> None:
    assert open_sides(cut(block(), [cylinder((-1, 0, 20), (101, 0, 20), 10)]), "open_pocket") == 3


@pytest.mark.parametrize("bend", [0.0, 4.0])
def test_corners_drawn_a_little_off_are_no_inner_edges(bend: float) -> None:
    """A notch through a wall, 10 thick, corners tangent to its foot but for some degrees: cut through it."""
    aside, up = 4 * math.sin(math.radians(bend)), 4 * math.cos(math.radians(bend))
    left = cut(box((-1, 20, 4), (11, 24 - aside, 4 + up)), [cylinder((-2, 24, 4 + up), (12, 24, 4 + up), 8)])
    right = cut(box((-1, 36 + aside, 4), (11, 40, 4 + up)), [cylinder((-2, 36, 4 + up), (12, 36, 4 + up), 8)])
    notch = cut(box((-1, 20, 4), (11, 40, 21)), [left, right])
    body = cut(block(), [notch, box((10, 10, -1), (90, 50, 21))])
    (found,) = [f for f in recognise(body) if f.class_ == "open_pocket"]
    assert (found.open_sides, found.bottom, found.depth) == (1, "through", pytest.approx(10))
    assert (found.length, found.width) == pytest.approx((20, 16))
    assert abs(found.placement.axis[0]) == pytest.approx(1)


def test_windows_in_far_walls_are_cut_one_by_one() -> None:
    """A frame 100 long with walls 10 thick: 80 of air between windows 20 wide; near ones are cut in one go."""
    for inner, count in ((box((10, 10, -1), (90, 50, 21)), 2), (box((40, 10, -1), (60, 50, 21)), 1)):
        body = cut(block(), [inner, box((-1, 20, 5), (101, 40, 15))])
        found = [f for f in recognise(body) if f.class_ == "closed_pocket" and f.width == pytest.approx(10)]
        assert len(found) == count


def test_an_upright_wall_seen_edge_on_opens_no_side() -> None:
    """A groove, 10 wide, along the foot of a tall post with slanting shoulders.

    It is open at both ends; the post's own edges, beside and above it, lie in the wall's line.
    """
    along = Frame(location=(0, 0, 0), axis=(1, 0, 0), ref_direction=(0, 1, 0))
    across = Frame(location=(0, 0, 0), axis=(0, 1, 0), ref_direction=(1, 0, 0))
    groove = sweep(polygon(((50, 30), (55, 25), (60, 25), (60, 31), (50, 31))), along, -1, 101)
    sides = ((30, 0), (70, 0), (70, -200), (60, -220), (40, -220), (30, -200))
    body = fuse([cut(block(y=90, z=30), [groove]), sweep(polygon(sides), across, 60, 80)])
    for again in (body, reencoded(body, 3)[0]):
        (found,) = [f for f in recognise(again) if f.class_ == "open_pocket" and f.width == pytest.approx(10)]
        assert (found.open_sides, found.bottom) == (2, "planar")


def test_a_round_end_between_two_faces_that_look_at_each_other_is_open_to_one_side() -> None:
    """A hair wider than the way that leads to it: a wall of 196 degrees with one gap."""
    body = cut(block(), [drill(50, 20, -1, 21, 20.2), box((40, -1, -1), (60, 20, 21))])
    (found,) = [f for f in recognise(body) if f.class_ == "open_pocket"]
    assert (found.open_sides, found.bottom, len(found.faces)) == (1, "through", 1)
