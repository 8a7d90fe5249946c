"""Steps, slots, notches with open sides on a blank that is larger than the part: against boxes cut by hand."""

from __future__ import annotations

import math
from typing import cast

import pytest

from examples.shapes import Shape, box, cut, cylinder, polygon, prism, volume
from tests.support.trial import plan, raw_box, setup, stages_of, step, taken, tool
from worker.kernel.planar import Region, rectangle
from worker.kernel.planar import polygon as region
from worker.kernel.planar_edge import length, line
from worker.stage.removal.chains import extended, open_sides
from worker.stage.removal.footprint import OUTSIDE, _walled, _without_small_holes
from worker.stage.removal.scene import Scene

REL = 1e-6
FINISH = "bottom_and_side_finish_milling"
RAW = raw_box((-52, -43, -30), (54, 45, 3))  # uneven excess on every side


def block() -> Shape:
    return box((-50, -40, -30), (50, 40, 0))


def stock() -> Shape:
    return box((-52, -43, -30), (54, 45, 3))


def taken_by(part: Shape, at: tuple[float, float, float], diameter: float = 10, **keys: object) -> float:
    work = step(FINISH, tool("endmill", diameter), {"at": list(at), **keys})
    (stage,) = stages_of(part, plan(RAW, setup([work])))
    return taken(stage)


def by_hand(*tools: Shape) -> float:
    return volume(stock()) - volume(cut(stock(), *tools))


def test_a_step_open_on_three_sides_takes_the_outer_corners() -> None:
    part = cut(block(), box((-60, -60, -8), (60, -25, 1)))
    assert taken_by(part, (0, -30, -8)) == pytest.approx(by_hand(box((-60, -60, -8), (60, -25, 9))), rel=REL)


@pytest.mark.parametrize("floor", [-8.0, -7.46])
def test_a_step_goes_over_a_leaning_hole_in_the_corner_of_its_floor(floor: float) -> None:
    """The hole's bent wall ends in floor and wall: nothing of it stands in the step's own volume."""
    below = box((-60, -60, floor), (60, -25, 1))
    part = cut(block(), below, cylinder((0, -33, floor + 8), (0, -17, floor - 8), 4))
    hand = by_hand(box((-60, -60, floor), (60, -25, 9)))
    assert taken_by(part, (-30, -30, floor)) == pytest.approx(hand, rel=REL)


def test_a_slit_without_width_in_a_floor_is_no_island() -> None:
    """Seen far from square, floor and walls in one plan leave such where the metal before them ends."""
    floor, slit = region(((0, 0), (9, 0), (9, 5), (0, 5))), (line((2, 2), (4, 2)), line((4, 2), (2, 2)))
    whole = Region((*floor.loops, slit))
    assert _without_small_holes(cast(Scene, None), whole, 0.0, 1.0).area == pytest.approx(9 * 5)


def test_a_step_in_a_corner_is_open_between_two_walls() -> None:
    part = cut(block(), box((-60, -60, -8), (-20, -25, 1)))
    hand = by_hand(cut(box((-60, -60, -8), (-20, -25, 9)), corner((-20, -25), 5, -8)))
    assert taken_by(part, (-30, -30, -8)) == pytest.approx(hand, rel=REL)


def test_a_through_notch_with_a_sloping_wall_is_cleared_beside_the_slope() -> None:
    """A flat cutter takes the ground before the slope's foot: the slope covers its own plan, and nothing else."""
    outline = polygon([(-60, -60, -31), (-22, -60, -31), (-20, -60, 1), (-60, -60, 1)])
    part = cut(block(), prism(outline, (0, 35, 0)))
    low, high = (-52, -40, -30), (54, 45, 3)  # no metal before the part's own front
    work = step(FINISH, tool("endmill", 10), {"at": [-21, -30, -15]})
    (stage,) = stages_of(part, plan(raw_box(low, high), setup([work])))
    foot, head = -22 + 2 / 32, -20 - 2 / 32  # where the slope meets the lower and the upper face
    before = cut(box((-60, -60, -31), (foot, -25, 0)), corner((foot, -25), 5, -31))
    above = cut(box((-60, -60, 0), (head, -25, 9)), corner((head, -25), 5, 0))
    hand = volume(box(low, high)) - volume(cut(box(low, high), before, above))
    assert taken(stage) == pytest.approx(hand, rel=REL)


def corner(at: tuple[float, float], radius: float, low: float) -> Shape:
    """What a cutter leaves in a square corner at the upper right."""
    x, y = at
    square = box((x - radius, y - radius, low), (x, y, 9))
    return cut(square, cylinder((x - radius, y - radius, low - 1), (x - radius, y - radius, 10), 2 * radius))


def test_a_slot_through_both_ends_is_a_strip() -> None:
    part = cut(block(), box((-60, -6, -10), (60, 6, 1)))
    assert taken_by(part, (0, 0, -10), 12) == pytest.approx(by_hand(box((-60, -6, -10), (60, 6, 9))), rel=REL)


def test_a_pocket_open_on_one_side_reaches_past_it() -> None:
    part = cut(block(), box((20, -15, -10), (60, 15, 1)))
    hand = by_hand(cut(box((20, -15, -10), (60, 15, 9)), left_corner((20, 15), 5, 1), left_corner((20, -15), 5, -1)))
    assert taken_by(part, (30, 0, -10)) == pytest.approx(hand, rel=REL)


def left_corner(at: tuple[float, float], radius: float, up: int) -> Shape:
    x, y = at
    centre = (x + radius, y - up * radius)
    low, high = sorted((y, centre[1]))
    square = box((x, low, -10), (x + radius, high, 9))
    return cut(square, cylinder((*centre, -11), (*centre, 10), 2 * radius))


def test_a_notch_without_floor_is_closed_by_its_chord() -> None:
    part = cut(block(), box((30, -15, -40), (60, 15, 1)))
    notch = cut(box((30, -15, -30), (60, 15, 9)), tall(30, 15, 1), tall(30, -15, -1))
    assert taken_by(part, (30, 0, -15)) == pytest.approx(by_hand(notch), rel=REL)


def tall(x: float, y: float, up: int, radius: float = 5) -> Shape:
    centre = (x + radius, y - up * radius)
    low, high = sorted((y, centre[1]))
    return cut(box((x, low, -31), (x + radius, high, 9)), cylinder((*centre, -32), (*centre, 10), 2 * radius))


def test_an_allowance_leaves_a_round_corner_at_the_end_of_a_wall() -> None:
    # The wall grown by s ends in a quarter circle about the part's edge. Between it and the wall's continuation the
    # cutter (r) leaves the gap of two touching circles and their common tangent: d r/2 - r^2 p/2 - s^2 q/2.
    part = cut(block(), box((-60, -60, -8), (60, -25, 1)))
    s, r = 0.5, 5.0
    d = math.sqrt(2 * r * s + s * s)
    gap = d * r / 2 - r * r * math.atan2(d, r) / 2 - s * s * math.atan2(r, d) / 2
    work = step("bottom_and_side_rough_milling", tool("endmill", 2 * r), {"at": [0, -30, -8]}, allowance_side=s)
    (stage,) = stages_of(part, plan(raw_box((-54, -43, -30), (54, 45, 3)), setup([work])))
    left = 108 * 18 * 11 - taken(stage)
    height = 8  # the grown wall ends at the part's top face
    assert left == pytest.approx((s * 100 + 2 * (math.pi * s * s / 4 + gap)) * height, rel=1e-5)


def test_an_island_lower_than_the_surface_is_cleared_above() -> None:
    island = box((-10, -8, -15), (10, 8, -5))
    part = cut(block(), cut(box((-40, -30, -15), (40, 30, 1)), island))
    work = step(FINISH, tool("endmill", 10), {"class": "closed_pocket"})
    (stage,) = stages_of(part, plan(raw_box((-50, -40, -30), (50, 40, 0)), setup([work])))
    corners = (4 - math.pi) * 25 * 15
    assert taken(stage) == pytest.approx(80 * 60 * 15 - 20 * 16 * 10 - corners, rel=REL)


def test_an_island_as_high_as_the_surface_keeps_its_stock() -> None:
    island = box((-10, -8, -15), (10, 8, 0))
    part = cut(block(), cut(box((-40, -30, -15), (40, 30, 1)), island))
    work = step(FINISH, tool("endmill", 10), {"class": "closed_pocket"})
    (stage,) = stages_of(part, plan(raw_box((-50, -40, -30), (50, 40, 2)), setup([work])))
    corners = (4 - math.pi) * 25 * 17
    assert taken(stage) == pytest.approx((80 * 60 - 20 * 16) * 17 - corners, rel=REL)


def test_a_second_pass_finds_nothing_and_two_halves_make_a_whole() -> None:
    part = cut(block(), box((-60, -60, -8), (60, -25, 1)), box((20, -15, -10), (60, 15, 1)))
    ids = [{"at": [0, -30, -8]}, {"at": [30, 0, -10]}]
    cutter = tool("endmill", 10)
    (together,) = stages_of(part, plan(RAW, setup([step(FINISH, cutter, *ids), step(FINISH, cutter, *ids)])))
    (apart,) = stages_of(part, plan(RAW, setup([step(FINISH, cutter, one) for one in ids])))
    assert together.cuts[1].removal_volume == pytest.approx(0, abs=1e-6)
    assert taken(apart) == pytest.approx(taken(together), rel=1e-9)


def test_a_slot_that_crosses_a_pocket_gives_nothing_from_behind() -> None:
    """From below its floor stands in the way; what lies past its open ends is no slot without it."""
    pocket, slot = box((-12, -6, -12), (12, 6, 1)), box((-60, -4, -8), (60, 4, 1))
    work = step(FINISH, tool("endmill", 5), {"at": [-30, 0, -8]})
    below = setup([work], axis=(0, 0, -1), location={"on": "part", "at": ["mid", "mid", "max"]})
    (stage,) = stages_of(cut(block(), pocket, slot), plan(RAW, below))
    assert taken(stage) == pytest.approx(0.0, abs=1e-6)


def test_metal_outside_the_next_side_ends_no_open_one() -> None:
    """What stands beside the right side reaches a hundredth of a millimetre back past their common corner: the front
    stays open all along, and the ground past the three open sides is all that lies left of the wall's own line."""
    square = rectangle(0, 0, 10, 10)
    beside = region([(9.985, 0.01), (9.985, -1), (12, -1), (12, 10), (10, 10), (10, 0.01)])
    told = _walled(square.edges, beside, OUTSIDE)
    assert [held for edge, held in told if length(edge) > 0.1] == [edge.a == (10.0, 0.0) for edge in square.edges]
    sides = open_sides(told)
    assert sides is not None
    assert extended(square, sides, rectangle(-20, -20, 20, 20)).area == pytest.approx(30 * 40, abs=0.1)
