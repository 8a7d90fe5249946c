"""V-grooves milled by pointed cutters: volumes by hand, or by columns over places of the cone written out here; each
told the same by both computations."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bench.reencode import as_nurbs, split
from examples import shapes
from examples.shapes import Shape, box, cone, cut, cylinder, polygon, prism
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, setup, step, taken, to_be, tool
from worker.kernel.shape import Body

RAW = raw_box((0, 0, 0), (60, 40, 20))
FINISH = "bottom_and_side_finish_milling"
SLOT: Json = {"class": "slot"}


def vee(
    depth: float, leans: tuple[float, float] = (45.0, 45.0), start: float = -1.0, end: float = 41.0, floor: float = 0.0
) -> Shape:
    """A groove along y at x = 30, to be cut off a block 20 high: its flanks lean by so many degrees."""
    left, right = (depth * math.tan(math.radians(lean)) for lean in leans)
    foot, half = 20 - depth, floor / 2
    feet = [(30 + half, start, foot), (30 - half, start, foot)] if floor else [(30.0, start, foot)]
    return prism(
        polygon([*feet, (30 - half - left, start, 20.0), (30 + half + right, start, 20.0)]), (0, end - start, 0)
    )


def across(depth: float) -> Shape:
    """The same of 45 degrees along x at y = 20."""
    return prism(polygon([(-1, 20, 20 - depth), (-1, 20 - depth, 20), (-1, 20 + depth, 20)]), (62, 0, 0))


def plate(*grooves: Shape) -> Shape:
    return cut(box((0, 0, 0), (60, 40, 20)), *grooves)


def pointed(DC: float, SIG: float = 90.0, **sizes: float) -> Json:
    return tool("chamfer_mill", DC, SIG=SIG, LU=20, **sizes)


def took(part: Shape, cutter: Json, features: Json | str = SLOT, raw: Json = RAW, **keys: object) -> float:
    return taken(agreed(part, plan(raw, setup([step(FINISH, cutter, features, **keys)]))))


def by_columns(ways: list[tuple[float, float, float, float]], half: float, blunt: float, DC: float) -> float:
    """What a cone takes of the block whose tip runs along y at (x, from, to, height): columns 0.05 mm apart."""
    xs, ys = np.arange(0.025, 60, 0.05), np.arange(0.025, 40, 0.05)
    low = np.full((len(xs), len(ys)), 20.0)
    for x, y0, y1, tip in ways:
        off = np.hypot(xs[:, None] - x, np.maximum(np.maximum(y0 - ys, ys - y1), 0.0)[None])
        rise = tip + np.maximum(off - blunt, 0.0) / math.tan(math.radians(half))
        low = np.where(off < DC / 2, np.minimum(low, rise), low)
    return float((20.0 - low).sum() * 0.05**2)


@pytest.mark.parametrize("type", ["chamfer_mill", "spotdrill", "countersink"])
def test_a_straight_groove_is_its_triangle_times_its_length(type: str) -> None:
    assert took(plate(vee(5)), tool(type, 12, SIG=90, LU=20)) == pytest.approx(25 * 40, abs=1e-6)


def test_a_cutter_lower_than_the_groove_is_deep_goes_up_its_flanks() -> None:
    assert took(plate(vee(5)), pointed(7)) == pytest.approx(25 * 40, abs=1e-6)


def test_a_stock_larger_than_the_part_is_cut_past_the_ends_and_above() -> None:
    raw = raw_box((0, -3, 0), (60, 43, 21))
    assert took(plate(vee(5)), pointed(16), raw=raw) == pytest.approx(36 * 46, abs=1e-6)


def test_a_cone_too_wide_rests_on_both_edges_of_the_mouth() -> None:
    touching = 10 * (5 / math.tan(math.radians(60))) / 2
    assert took(plate(vee(5)), pointed(16, 120)) == pytest.approx(touching * 40, abs=1e-4)


def test_a_slim_cone_leaves_a_step_for_each_pass() -> None:
    left = 5 * 2 * 0.5 * (1 - math.tan(math.radians(30)))
    stepped = took(plate(vee(5)), pointed(16, 60), technology={"axial_cutting_depth": 1.0})
    assert stepped == pytest.approx((25 - left) * 40, abs=1e-6)


def test_a_blunt_tip_leaves_the_root() -> None:
    assert took(plate(vee(5)), pointed(16, tip_diameter=1)) == pytest.approx((25 - 0.25) * 40, abs=1e-4)


@pytest.mark.parametrize("tip", [0.0, 2.0, 4.0])
def test_a_flat_floor_is_made_by_any_tip_that_is_no_wider(tip: float) -> None:
    sizes = {"tip_diameter": tip} if tip else {}
    assert took(plate(vee(5, floor=4)), pointed(20, **sizes)) == pytest.approx(45 * 40, abs=1e-6)


def test_unequal_flanks_leave_steps_on_the_one_that_is_flatter() -> None:
    flat = 5 * 0.5 * (math.tan(math.radians(60)) - math.tan(math.radians(30)))
    whole = 12.5 * (math.tan(math.radians(60)) + math.tan(math.radians(30)))
    stepped = took(plate(vee(5, (30, 60))), pointed(20, 60), technology={"axial_cutting_depth": 1.0})
    assert stepped == pytest.approx((whole - flat) * 40, abs=1e-4)


def test_the_tip_goes_below_the_flanks_into_a_relief() -> None:
    part = plate(vee(8), box((29, -1, 10.5), (31, 41, 20)))
    flanks = {"class": "slot", "depth_min": 6.9, "depth_max": 7.1}
    assert took(part, pointed(20), flanks) == pytest.approx(64 * 40, abs=1e-3)


def test_a_relief_too_shallow_for_the_tip_keeps_the_cone_off() -> None:
    part = plate(vee(8), box((29, -1, 12.5), (31, 41, 20)))  # the flanks would meet at 12
    flanks = {"class": "slot", "depth_min": 6.9, "depth_max": 7.1}
    assert took(part, pointed(20), flanks) < 63.9 * 40


@pytest.mark.parametrize(("blunt", "DC"), [(0.0, 12.0), (0.5, 12.0), (0.0, 30.0)])
def test_at_a_wall_the_cone_stays(blunt: float, DC: float) -> None:
    found = took(plate(vee(5, end=30.0)), pointed(DC, **({"tip_diameter": 2 * blunt} if blunt else {})))
    last = 25.0  # where the cone is 5 mm wide at the top: blunt + its height from 15 + blunt
    if not blunt:
        assert found == pytest.approx(25 * last + math.pi * 125 / 6, abs=1e-3)
    assert found == pytest.approx(by_columns([(30.0, -9.0, last, 15 + blunt)], 45, blunt, DC), rel=2e-3)


@pytest.mark.parametrize("turn", [1, -1])
def test_round_ends_as_the_cutter_leaves_them_are_finished(turn: int) -> None:
    ends = [cone((30, y, 15), (30, y, 20), 0, 10) for y in (12.0, 30.0)]
    part = plate(vee(5, start=12.0, end=30.0), *ends[::turn])
    assert took(part, pointed(12)) == pytest.approx(25 * 18 + math.pi * 125 / 3, abs=1e-3)


def test_grooves_that_cross_leave_nothing_between_them() -> None:
    both = 16 * 40 + 16 * 60 - 4**3 * 4 / 3
    assert took(plate(vee(4), across(4)), pointed(12), {**SLOT, "count": 2}) == pytest.approx(both, abs=1e-3)


@pytest.mark.parametrize("depth", [4.5, 5.5])
def test_a_stated_depth_is_obeyed(depth: float) -> None:
    stage = agreed(plate(vee(5)), plan(RAW, setup([step(FINISH, pointed(16), SLOT, bottom_z=-depth)])))
    kept = 25 * 40 if depth < 5 else depth**2 * 40  # shallower, the second pass goes up the flanks
    assert taken(stage) == pytest.approx(kept - (0.25 * 40 if depth < 5 else 0), abs=1e-3)
    assert (stage.cuts[0].gouge is not None) == (depth > 5)


def test_allowances_keep_so_far_off_flanks_and_bottom() -> None:
    found = took(plate(vee(5)), pointed(16), allowance_bottom=0.5, allowance_side=0.25)
    # the flanks 0.5 up and 0.25 in: they meet 0.75 above the bottom
    assert found == pytest.approx(4.25**2 * 40, abs=1e-3)


def test_in_a_side_and_in_a_slope_a_setup_of_its_own_cuts_it() -> None:
    side = prism(polygon([(55, -1, 10), (60, -1, 5), (60, -1, 15)]), (0, 42, 0))
    stage = agreed(plate(side), plan(RAW, setup([step(FINISH, pointed(12), SLOT)], axis=(1, 0, 0))))
    assert taken(stage) == pytest.approx(25 * 40, abs=1e-6)
    leaning = plan(
        RAW, setup([step(FINISH, pointed(30), SLOT)], axis=(0.5, 0, math.sqrt(0.75)), ref_direction=[0, 1, 0])
    )
    lean = 12.5 * (math.tan(math.radians(75)) + math.tan(math.radians(15)))
    assert taken(agreed(plate(vee(5, (15, 75))), leaning)) == pytest.approx(lean * 40, abs=1e-3)


@pytest.mark.parametrize(("lean", "ended"), [(0.0, False), (15.0, False), (15.0, True)])
def test_of_which_one_flank_is_upright_or_hangs_over(lean: float, ended: bool) -> None:
    """Flanks that lean one way, by ``lean`` and 45 degrees: cut from half way; round ends are halves of its cone."""
    middle, half = math.radians(45 + lean) / 2, math.radians(45 - lean) / 2
    way = (math.sin(middle), 0.0, math.cos(middle))
    far = 5 / math.cos(math.radians(45))
    ends = [cone((30, y, 15), (30 + far * way[0], y, 15 + far * way[2]), 0, 2 * far * math.tan(half)) for y in (12, 28)]
    part = plate(vee(5, (-lean, 45.0), *((12.0, 28.0) if ended else ())), *(ends if ended else ()))
    steps = [step(FINISH, pointed(12, math.degrees(2 * half)), SLOT)]
    stage = agreed(part, plan(RAW, setup(steps, axis=way, ref_direction=[0, 1, 0])))
    section = 12.5 * (1 - math.tan(math.radians(lean)))
    assert (taken(stage) == pytest.approx(40 * section, abs=1e-4)) is not ended
    assert shapes.volume(part) == pytest.approx(to_be(stage), abs=1e-3)


def test_a_step_is_a_vee_where_the_setup_sees_it_askew() -> None:
    """8 high and 20 wide, over all of the block's length: both its faces lean by 45 degrees."""
    part = cut(box((0, 0, 0), (60, 40, 20)), box((40, -1, 12), (61, 41, 21)))
    askew = setup([step(FINISH, pointed(60), {"class": "step"})], axis=(1, 0, 1), ref_direction=[0, 1, 0])
    assert taken(agreed(part, plan(RAW, askew))) == pytest.approx(20 * 8 * 40, abs=1e-3)


def test_across_a_bar() -> None:
    """A bar of 20 along x, cut to 3 mm over its middle: its chords at each height, added up."""
    body = cut(
        cylinder((0, 20, 10), (60, 20, 10), 20), prism(polygon([(30, -1, 13), (40, -1, 23), (20, -1, 23)]), (0, 42, 0))
    )
    raw: Json = {"cylinder": {"diameter": 20, "from": [0, 20, 10], "to": [60, 20, 10]}}
    heights = np.arange(3.0005, 10, 0.001)
    chords = (2 * (heights - 3) * 2 * np.sqrt(100 - heights**2) * 0.001).sum()
    found = taken(agreed(body, plan(raw, setup([step(FINISH, pointed(16), SLOT)]))))
    assert found == pytest.approx(float(chords), rel=1e-4)


def test_a_grid_of_grooves() -> None:
    """3 by 3, each 1 deep; each of the 9 crossings, 4/3 mm3, belongs to both."""
    own = [prism(polygon([(x, -1, 19), (x - 1, -1, 20), (x + 1, -1, 20)]), (0, 42, 0)) for x in (15.0, 30.0, 45.0)]
    other = [prism(polygon([(-1, y, 19), (-1, y - 1, 20), (-1, y + 1, 20)]), (62, 0, 0)) for y in (10.0, 20.0, 30.0)]
    assert took(plate(*own, *other), pointed(6)) == pytest.approx(3 * 40 + 3 * 60 - 9 * 4 / 3, abs=1e-3)


def test_a_wide_floor_with_round_ends() -> None:
    """A trapezoid between 4 and 14 wide, 5 deep and 20 long, and at both ends what the cone leaves: in all a cone."""
    corners = [cone((x, y, 15), (x, y, 20), 0, 10) for x in (28.0, 32.0) for y in (10.0, 30.0)]
    ends = prism(polygon([(28, 10, 15), (28, 30, 15), (28, 35, 20), (28, 5, 20)]), (4, 0, 0))
    body = plate(vee(5, start=10.0, end=30.0, floor=4.0), ends, *corners)
    assert took(body, pointed(12), {"class": "closed_pocket"}) == pytest.approx(
        45 * 20 + 25 * 4 + math.pi * 125 / 3, abs=1e-2
    )


@pytest.mark.parametrize(("floor", "ended"), [(0.0, False), (4.0, False), (0.0, True)])
def test_faces_written_as_splines_or_in_pieces_are_the_same_groove(floor: float, ended: bool) -> None:
    ends = [cone((30, y, 15), (30, y, 20), 0, 10) for y in (12.0, 30.0)] if ended else []
    body = Body(plate(vee(5, floor=floor, **({"start": 12.0, "end": 30.0} if ended else {})), *ends))
    whole = 25 * 18 + math.pi * 125 / 3 if ended else (25 + 5 * floor) * 40
    for other in (as_nurbs(body)[0], split(body, 3)[0]):
        assert took(other.wrapped, pointed(16)) == pytest.approx(whole, abs=0.02)


def test_a_slim_cone_ends_where_the_tip_of_a_round_end_is() -> None:
    """Five passes a millimetre apart between the tips of both ends, and there the cone of the lowest pass."""
    lean = math.tan(math.radians(30))
    ends = [cone((30, y, 15), (30, y, 20), 0, 10) for y in (12.0, 30.0)]
    found = took(plate(vee(5, start=12.0, end=30.0), *ends), pointed(16, 60), technology={"axial_cutting_depth": 1.0})
    stepped = (25 - 5 * 2 * 0.5 * (1 - lean)) * 18
    assert found == pytest.approx(stepped + math.pi * (5 * lean) ** 2 * 5 / 3, abs=0.2)
