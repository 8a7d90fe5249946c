"""Workholding that stands off the stock, in the room that a cutter needs beside a wall; distances worked by hand."""

import pytest

from schemas.base import Frame
from schemas.feature import Feature
from schemas.tolerances import STICKOUT
from schemas.tool import HolderSection, Tool
from tests.support.hand_stage import Sweep, part_of, stage_of
from worker.kernel import boolean
from worker.kernel.primitives import box, cylinder
from worker.reach import reach_of
from worker.stage.model import HoldingBody, Plunge

TOP = Frame()
TILTED = Frame(location=(3.0, -2.0, 7.0), axis=(0.3, -0.5, 0.8), ref_direction=(1.0, 0.2, 0.0))
PROFILE = Feature(id="profile_feature-1", class_="profile_feature", faces=(), placement=TOP)


def _least(bodies, holder=24.0, cutter=8.0, frame=TOP):
    """A block 80 x 50, 10 high, 2 mm of stock round it, milled all round; swept bodies end 2 mm past the stock."""
    tool = Tool(
        id="T1",
        type="endmill",
        DC=cutter,
        APMX=20.0,
        stickout=15.0,
        holder=(HolderSection(diameter=holder, length=40),),
    )
    block = box((0, 0, -10), (80, 50, 0), frame)
    ring = boolean.cut(box((-4, -4, -10), (84, 54, 20), frame), [box((0, 0, -11), (80, 50, 21), frame)])
    held = [HoldingBody(f"post {i}", "bolt", body) for i, body in enumerate(bodies)]
    stage = stage_of(
        box((-2, -2, -10), (82, 52, 0), frame), [Sweep(tool, ring, -10.0, features=(PROFILE,))], held, frame
    )
    return reach_of(stage, part_of(block))["10"]


@pytest.mark.parametrize("frame", [TOP, TILTED])
@pytest.mark.parametrize(
    ("holder", "least"),
    [(23.9, 10.0), (24.0, 10.0), (24.02, 30.0), (30.0, 30.0)],
)
def test_a_post_beside_the_stock_meets_the_holder_when_it_is_wide_enough(holder, least, frame):
    """The axis runs 4 mm off the wall at y = 50, the post stands at y = 66: a holder up to 24 passes it."""
    found = _least([box((20, 66, -30), (40, 80, 20), frame)], holder, frame=frame)
    assert found.clearing == pytest.approx(least, abs=STICKOUT)
    assert (found.holder is None) == (least < 15.0)
    if found.holder:
        assert found.holder.body == "post 0"


@pytest.mark.parametrize(("radius", "least"), [(4.0, 10.0), (3.9, 10.0), (4.1, 22.0)])
def test_a_round_post_past_a_corner(radius, least):
    """Axis on the arc of 4 mm about the corner (80, 50); a post about (92, 62), 16.97 mm from it, holder of 9 mm."""
    centre = 12.0 * 2**0.5
    holder = 2 * (centre - 4.0 - 4.0)
    found = _least([cylinder((92, 62, -30), (92, 62, 12), 2 * radius)], holder)
    assert found.clearing == pytest.approx(least, abs=STICKOUT)


def test_a_post_out_of_reach_asks_for_nothing():
    assert _least([box((20, 90, -30), (40, 99, 60))]).clearing == pytest.approx(10.0, abs=STICKOUT)


def _blocks(bodies, cutter, frame=TOP):
    found = _least(bodies, 8.0, cutter, frame)
    return {b.body: b.widest for b in found.blocks}


@pytest.mark.parametrize("frame", [TOP, TILTED])
@pytest.mark.parametrize(("cutter", "enters"), [(9.98, False), (10.0, False), (10.02, True), (16.0, True)])
def test_the_cutter_enters_a_post_that_leaves_it_no_way_along_the_wall(cutter, enters, frame):
    """The post stands 10 mm from the wall: a cutter up to that passes."""
    found = _blocks([box((20, 60, -30), (40, 70, 20), frame)], cutter, frame)
    assert found == ({"post 0": pytest.approx(10.0, abs=0.01)} if enters else {})


def test_a_low_post_is_passed_over():
    assert _blocks([box((20, 60, -30), (40, 70, -10))], 16.0) == {}
    assert set(_blocks([box((20, 60, -30), (40, 70, -9.9))], 16.0)) == {"post 0"}


@pytest.mark.parametrize(("edge", "enters"), [(6.0, False), (5.99, True), (3.5, True), (8.0, False)])
def test_a_bridge_beside_the_hole_stops_a_tool_wider_than_the_hole(edge, enters):
    """A spot drill of 12 mm over a hole: the bridge is high above the stock, its edge ``edge`` from the axis."""
    tool = Tool(id="T1", type="spotdrill", DC=12.0, SIG=90.0, LU=20.0, stickout=40.0)
    bridge = HoldingBody("bridge", "clamp", box((edge, -20, 6), (40, 20, 12)))
    plunge = Plunge("round_hole-1", (0.0, 0.0, 0.0), 12.0, 0.0, -2.0, 4.0)
    cone = boolean.fuse([cylinder((0, 0, -2), (0, 0, 1), 6.0)])
    sweep = Sweep(tool, cone, -2.0, (plunge,), operation="center_drilling")
    block = box((-30, -30, -20), (30, 30, 0))
    found = reach_of(stage_of(block, [sweep], [bridge]), part_of(block))["10"]
    assert [b.body for b in found.blocks] == (["bridge"] if enters else [])


def test_shank_and_neck_tell_the_workholding_from_the_wall():
    """A shank of 14 mm on a cutter of 8 mm: it rubs on the wall, and a clamp beside it adds to that, not instead."""
    tool = Tool(id="T1", type="endmill", DC=8.0, APMX=5.0, LU=6.0, DMM=14.0, stickout=60.0)
    block = box((0, 0, -10), (80, 50, 0))
    slot = Sweep(tool, box((-4, 20, -10), (84, 28, 20)), -10.0)
    clamp = HoldingBody("clamp", "clamp", box((30, 28.5, 0), (50, 45, 8)))
    free = reach_of(stage_of(block, [slot]), part_of(block))["10"]
    held = reach_of(stage_of(block, [slot], [clamp]), part_of(block))["10"]
    assert free.shank and held.shank and held.shank.depth == pytest.approx(free.shank.depth, abs=STICKOUT)
    assert free.in_holding is None and held.in_holding and held.in_holding.body == "clamp"
    assert held.in_holding.depth == pytest.approx(18.0 - 6.0, abs=STICKOUT)  # clamp 18 over the tip, LU 6


@pytest.mark.parametrize(
    ("angle", "gap", "depth"), [(45.0, 4.0, 6.0), (45.0, 6.1, None), (60.0, 3.0, 4.804), (90.0, 0.1, None)]
)
def test_the_slanted_edge_of_a_face_mill_widens_over_a_clamp_beside_its_path(angle, gap, depth):
    """DC is the diameter at the tip (ISO 13399): at height h the edge is h / tan(KAPR) wider, up to APMX = 6 mm.

    The clamp's top stands 10 mm over the tip, so the edge meets it ``10 - gap tan(KAPR)`` below that top.
    """
    tool = Tool(id="T1", type="facemill", DC=20.0, APMX=6.0, KAPR=angle, stickout=60.0)
    block = box((0, 0, -10), (80, 80, 0))
    strip = Sweep(tool, box((-10, 20, -2), (90, 40, 20)), -2.0, operation="plane_rough_milling")
    clamp = HoldingBody("clamp", "clamp", box((30, 40 + gap, 0), (50, 70, 8)))
    found = reach_of(stage_of(block, [strip], [clamp]), part_of(block))["10"].in_holding
    assert (found and found.depth) == (depth and pytest.approx(depth, abs=STICKOUT))
    assert found is None or (found.kind, found.body) == ("cutter", "clamp")


@pytest.mark.parametrize(("stickout", "least"), [(30.0, 14.0), (11.0, 11.0)])
def test_the_cutting_edge_stands_out_of_the_holder(stickout, least):
    """Clear of everything at 10 mm; its edge of 14 mm must stand out, unless the plan itself states less."""
    tool = Tool(
        id="T1", type="endmill", DC=8.0, APMX=14.0, stickout=stickout, holder=(HolderSection(diameter=20.0, length=40),)
    )
    block = box((0, 0, -10), (80, 50, 0))
    found = reach_of(stage_of(block, [Sweep(tool, box((-4, 20, -10), (84, 28, 20)), -10.0)]), part_of(block))["10"]
    assert found.clearing == pytest.approx(10.0, abs=STICKOUT)
    assert found.least_stickout == pytest.approx(least, abs=STICKOUT)
    assert found.stickout_margin == pytest.approx(stickout - least, abs=STICKOUT)
