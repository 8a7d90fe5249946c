"""Patterns are named on their members."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from tests.recognise.parts import block, drill
from tests.support.recognised import recognise
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body


def patterns(spots: list[tuple[float, float]]) -> set[str | None]:
    body = cut(block(120, 80, 20), [drill(x, y, -1, 21, 6) for x, y in spots])
    return {f.pattern for f in recognise(body) if f.class_ == "round_hole"}


def test_bolt_circle() -> None:
    spots = [(60 + 30 * math.cos(k * math.pi / 3 + 0.2), 40 + 30 * math.sin(k * math.pi / 3 + 0.2)) for k in range(6)]
    assert patterns(spots) == {"circular 6"}


def test_grid_square_and_turned() -> None:
    grid = [(20.0 * i, 15.0 * j) for i in range(4) for j in range(3)]
    assert patterns([(20 + x, 20 + y) for x, y in grid]) == {"rectangular 4 x 3"}
    c, s = math.cos(0.3), math.sin(0.3)
    assert patterns([(30 + c * x - s * y, 15 + s * x + c * y) for x, y in grid]) == {"rectangular 4 x 3"}


def test_row_and_scatter() -> None:
    assert patterns([(20 + 25 * i, 40) for i in range(4)]) == {"rectangular 4 x 1"}
    assert patterns([(20, 20), (35, 20), (80, 31), (71, 66)]) == {"general 4"}


def test_two_alike_or_different_sizes_are_no_pattern() -> None:
    assert patterns([(20, 20), (60, 20)]) == {None}
    body = cut(block(120, 80, 20), [drill(20 + 20 * i, 20, -1, 21, 5 + i) for i in range(4)])
    assert {f.pattern for f in recognise(body) if f.class_ == "round_hole"} == {None}


def test_pockets_form_patterns_too() -> None:
    body = cut(block(120, 80, 20), [box((10 + 25 * i, 20, 10), (28 + 25 * i, 40, 21)) for i in range(4)])
    assert {f.pattern for f in recognise(body) if f.class_ == "closed_pocket"} == {"rectangular 4 x 1"}


def ring(count: int, radius: float, step: float) -> list[tuple[float, float]]:
    return [(60 + radius * math.cos(k * step), 40 + radius * math.sin(k * step)) for k in range(count)]


def test_circles_round_one_middle_are_told_one_by_one() -> None:
    assert patterns([*ring(6, 16, math.pi / 3), *ring(8, 32, math.pi / 4)]) == {"circular 6", "circular 8"}


def test_equal_steps_along_an_arc() -> None:
    assert patterns(ring(7, 30, math.pi / 7)) == {"circular 7"}
    uneven = ring(7, 30, math.pi / 7)
    uneven[3] = (60 + 30 * math.cos(1.4), 40 + 30 * math.sin(1.4))
    assert patterns(uneven) == {"general 7"}


def test_grids_far_apart_are_two_and_what_stands_alone_is_neither() -> None:
    grid = [(10.0 + 10 * i, 10.0 + 10 * j) for i in range(3) for j in range(2)]
    assert patterns([*grid, *((x + 70, y + 40) for x, y in grid)]) == {"rectangular 3 x 2"}
    assert patterns([*grid, (100, 70)]) == {"rectangular 3 x 2", None}


@pytest.mark.parametrize(("steps", "wanted"), [(range(6), {"circular 6"}), (range(5), {None})])
def test_slots_all_round_a_shaft_are_a_circle_of_their_own(steps: range, wanted: set[str | None]) -> None:
    """At steps of 60 degrees; five of six go not all round. What is farther along the shaft is another circle."""
    tools = []
    for low in (-1, 40):
        for k in steps:
            way = (math.cos(k * math.pi / 3 + 0.2), math.sin(k * math.pi / 3 + 0.2), 0.0)
            frame = Frame(location=(0, 0, 0), axis=(0, 0, 1), ref_direction=way)
            tools.append(box((17, -3, low), (30, 3, low + 21), frame))
    found = [f for f in recognise(cut(cylinder((0, 0, 0), (0, 0, 60), 50), tools)) if f.class_ == "slot"]
    assert len(found) == 2 * len(steps) and {f.pattern for f in found} == wanted


def test_slots_that_turn_about_a_middle_are_a_circle_and_those_side_by_side_a_grid() -> None:
    ways = [(math.cos(k * math.pi / 2 + 0.2), math.sin(k * math.pi / 2 + 0.2), 0.0) for k in range(4)]
    about = [Frame(location=(60, 40, 0), axis=(0, 0, 1), ref_direction=way) for way in ways]
    star = cut(block(120, 80, 20), [box((10, -3, 12), (30, 3, 21), frame) for frame in about])
    grid = cut(block(120, 80, 20), [box((x, y, 12), (x + 20, y + 6, 21)) for x in (20, 80) for y in (20, 60)])
    found = [{f.pattern for f in recognise(body) if f.class_ == "closed_pocket"} for body in (star, grid)]
    assert found == [{"circular 4"}, {"rectangular 2 x 2"}]


def test_equal_sectors_about_a_middle_lie_along_their_own_middles() -> None:
    """Wedges of 70 degrees between radii of 15 and 50, a quarter turn apart."""
    ring = cut(drill(60, 60, 12, 21, 100), [drill(60, 60, 11, 22, 30)])
    ways = [math.radians(90 * k + a) for k in range(4) for a in (10, 80)]
    sides = [Frame(location=(60, 60, 0), axis=(0, 0, 1), ref_direction=(math.cos(a), math.sin(a), 0)) for a in ways]
    keep = [half(frame, low) for frame, low in zip(sides, (True, False) * 4, strict=True)]
    wedges = [cut(ring, keep[2 * k : 2 * k + 2]) for k in range(4)]
    found = [f for f in recognise(cut(block(120, 120, 20), wedges)) if f.class_ == "closed_pocket"]
    assert {f.pattern for f in found} == {"circular 4"}
    chord, deep = 2 * 50 * math.sin(math.radians(35)), 50 - 15 * math.cos(math.radians(35))
    assert [(f.length, f.width) for f in found] == [pytest.approx((chord, deep))] * 4


def half(frame: Frame, right: bool) -> Body:
    """All on one side of the line that a frame's x runs in."""
    return box((-200, -200 if right else 0, 0), (200, 0 if right else 200, 40), frame)
