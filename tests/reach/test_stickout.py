"""Least stick-out against worked cases and against exact holder solids on both sides of the answer (0.02 mm)."""

import math

import pytest

from schemas.base import Frame
from schemas.tolerances import STICKOUT
from schemas.tool import HolderSection, Tool
from tests.support.hand_stage import Sweep, part_of, stage_of
from worker.kernel import boolean, measure
from worker.kernel.planar import grow, rectangle
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import is_empty
from worker.kernel.sweep import prism
from worker.reach import reach_of
from worker.stage.model import HoldingBody, Plunge

TOP = Frame()
FLIPPED = Frame(location=(10.0, 5.0, 3.0), axis=(0.0, -1.0, 0.0), ref_direction=(1.0, 0.0, 0.0))
TILTED = Frame(location=(3.0, -2.0, 7.0), axis=(0.3, -0.5, 0.8), ref_direction=(1.0, 0.2, 0.0))


def _tool(diameter=10.0, stickout=30.0, holder=((30.0, 40.0),), **more):
    sections = tuple(
        HolderSection(diameter=h[0], length=h[1], top_diameter=h[2] if len(h) > 2 else None) for h in holder
    )
    given = {"id": "T1", "type": "endmill", "DC": diameter, "APMX": 25.0, "LU": 60.0, **more}
    return Tool.model_validate({**given, "stickout": stickout, "holder": sections})


def _pocket(tool, frame=TOP, walls=(), size=(30.0, 20.0), depth=20.0):
    """A pocket of that size in a block whose top is z = 0, with walls standing on the block."""
    region = grow(rectangle(tool.radius, tool.radius, size[0] - tool.radius, size[1] - tool.radius), tool.radius)
    block = box((-20, -20, -30), (60, 50, 0), frame)
    stock = boolean.fuse([block, *walls]) if walls else block
    return stock, region, Sweep(tool, prism(region, frame, -depth, 60.0), -depth)


def _reach(stock, sweep, frame=TOP, around=()):
    return reach_of(stage_of(stock, [sweep], around, frame), part_of(stock))["10"]


@pytest.mark.parametrize("frame", [TOP, FLIPPED, TILTED])
def test_the_holder_stands_on_the_block_round_a_pocket(frame):
    tool = _tool(stickout=25.0, APMX=18.0)
    stock, _, sweep = _pocket(tool, frame)
    found = _reach(stock, sweep, frame)
    assert found.clearing == pytest.approx(20.0, abs=1e-6)
    assert found.stickout_margin == pytest.approx(5.0, abs=1e-6)
    assert found.holder is None
    assert found.depth == pytest.approx(20.0, abs=1e-6)


@pytest.mark.parametrize(("radius", "least"), [(12.0, 20.0), (12.99, 20.0), (13.0, 20.0), (13.01, 35.0), (14.0, 35.0)])
def test_a_wall_counts_only_when_the_holder_is_wide_enough_to_meet_it(radius, least):
    tool = _tool(holder=((2 * radius, 40.0),))
    wall = box((38.0, -20, 0), (45, 50, 15))  # 8 mm from the pocket, 13 mm from the nearest axis
    stock, _, sweep = _pocket(tool, walls=[wall])
    assert _reach(stock, sweep).clearing == pytest.approx(least, abs=STICKOUT)


def test_a_holder_no_thicker_than_the_cutter_never_touches_the_wall_beside_it():
    stock, _, sweep = _pocket(_tool(holder=((10.0, 40.0),)))
    found = _reach(stock, sweep)
    assert found.clearing == 0.0 and found.holder is None


def test_a_drill_never_touches_its_own_hole():
    tool = _tool(8.0, 40.0, ((8.0, 10.0), (20.0, 40.0)), type="twist_drill", APMX=None, LU=35.0, DMM=8.0)
    stock = box((-20, -20, -30), (20, 20, 0))
    plunge = Plunge("round_hole-1", (0.0, 0.0, 0.0), 8.0, 0.0, -32.0, -30.0)
    found = _reach(stock, Sweep(tool, cylinder((0, 0, -32), (0, 0, 20), 8.0), -32.0, (plunge,), operation="drilling"))
    assert found.shank is None and found.neck is None
    assert found.clearing == pytest.approx(32.0 - 10.0, abs=1e-6)  # the thin section may enter, the thick one not
    assert found.depth == pytest.approx(32.0, abs=1e-6)


@pytest.mark.parametrize(("shank", "touches"), [(9.0, False), (10.0, False), (10.02, True), (14.0, True)])
def test_a_shank_rubs_only_when_it_is_thicker_than_the_cutter(shank, touches):
    tool = _tool(APMX=12.0, LU=12.0, DMM=shank)
    found = _reach(*_pocket(tool)[::2])
    assert (found.shank is not None) == touches
    if found.shank:
        assert found.shank.depth == pytest.approx(8.0, abs=1e-6)
    assert found.length_shortfall == pytest.approx(8.0, abs=1e-6)


def test_the_workholding_is_named_where_it_is_in_the_way():
    clamp = HoldingBody("clamp-2", "clamp", box((34, 0, 0), (50, 10, 25)))
    stock, _, sweep = _pocket(_tool(stickout=22.0))
    found = _reach(stock, sweep, around=[clamp])
    assert found.clearing == pytest.approx(45.0, abs=STICKOUT)
    assert found.holder and found.holder.body == "clamp-2"
    assert found.holder.depth == pytest.approx(23.0, abs=STICKOUT)


def _clear(stage, region, tool, stickout, tip):
    """True when the exact holder, swept along the pocket's floor, meets nothing."""
    bodies, low = [], tip + stickout
    for part in tool.holder:
        bodies.append(prism(grow(region, part.diameter / 2 - tool.radius), stage.frame, low, low + part.length))
        low += part.length
    obstacles = [stage.stock_before(1), *(b.body for b in stage.holding.bodies)]
    return all(measure.volume(boolean.common(o, bodies)) < 1e-9 for o in obstacles)


CASES = [
    (TOP, ((24.0, 12.0), (40.0, 40.0)), [box((39.0, -20, 0), (45, 50, 6.37))]),
    (TOP, ((24.0, 12.0), (46.7, 40.0)), [cylinder((43.1, 11.0, 0), (43.1, 11.0, 23.0), 9.0)]),
    (TOP, ((31.4, 50.0),), [box((37.21, -20, 0), (45, 50, 11.0)), box((40.0, -20, 0), (45, 50, 19.0))]),
    (TOP, ((28.0, 50.0),), [cone((46.0, 10.0, 0), (46.0, 10.0, 20.0), 20.0, 4.0)]),
    (TOP, ((33.0, 50.0),), [cylinder((-20, -9.0, 4.0), (60, -9.0, 4.0), 8.0)]),
    (FLIPPED, ((24.0, 12.0), (40.0, 40.0)), []),
    (TILTED, ((24.0, 12.0), (41.3, 40.0)), []),
]


@pytest.mark.parametrize("case", range(len(CASES)))
def test_exact_holders_agree_on_both_sides(case):
    frame, holder, walls = CASES[case]
    if not walls:
        walls = [box((39.0, -20, 0), (45, 50, 6.37), frame), box((-16.0, 0, 0), (-11.2, 20, 22.0), frame)]
    tool = _tool(holder=holder)
    stock, region, sweep = _pocket(tool, frame, walls)
    stage = stage_of(stock, [sweep], (), frame)
    least = reach_of(stage, part_of(stock))["10"].clearing
    assert least is not None
    assert _clear(stage, region, tool, least + STICKOUT, -20.0)
    assert not _clear(stage, region, tool, least - STICKOUT, -20.0)


@pytest.mark.parametrize("offset", [9.0, 11.0, 13.5])
def test_a_tapered_holder_over_a_drilled_hole(offset):
    """The flank of a cone meets the edge of a wall where its radius equals the wall's distance (worked by hand)."""
    tool = _tool(8.0, 60.0, ((16.0, 30.0, 32.0), (40.0, 40.0)), type="twist_drill", APMX=None, LU=80.0)
    stock = boolean.fuse([box((-40, -40, -30), (40, 40, 0)), box((offset, -40, 0), (40, 40, 25))])
    plunge = Plunge("round_hole-1", (0.0, 0.0, 0.0), 8.0, 0.0, -20.0, -18.0)
    sweep = Sweep(tool, cylinder((0, 0, -20), (0, 0, 40), 8.0), -20.0, (plunge,), operation="drilling")
    found = _reach(stock, sweep)
    flank = 45.0 - 30.0 * (offset - 8.0) / 8.0  # top of the wall less the flank's rise at that distance
    assert found.clearing == pytest.approx(max(flank, 20.0, 45.0 - 30.0), abs=STICKOUT)


def test_a_slot_as_wide_as_the_cutter_is_reached():
    tool = _tool(8.0, 24.0, ((20.0, 40.0),))
    region = grow(rectangle(0, 10, 30, 10 + 1e-6), 4.0)
    sweep = Sweep(tool, prism(region, TOP, -12.0, 30.0), -12.0)
    found = _reach(box((-20, -20, -30), (60, 50, 0)), sweep)
    assert found.clearing == pytest.approx(12.0, abs=1e-6)


def test_facing_needs_no_stickout():
    tool = _tool(50.0, 40.0, ((46.0, 50.0),), type="facemill", APMX=9.0, LU=9.0, DMM=22.0)
    stock = box((0, 0, -30), (100, 60, 2))
    found = _reach(stock, Sweep(tool, box((-60, -60, 0), (160, 120, 30)), 0.0))
    assert found.clearing == 0.0 and found.shank is None and found.depth == 0.0


def test_a_ball_nose_stands_lower_than_the_fillet_it_leaves():
    tool = _tool(10.0, 30.0, ((20.0, 40.0),), type="ballnose_endmill")
    groove = boolean.fuse([cylinder((-30, 10, -5), (70, 10, -5), 10.0), box((-30, 5, -5), (70, 15, 30))])
    found = _reach(box((-20, -20, -30), (60, 50, 0)), Sweep(tool, groove, -10.0))
    assert found.clearing == pytest.approx(10.0, abs=0.03)


def test_a_tee_slot_cutter_needs_a_neck_thinner_than_the_slot():
    stock = boolean.cut(box((-20, -20, -30), (60, 50, 0)), [box((-30, 4, -10), (70, 16, 1))])
    head = box((-30, 0, -18), (70, 20, -10))
    for neck, touches in ((10.0, False), (11.98, False), (12.02, True), (14.0, True)):
        tool = _tool(20.0, 40.0, ((40.0, 40.0),), type="t_slot_mill", APMX=8.0, LU=30.0, DN=neck, DMM=10.0)
        found = _reach(stock, Sweep(tool, head, -18.0))
        assert (found.neck is not None) == touches, neck
        assert found.clearing == pytest.approx(18.0, abs=STICKOUT)


def test_a_free_place_has_no_slimmest_holder():
    stock, _, sweep = _pocket(_tool(stickout=25.0))
    assert _reach(stock, sweep).slimmest_holder is None


@pytest.mark.parametrize(
    ("frame", "away", "widest"), [(TOP, 8.0, 26.0), (FLIPPED, 3.0, 16.0), (TILTED, 3.37, 16.74), (TOP, -1.0, None)]
)
def test_the_widest_holder_reaches_to_the_wall(frame, away, widest):
    """Geometry: the axis runs a radius (5) from the pocket's border, the wall stands ``away`` from that."""
    wall = box((30.0 + away, -20, -1), (45, 50, 15), frame)
    stock, _, sweep = _pocket(_tool(stickout=25.0), frame, [wall])
    found = _reach(stock, sweep, frame).slimmest_holder
    assert found == (widest and pytest.approx(widest, abs=STICKOUT / 2))


def test_the_widest_holder_beside_a_post_is_told_by_the_post_itself():
    """Geometry: a post of 6 mm, 14 mm from a hole's axis, leaves a radius of 14 - 3 = 11."""
    stock = boolean.fuse([box((-20, -20, -30), (30, 20, 0)), cylinder((14, 0, -1), (14, 0, 25), 6.0)])
    plunge = Plunge("round_hole-1", (0.0, 0.0, 0.0), 8.0, 0.0, -20.0, -20.0)
    for diameter, widest in ((40.0, 22.0), (22.1, 22.0), (21.9, None)):
        tool = _tool(8.0, 30.0, ((diameter, 40.0),), type="twist_drill", APMX=None, LU=25.0, DMM=8.0)
        body = cylinder((0, 0, -20), (0, 0, 20), 8.0)
        found = _reach(stock, Sweep(tool, body, -20.0, (plunge,), operation="drilling")).slimmest_holder
        assert found == (widest and pytest.approx(widest, abs=STICKOUT / 2))


def test_the_part_itself_is_told_from_the_stock():
    tool = _tool(stickout=12.0)
    stock, _, sweep = _pocket(tool)
    stage = stage_of(stock, [sweep])
    in_part = reach_of(stage, part_of(stock))["10"].holder
    in_stock = reach_of(stage, part_of(box((-20, -20, -30), (60, 50, -25))))["10"].holder
    assert in_part and in_part.body == "part"
    assert in_stock and in_stock.body == "stock"
    assert not is_empty(stage.to_be) and math.isclose(in_part.depth, 8.0, abs_tol=1e-6)


def test_a_floor_of_many_heights_is_told_on_the_safe_side():
    """A ramp from 0 to 4 mm deep, and a deep end of 20 mm: between them no height is used at all."""
    ramp = box((0, 0, 0), (40, 14, 30), Frame(axis=(-0.1, 0, 1), ref_direction=(1, 0, 0.1)))
    swept = boolean.fuse([boolean.common(ramp, [box((0, 0, -10), (38, 14, 25))]), box((38, 0, -20), (52, 14, 25))])
    found = _reach(box((-20, -20, -30), (60, 50, 4)), Sweep(_tool(), swept, -20.0))
    assert found.clearing == pytest.approx(24.0, abs=1e-6)
    assert found.depth == pytest.approx(24.0, abs=1e-6)


@pytest.mark.parametrize("aside", [0.0, 0.03, 0.07, 0.13])
def test_a_ridge_between_the_columns_is_as_high_as_it_is(aside):
    """A jaw of a tilted setup shows its upper edge: flanks of 45 degrees that meet 12.5 above the block. No grid of
    columns sees the edge itself; a holder that reaches over it stands on it."""
    tool = _tool(10.0, 60.0, ((40.0, 40.0),), type="twist_drill", APMX=None, LU=35.0, DMM=10.0)
    hole = cylinder((30.0, 25.0, -18.0), (30.0, 25.0, 40.0), 10.0)
    plunge = Plunge("round_hole-1", (30.0, 25.0, 0.0), 10.0, 0.0, -18.0, -15.0)
    edge = Frame(location=(0.0, 40.0 + aside, 12.5), axis=(0.0, 1.0, 1.0), ref_direction=(1.0, 0.0, 0.0))
    jaw = HoldingBody("jaw", "jaw_moving", box((-50, 0, -8), (120, 8, 0), edge))
    stock = box((-20, -20, -40), (60, 32, 0))
    found = _reach(stock, Sweep(tool, hole, -18.0, (plunge,), operation="drilling"), around=[jaw])
    assert found.clearing == pytest.approx(30.5, abs=STICKOUT)
