"""V-grooves that bend, turn corners or close on themselves, milled by a pointed cutter: 90 degrees unless told.

A groove d deep is d squared in section; round a circle that times the way of its middle (Pappus). What the cone leaves
at an end is half of one d high and d wide, at a corner the share of one that the way turns by. Each is told the same by
both computations.
"""

from __future__ import annotations

import math

import pytest

from bench.reencode import as_nurbs, split
from examples import shapes
from examples.shapes import Shape, box, common, cut, volume
from tests.support.agreed import agreed
from tests.support.engraved import arc, end, line, on
from tests.support.trial import Json, plan, raw_box, setup, step, taken, to_be, tool
from worker.kernel.shape import Body

RAW = raw_box((0, 0, 0), (60, 40, 20))
BLOCK = box((0, 0, 0), (60, 40, 20))


def took(part: Shape, cutter: Json, **keys: object) -> float:
    found = step("bottom_and_side_finish_milling", cutter, {"class": "slot"}, **keys)
    stage = agreed(part, plan(RAW, setup([found])))
    if cutter.get("SIG") == 90:
        assert to_be(stage) == pytest.approx(volume(part), abs=0.01)
    return taken(stage)


def pointed(DC: float, SIG: float = 90.0) -> Json:
    return tool("chamfer_mill", DC, SIG=SIG, LU=20)


@pytest.mark.parametrize(("radius", "depth"), [(10.0, 3.0), (2.0, 1.5)])
def test_a_ring_is_its_section_times_its_way_round(radius: float, depth: float) -> None:
    """Round a small one the cone, 8 mm in radius, reaches over the middle."""
    found = took(cut(BLOCK, arc((30, 20), radius, 0, 360, depth)), pointed(16))
    assert found == pytest.approx(depth**2 * math.tau * radius, abs=1e-3)


def test_a_slim_cone_leaves_the_same_steps_on_both_flanks_of_a_ring() -> None:
    left = 3 * 2 * 0.5 * (1 - math.tan(math.radians(30)))
    part = cut(BLOCK, arc((30, 20), 10, 0, 360, 3))
    found = took(part, pointed(16, 60), technology={"axial_cutting_depth": 1.0})
    assert found == pytest.approx((9 - left) * math.tau * 10, abs=1e-3)


def test_a_racetrack_is_cut_all_along() -> None:
    bends = [arc((20, 20), 10, 90, 270, 3), arc((40, 20), 10, -90, 90, 3)]
    part = cut(BLOCK, *bends, *(line((20, y), (40, y), 3) for y in (10, 30)))
    assert took(part, pointed(16)) == pytest.approx(9 * (math.tau * 10 + 40), abs=1e-3)


@pytest.mark.parametrize(("start", "stop"), [(20.0, 110.0), (45.0, 315.0)])
def test_an_arc_ends_round_or_runs_out(start: float, stop: float) -> None:
    ends = [end(on((30, 20), 10, angle)) for angle in (start, stop)]
    found = took(cut(BLOCK, arc((30, 20), 10, start, stop), *ends), pointed(8))
    assert found == pytest.approx(10 * math.radians(stop - start) + math.pi / 3, abs=1e-3)
    out = took(cut(BLOCK, arc((0, 20), 10, -100, 100)), pointed(8))
    assert out == pytest.approx(10 * math.pi, abs=1e-3)


def test_in_stock_that_stands_higher_an_arc_ends_as_high() -> None:
    """5 mm over the face, and still within the cone: a groove 7 deep."""
    part = cut(BLOCK, arc((30, 20), 10, 20, 110, 2), *(end(on((30, 20), 10, angle), 2) for angle in (20, 110)))
    found = step("bottom_and_side_finish_milling", pointed(16), {"class": "slot"})
    stage = agreed(part, plan(raw_box((0, 0, 0), (60, 40, 25)), setup([found])))
    assert taken(stage) == pytest.approx(49 * 10 * math.pi / 2 + math.pi * 343 / 3, abs=1e-2)


def test_strokes_turn_corners_and_run_into_bends() -> None:
    """An L: from the strokes' sum what both have at the inner corner goes off, a pyramid's third; a quarter of a cone
    comes to it at the outer one. A J, whose bend goes on smoothly, has nothing of that."""
    corner = [line((10, 30), (10, 10)), line((10, 10), (15, 10)), *(end(p) for p in ((10, 30), (10, 10), (15, 10)))]
    assert took(cut(BLOCK, *corner), pointed(8)) == pytest.approx(25 - 1 / 3 + math.pi / 3 * 1.25, abs=1e-3)
    hook = [line((20, 30), (20, 15)), arc((15, 15), 5, -180, 0), end((20, 30)), end((10, 15))]
    assert took(cut(BLOCK, *hook), pointed(8)) == pytest.approx(15 + 5 * math.pi + math.pi / 3, abs=1e-3)


def test_bends_written_as_splines_or_in_pieces_are_the_same_groove() -> None:
    bend = [arc((30, 20), 10, 20, 110), *(end(on((30, 20), 10, angle)) for angle in (20, 110))]
    for strokes, whole in (([arc((30, 20), 10, 0, 360)], 20 * math.pi), (bend, 5 * math.pi + math.pi / 3)):
        body = Body(cut(BLOCK, *strokes))
        for other in (as_nurbs(body)[0], split(body, 3)[0]):
            assert took(other.wrapped, pointed(16)) == pytest.approx(whole, abs=0.02)


def test_a_square_pit_whose_sides_meet_in_a_point_is_no_groove() -> None:
    """10 wide and 5 deep at 45 degrees: no line for a tip to run along, told by both."""
    sides = [line((25, 20), (35, 20), 5), line((30, 15), (30, 25), 5)]
    part = cut(BLOCK, common(*sides))
    found = step("bottom_and_side_finish_milling", pointed(16), {"class": "closed_pocket"})
    assert taken(agreed(part, plan(RAW, setup([found])))) == pytest.approx(0.0, abs=1e-6)


def test_rings_that_cross_are_cut_as_what_both_make() -> None:
    """Their own volumes, less what both have: told by the drawn bodies."""
    rings = [arc((x, 20), 8, 0, 360) for x in (25, 35)]
    both = 2 * math.tau * 8 - volume(common(*rings))
    assert took(cut(BLOCK, *rings), pointed(8)) == pytest.approx(both, abs=1e-3)


@pytest.mark.parametrize(("DC", "clear"), [(12.0, True), (16.0, False)])
def test_a_wall_beside_a_ring_keeps_the_cutter_off_one_side(DC: float, clear: bool) -> None:
    """The line comes within 7 mm of a wall 10 high: the cutter's body, 6 or 8 in radius, passes or does not."""
    part = cut(BLOCK, box((0, 0, 10), (45, 40, 21)), arc((30, 20), 8, 0, 360, 3, top=10))
    first = step("bottom_and_side_finish_milling", tool("endmill", 10), {"class": "step"})
    last = step("bottom_and_side_finish_milling", pointed(DC), {"class": "slot"})
    stage = agreed(part, plan(RAW, setup([first, last])))
    left = to_be(stage) - shapes.volume(part)
    assert (left == pytest.approx(0.0, abs=1e-3)) is clear and left < 0.2 * 9 * math.tau * 8
