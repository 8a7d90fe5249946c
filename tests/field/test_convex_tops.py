"""Tops that bulge: a round corner follows them, and leaves its own round at a foot beside something level.

Closed forms: a segment of a circle of radius R with half chord w has the area R^2 asin(w / R) - w sqrt(R^2 - w^2). A
corner of radius r that rests on a floor and touches a circle leaves what lies between the two arcs and the floor: the
quadrilateral of both middles, the foot and the place on the floor, less two sectors. Domes and cones are held to
columns: over each place the lowest that any ball comes which clears dome and floor, turned round the axis.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from examples.shapes import Shape, ball, box, common, cone, cut, cylinder, fuse, volume
from tests.support.agreed import agreed
from tests.support.filleted import filleted_at
from tests.support.trial import FAR_PLATE, Json, plan, raw_box, removals, setup, stages_of, step, tool
from worker.stage.model import Stage

L, W, R, TOP = 60.0, 20.0, 50.0, 30.0
"""A bar: its length, half its width, the radius and the crest of its crown."""
FLAT: Json = {"class": "planar_face", "at": [25, 25, 20]}
LYING: Json = {"class": "profile_feature", "axis": [1, 0, 0]}
Floats = NDArray[np.float64]
FOLLOW, ROUGH = "freeform_operation", "bottom_and_side_rough_milling"
BALL, BULL = tool("ballnose_endmill", 10), tool("bullnose_endmill", 12, RE=2)


def segment(radius: float, half: float) -> float:
    return radius**2 * math.asin(half / radius) - half * math.sqrt(radius**2 - half**2)


def sagitta(radius: float, half: float) -> float:
    return radius - math.sqrt(radius**2 - half**2)


def round_left(radius: float, middle: float, floor: float, corner: float) -> float:
    """Area between a circle of a radius about (0, middle), a level floor, and the corner that touches both."""
    up = floor + corner - middle
    out, foot = math.sqrt((radius + corner) ** 2 - up**2), math.sqrt(radius**2 - (floor - middle) ** 2)
    corners = [(0.0, 0.0), (foot, floor - middle), (out, floor - middle), (out, up)]
    sides = zip(corners, corners[1:] + corners[:1], strict=True)
    whole = abs(sum(a[0] * b[1] - a[1] * b[0] for a, b in sides)) / 2
    at_middle = math.atan2(up, out) - math.atan2(floor - middle, foot)
    at_corner = math.pi / 2 - math.atan2(up, out)
    return whole - radius**2 * at_middle / 2 - corner**2 * at_corner / 2


def over(part: Shape, stage: Stage) -> float:
    return volume(stage.to_be.wrapped) - volume(part)


def crowned() -> Shape:
    return common(box((0, -W, 0), (L, W, TOP)), cylinder((0, 0, TOP - R), (L, 0, TOP - R), 2 * R))


def shouldered(walls: float = 0.0) -> Shape:
    """A crown of radius 25 across a plate of half width 30, its foot at 10, or so much above it on upright walls."""
    half = math.sqrt(25**2 - (15 + walls) ** 2)
    top = common(cylinder((0, 0, -5), (24, 0, -5), 50), box((0, -half, 5), (24, half, 30)))
    return fuse(box((0, -30, 0), (24, 30, 10)), top)


def test_a_crown_is_followed_whole() -> None:
    document = plan(raw_box((0, -W, 0), (L, W, TOP + 2)), setup([step(FOLLOW, BALL, LYING)]))
    stage = agreed(crowned(), document)
    stands = 2 * W * (2 + sagitta(R, W)) - segment(R, W)
    assert removals(stage) == pytest.approx([L * stands], rel=1e-9)
    assert over(crowned(), stage) == pytest.approx(0.0, abs=1e-3)


def test_half_a_round_bar_is_followed_to_where_it_turns_down_and_the_rest_from_below() -> None:
    end = common(cylinder((60, -10, 6), (60, 10, 6), 12), box((60, -10, 0), (80, 10, 12)))
    part = fuse(box((0, -10, 0), (60, 10, 12)), end)
    nose: Json = {"class": "profile_feature", "axis": [0, 1, 0]}
    ways = [setup([step(FOLLOW, BALL, nose)], axis=(0, 0, sign)) for sign in (1, -1)]
    first, second = stages_of(part, plan(raw_box((0, -10, 0), (66, 10, 12)), *ways))
    corner = (1 - math.pi / 4) * 6**2 * 20
    assert removals(first) == pytest.approx([corner], rel=1e-6)
    assert removals(second) == pytest.approx([corner], rel=1e-6)
    assert over(part, second) == pytest.approx(0.0, abs=1e-3)
    assert removals(agreed(part, plan(raw_box((0, -10, 0), (66, 10, 12)), ways[0]))) == pytest.approx(
        [corner], rel=1e-6
    )


@pytest.mark.parametrize(("cutter", "corner"), [(BALL, 5.0), (BULL, 2.0)])
def test_a_round_stays_at_a_foot_beside_flat_shoulders(cutter: Json, corner: float) -> None:
    part = shouldered()
    stage = agreed(part, plan(raw_box((0, -30, 0), (24, 30, 22)), setup([step(FOLLOW, cutter, LYING)])))
    assert over(part, stage) == pytest.approx(2 * 24 * round_left(25, -5, 10, corner), rel=2e-2)
    assert any("at the foot" in note for note in stage.cuts[0].notes)


def test_a_fillet_at_the_foot_that_is_no_tighter_than_the_corner_lets_all_be_made() -> None:
    part = filleted_at(shouldered(), 6, lambda x, y, z: abs(z - 10) < 1e-6 and abs(y) < 29 and 1 < x < 23)
    stage = agreed(part, plan(raw_box((0, -30, 0), (24, 30, 22)), setup([step(FOLLOW, BALL, LYING)])))
    assert volume(part) - volume(shouldered()) == pytest.approx(2 * 24 * round_left(25, -5, 10, 6), rel=1e-6)
    assert over(part, stage) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(("walls", "whole"), [(5.0, True), (0.5, False)])
def test_upright_walls_under_a_crown_make_room_for_the_corner(walls: float, whole: bool) -> None:
    """The ball's lowest point lies r (1 - n) below the place that it touches: 5 x (1 - 20 / 25) = 1 mm at the edge."""
    part = shouldered(walls)
    half = math.sqrt(25**2 - (15 + walls) ** 2)
    stage = agreed(part, plan(raw_box((0, -30, 0), (24, 30, 22)), setup([step(FOLLOW, BALL, LYING)])))
    left = over(part, stage) - 24 * 2 * (30 - half) * 12
    assert left == pytest.approx(0.0, abs=1e-2) if whole else 1.0 < left < 24 * 2 * round_left(25, -5, 10, 5)


def _columns(height: Callable[[Floats], Floats], foot: float, floor: float, corner: float) -> float:
    """What stays over a turned top (``height`` over its radius, up to its foot) beside a floor, by columns."""
    out = np.arange(0.0, foot + 3 * corner, 0.01)
    tops = np.where(out <= foot, height(np.minimum(out, foot)), floor)
    away = np.arange(-corner, corner + 1e-9, 0.01)
    bowl = corner - np.sqrt(np.maximum(corner**2 - away**2, 0.0))
    n = len(away) // 2
    wide = np.pad(tops, n, mode="reflect")  # the other side of the axis
    tips = np.max([wide[k : k + len(out)] - bowl[k] for k in range(len(away))], axis=0)
    tips = np.pad(tips, n, mode="edge")
    reached = np.min([tips[k : k + len(out)] + bowl[k] for k in range(len(away))], axis=0)
    mine = out <= foot
    return float(np.sum(2 * np.pi * out * (reached - tops) * 0.01 * mine))


def _dome(rho: Floats) -> Floats:
    radius = (15**2 + 6**2) / 12
    return 26 - radius + np.sqrt(radius**2 - rho**2)


def _frustum(rho: Floats) -> Floats:
    return np.minimum(28.0, 20.0 + (20 - rho) * 8 / 12)


def domed() -> Shape:
    radius = (15**2 + 6**2) / 12
    cap = common(ball((0, 0, 26 - radius), radius), box((-20, -20, 20), (20, 20, 30)))
    return fuse(box((-30, -30, 0), (30, 30, 20)), cap)


def coned() -> Shape:
    return fuse(box((-30, -30, 0), (30, 30, 20)), cone((0, 0, 20), (0, 0, 28), 40, 16))


DOME, CONE = (domed(), _dome, 15.0, 0.0), (coned(), _frustum, 20.0, 8.0)


@pytest.mark.parametrize(("form", "cutter", "corner"), [(DOME, BULL, 2.0), (CONE, BALL, 5.0)])
def test_of_a_dome_and_a_cone_on_a_plate_all_but_the_foot_is_made(
    form: tuple[Shape, Callable[[Floats], Floats], float, float], cutter: Json, corner: float
) -> None:
    part, height, foot, least = form
    stage = agreed(part, plan(raw_box((-30, -30, 0), (30, 30, 30)), setup([step(FOLLOW, cutter, {"class": "boss"})])))
    rho = np.arange(least + 5e-4, foot, 1e-3)
    stands = float(np.sum(2 * np.pi * rho * (30 - height(rho))) * 1e-3)
    left = _columns(height, foot, 20.0, corner)
    assert removals(stage)[0] == pytest.approx(stands - left, abs=0.05 * left + 0.5)


def test_a_tilted_setup_follows_a_crown_along_its_own_columns() -> None:
    """Columns lean by 15 degrees across the bar: beside the edge that they lean away from a prism comes free."""
    lean = math.radians(15)
    work = setup([step(FOLLOW, BALL, LYING)], axis=(0, math.sin(lean), math.cos(lean)))
    stage = agreed(crowned(), plan(raw_box((0, -W, 0), (L, W, TOP + 2)), work))
    height = 2 + sagitta(R, W)
    free = L * height**2 * math.tan(lean) / 2
    assert removals(stage) == pytest.approx([L * (2 * W * height - segment(R, W)) - free], rel=1e-6)
    assert stage.balance.loose == pytest.approx(free, rel=1e-6)


def _in_levels(apart: float) -> float:
    """Area that stays on the crown: each layer as wide as the bar is at its lower end."""
    low, top = TOP - sagitta(R, W), TOP
    at = [low + k * apart for k in range(int((top - low) / apart) + 1)] + [top]
    wide = [math.sqrt(R**2 - (z - TOP + R) ** 2) for z in at]
    return sum(2 * w * (b - a) for w, a, b in zip(wide, at, at[1:], strict=False)) - segment(R, W)


@pytest.mark.parametrize("operation", [ROUGH, FOLLOW])
def test_a_flat_cutter_leaves_a_crown_in_levels(operation: str) -> None:
    work = step(operation, tool("endmill", 12), LYING, technology={"axial_cutting_depth": 1.5})
    stage = agreed(crowned(), plan(raw_box((0, -W, 0), (L, W, TOP + 2)), setup([work])))
    assert over(crowned(), stage) == pytest.approx(L * _in_levels(1.5), rel=1e-4)


def test_roughing_keeps_its_allowance_and_the_ball_takes_the_rest() -> None:
    rough = step(
        ROUGH, tool("endmill", 12), LYING,
        technology={"axial_cutting_depth": 1}, allowance_side=0.3, allowance_bottom=0.2,
    )  # fmt: skip
    both = setup([rough, step(FOLLOW, BALL, LYING)])
    stage = agreed(crowned(), plan(raw_box((0, -W, 0), (L, W, TOP + 2)), both))
    taken = removals(stage)
    assert taken[1] > L * (2 * W * 0.2 + _in_levels(1.0))
    assert sum(taken) == pytest.approx(L * (2 * W * (2 + sagitta(R, W)) - segment(R, W)), rel=1e-9)


def test_a_dome_on_a_round_bar_is_roughed_in_levels_and_followed() -> None:
    """What stands on the cap of height 8 over a disc of radius 20: a disc of 10 mm less pi h (3 a^2 + h^2) / 6; levels
    of 2 mm leave discs as wide as the cap at their lower ends."""
    radius = (20**2 + 8**2) / 16
    cap = common(ball((0, 0, 38 - radius), radius), box((-30, -30, 30), (30, 30, 40)))
    part = fuse(cylinder((0, 0, 0), (0, 0, 30), 40), cap)
    region: Json = {"class": "region"}
    rough = step(ROUGH, tool("endmill", 12), region, technology={"axial_cutting_depth": 2})
    both = setup([rough, step(FOLLOW, BALL, region)])
    stage = agreed(part, plan({"cylinder": {"diameter": 40, "from": [0, 0, 0], "to": [0, 0, 40]}}, both))
    volume_of_cap = math.pi * 8 * (3 * 20**2 + 8**2) / 6
    wide = [radius**2 - (z - 38 + radius) ** 2 for z in (30, 32, 34, 36)]
    assert removals(stage)[1] == pytest.approx(math.pi * 2 * sum(wide) - volume_of_cap, rel=1e-3)
    assert sum(removals(stage)) == pytest.approx(math.pi * 20**2 * 10 - volume_of_cap, rel=1e-6)


@pytest.mark.parametrize(("jaw", "left"), [(TOP - 12.0, False), (TOP - sagitta(R, W) - 0.1, True)])
def test_jaws_under_a_crown_keep_the_corner_off_its_edge(jaw: float, left: bool) -> None:
    """The ball comes 5 x (1 - n) = 0.42 mm lower than the crown's edge, where n = sqrt(50^2 - 20^2) / 50."""
    jaws = [
        {"type": "clamp", "box": {"min": [-30, side * 30 - 10, -40], "max": [30, side * 30 + 10, jaw - TOP]}}
        for side in (-1, 1)
    ]
    held = {"type": "fixture_plate", "elements": [*FAR_PLATE["elements"], *jaws]}
    work = setup([step(FOLLOW, BALL, LYING)], workholding=held)
    stage = agreed(crowned(), plan(raw_box((0, -W, 0), (L, W, TOP + 2)), work))
    strip = L * 2 * 0.5 * 4  # 4 mm of each side, half a millimetre high
    assert 0.1 < over(crowned(), stage) < strip if left else over(crowned(), stage) < 1e-3


def test_an_edge_round_that_ends_near_a_floor_is_not_made_whole() -> None:
    """A quarter round of radius 8 on a wall of 4 mm: a ball of 5 that goes down to where it stands upright would come
    1 mm below the floor."""
    part = cut(
        box((0, -20, 0), (60, 20, 30)),
        box((-1, 10, 18), (61, 21, 31)),
        cut(box((-1, 2, 22), (61, 10, 31)), cylinder((-2, 2, 22), (62, 2, 22), 16)),
    )
    corner = (1 - math.pi / 4) * 8**2 * 60
    for type_, sizes, whole in (("ballnose_endmill", {}, False), ("bullnose_endmill", {"RE": 3}, True)):
        work = step(FOLLOW, tool(type_, 10, **sizes), {"class": "edge_round"})
        stage = agreed(part, plan(raw_box((0, -20, 0), (60, 20, 30)), setup([work])))
        missing = corner - removals(stage)[0]
        assert missing == pytest.approx(0.0, abs=1e-3) if whole else 0.05 < missing < 1.0


def test_a_bull_nose_follows_a_dome_with_a_fillet_at_its_foot() -> None:
    part = filleted_at(domed(), 6, lambda x, y, z: abs(z - 20) < 1e-6 and math.hypot(x, y) < 16)
    work = [step(FOLLOW, BULL, {"class": "boss"}), step("plane_finish_milling", tool("endmill", 12), FLAT)]
    stage = agreed(part, plan(raw_box((-30, -30, 0), (30, 30, 28)), setup(work)))
    assert over(part, stage) == pytest.approx(0.0, abs=1e-3)


def test_a_boss_whose_sides_stand_upright_is_still_not_cut() -> None:
    part = fuse(box((-30, -30, 0), (30, 30, 20)), cylinder((0, 0, 20), (0, 0, 30), 20))
    stage = agreed(part, plan(raw_box((-30, -30, 0), (30, 30, 32)), setup([step(FOLLOW, BALL, {"class": "boss"})])))
    assert removals(stage) == [0.0]


@pytest.mark.parametrize(("apart", "barred"), [(22.0, True), (32.0, False)])
def test_two_crowns_too_near_to_each_other_bar_the_ball(apart: float, barred: bool) -> None:
    """A ball of 5 rests on the floor beside a half round of 10 with its middle sqrt(15^2 - 5^2) from that one's."""
    middles = (-apart / 2, apart / 2)
    ridges = [common(cylinder((0, y, 10), (20, y, 10), 20), box((0, y - 10, 10), (20, y + 10, 30))) for y in middles]
    part = fuse(box((0, -30, 0), (20, 30, 10)), *ridges)
    stage = agreed(part, plan(raw_box((0, -30, 0), (20, 30, 22)), setup([step(FOLLOW, BALL, LYING)])))
    feet = 4 * 20 * round_left(10, 10, 10, 5)
    assert over(part, stage) > 20 * apart * 5 if barred else over(part, stage) == pytest.approx(feet, rel=2e-2)
