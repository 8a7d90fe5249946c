"""Round-bottomed slots that something crosses at less depth, or that end at walls, cut by a ball: both computations
against closed forms.

A trough of radius r and depth d with its axis in the metal has the section 2 r (d - r) + pi r^2 / 2. The ball goes on
along it through the gap, where it takes no more than that.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf

from examples.shapes import Shape, box, cut, cylinder, fuse
from tests.support.agreed import agreed
from tests.support.trial import inputs, plan, raw_box, removals, setup, step, tool

LONG = 70.0
LOW, HIGH = (-35.0, -18.0, -14.0), (35.0, 18.0, 0.0)
FINISH = "bottom_and_side_finish_milling"


def _turned(shape: Shape, degrees: float) -> Shape:
    motion = gp_Trsf()
    motion.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), math.radians(degrees))
    return BRepBuilderAPI_Transform(shape, motion, True).Shape()


def _trough(radius: float, depth: float, degrees: float = 0.0) -> Shape:
    axis = radius - depth
    round_ = cylinder((-80, 0, axis), (80, 0, axis), 2 * radius)
    return _turned(fuse(round_, box((-80, -radius, axis), (80, radius, 5))) if axis < 0 else round_, degrees)


def _slot(width: float, depth: float, degrees: float) -> Shape:
    return _turned(box((-80, -width / 2, -depth), (80, width / 2, 5)), degrees)


CROSSING = {
    "a shallower slot": (8.0, _slot(8, 5, 20), 10),
    "a slot across a half round": (5.0, _slot(8, 3, 20), 6),
    "a narrower trough aslant": (8.0, _trough(4, 6, 20), 10),
}


@pytest.mark.parametrize("crossing", CROSSING)
def test_a_ball_goes_on_along_a_trough_where_something_shallower_crosses_it(crossing: str) -> None:
    depth, other, diameter = CROSSING[crossing]
    part = cut(box(LOW, HIGH), _trough(5, depth), other)
    document = plan(raw_box(LOW, HIGH), setup([step(FINISH, tool("ballnose_endmill", diameter), {"class": "slot"})]))
    features = inputs(part, document).part.features
    wide = next(f.id for f in features if f.class_ == "slot" and f.width is not None and abs(f.width - 10) < 0.01)
    document["setups"][0]["workingsteps"][0]["features"] = [wide]
    stage = agreed(part, document)
    assert stage.failures == ()
    assert removals(stage)[0] == pytest.approx(LONG * (10 * (depth - 5) + math.pi * 25 / 2), rel=1e-6)


def _short(depth: float, begin: float, end: float) -> Shape:
    axis = 5 - depth
    round_ = cylinder((begin, 0, axis), (end, 0, axis), 10)
    return fuse(round_, box((begin, -5, axis), (end, 5, 5))) if axis < 0 else round_


def _left_at_end(depth: float) -> float:
    """Of a ball's own length before a flat end wall, all but what its forward half fills."""
    section = 10 * (depth - 5) + math.pi * 25 / 2
    return 5 * section - (math.pi * 25 / 2 * (depth - 5) + math.pi * 125 / 3)


SHORT = {
    "closed": (8.0, (-20.0, 20.0), 2, ()),
    "open at one end": (8.0, (-80.0, 20.0), 1, ()),
    "closed and crossed": (8.0, (-20.0, 20.0), 2, (_slot(8, 5, 90),)),
}


@pytest.mark.parametrize("kind", SHORT)
def test_a_ball_of_a_trough_s_own_size_leaves_what_it_does_not_reach_before_flat_ends(kind: str) -> None:
    depth, (begin, end), walls, crossing = SHORT[kind]
    part = cut(box(LOW, HIGH), _short(depth, begin, end), *crossing)
    document = plan(raw_box(LOW, HIGH), setup([step(FINISH, tool("ballnose_endmill", 10), {"class": "slot"})]))
    features = inputs(part, document).part.features
    wide = next(f.id for f in features if f.class_ == "slot" and f.width is not None and abs(f.width - 10) < 0.01)
    document["setups"][0]["workingsteps"][0]["features"] = [wide]
    stage = agreed(part, document)
    whole = (min(end, HIGH[0]) - max(begin, LOW[0])) * (10 * (depth - 5) + math.pi * 25 / 2)
    assert stage.failures == ()
    assert removals(stage)[0] == pytest.approx(whole - walls * _left_at_end(depth), rel=1e-5)


LEAVES = {"beside a bit of the wall": (8.0, _slot(8, 5, 25)), "through its end": (5.0, _slot(8, 3, 20))}
SLIGHT = (-24.0, -18.0, -14.0), (24.0, 18.0, 0.0)


@pytest.mark.parametrize("where", LEAVES)
def test_a_ball_of_its_own_size_takes_all_of_a_trough_near_whose_end_a_slot_leaves(where: str) -> None:
    depth, crossing = LEAVES[where]
    part = cut(box(*SLIGHT), _trough(5, depth), crossing)
    document = plan(raw_box(*SLIGHT), setup([step(FINISH, tool("ballnose_endmill", 10), {"class": "slot"})]))
    features = inputs(part, document).part.features
    wide = next(f.id for f in features if f.class_ == "slot" and f.width is not None and abs(f.width - 10) < 0.01)
    document["setups"][0]["workingsteps"][0]["features"] = [wide]
    stage = agreed(part, document)
    assert stage.failures == ()
    assert removals(stage)[0] == pytest.approx(48 * (10 * (depth - 5) + math.pi * 25 / 2), rel=1e-6)


def test_a_cutter_goes_in_at_the_pass_at_which_a_trough_is_just_as_wide_as_it() -> None:
    """A trough of radius 5, 4 deep, in eight passes: 1 above its bottom it is 6 wide. Half as high the cutter looks in
    at both ends from outside, by the segment of its circle over the trough's width there."""
    part = cut(box(LOW, HIGH), _trough(5, 4))
    document = plan(raw_box(LOW, HIGH), setup([step(FINISH, tool("endmill", 6), {"class": "slot"})]))
    stage = agreed(part, document)
    halves = [math.sqrt(25 - (5 - up / 2) ** 2) for up in range(1, 8)]
    looks_in = 9 * math.asin(halves[0] / 3) - halves[0] * math.sqrt(9 - halves[0] ** 2)
    exact = LONG * sum(half for half in halves[1:]) + looks_in
    assert removals(stage)[0] == pytest.approx(exact, rel=1e-5)


def _left_by_columns(depth: float) -> float:
    """Of a trough of radius 5 shallower than that, by columns: what a ball of its own size, its middle on the trough's
    line, leaves before a flat end wall whose upper edge it touches."""
    h, up = 0.02, 5 - depth
    stop = -math.sqrt(25 - up**2)
    x, y = np.meshgrid(np.arange(-8 + h / 2, 0, h), np.arange(stop + h / 2, -stop, h), indexing="ij")
    out = np.hypot(np.maximum(x - stop, 0.0), y)
    ball = np.where(out < 5, up - np.sqrt(np.maximum(25 - out**2, 0.0)), 0.0)
    trough = up - np.sqrt(25 - y**2)
    return float(np.sum(np.minimum(ball, 0.0) - trough)) * h**2


SHALLOW = {
    "closed": ((-20.0, 20.0), 0.0, 2),
    "open at one end": ((-80.0, 20.0), 0.0, 1),
    "aslant": ((-20.0, 20.0), 20.0, 2),
}


@pytest.mark.parametrize("kind", SHALLOW)
@pytest.mark.parametrize("depth", [3.0, 4.0])
def test_a_ball_goes_along_a_trough_that_is_shallower_than_itself_up_to_its_end_walls(kind: str, depth: float) -> None:
    (begin, end), turn, walls = SHALLOW[kind]
    part = cut(box(LOW, HIGH), _turned(_short(depth, begin, end), turn))
    document = plan(raw_box(LOW, HIGH), setup([step(FINISH, tool("ballnose_endmill", 10), {"class": "slot"})]))
    stage = agreed(part, document)
    section = 25 * math.acos(1 - depth / 5) - (5 - depth) * math.sqrt(depth * (10 - depth))
    whole = (min(end, HIGH[0]) - max(begin, LOW[0])) * section
    assert stage.failures == ()
    assert removals(stage)[0] == pytest.approx(whole - walls * _left_by_columns(depth), rel=1e-4)


@pytest.mark.parametrize("depth", [4, 5])
def test_a_ball_in_a_slot_of_its_own_size_goes_on_over_a_deeper_trough_that_crosses_it(depth: int) -> None:
    part = cut(box(LOW, HIGH), _trough(5, 8), _slot(8, depth, 20))
    document = plan(raw_box(LOW, HIGH), setup([step(FINISH, tool("ballnose_endmill", 8), {"class": "slot"})]))
    features = inputs(part, document).part.features
    narrow = next(f.id for f in features if f.class_ == "slot" and f.width is not None and abs(f.width - 8) < 0.01)
    document["setups"][0]["workingsteps"][0]["features"] = [narrow]
    stage = agreed(part, document)
    assert stage.failures == ()
    section = 8 * (depth - 4) + math.pi * 16 / 2
    assert removals(stage)[0] == pytest.approx(LONG / math.cos(math.radians(20)) * section, rel=1e-6)
