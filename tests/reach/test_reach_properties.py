"""Reach is monotone: longer, thinner and less around it never make a finding appear; upright and tilted, by tool."""

from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schemas.base import Frame
from schemas.feature import Feature
from schemas.tolerances import STICKOUT
from schemas.tool import HolderSection, Tool
from tests.support.hand_stage import Sweep, part_of, stage_of
from worker.kernel import boolean
from worker.kernel.planar import grow, rectangle
from worker.kernel.primitives import box, cylinder
from worker.kernel.sweep import prism
from worker.reach import reach_of
from worker.stage.model import HoldingBody, Plunge

UPRIGHT = Frame()
TILTED = Frame(location=(3.0, -2.0, 7.0), axis=(0.3, -0.5, 0.8), ref_direction=(1.0, 0.2, 0.0))
FEW = settings(max_examples=3, deadline=None, derandomize=True)
PROFILE = Feature(id="profile_feature-1", class_="profile_feature", faces=(), placement=UPRIGHT)
stickouts, mores = st.floats(10.0, 60.0), st.floats(0.0, 30.0)
diameters, shanks = st.floats(8.0, 60.0), st.floats(6.0, 16.0)


@dataclass(frozen=True)
class Family:
    """A tool's type with its sizes, and what it sweeps in a stock with a wall on it."""

    type: str
    sizes: dict
    sweep: object


def _pocket(tool, frame):
    return Sweep(tool, prism(grow(rectangle(15, 15, 35, 30), 5.0), frame, -18.0, 40.0), -18.0)


def _hole(tool, frame):
    centre = frame.to_world((30.0, 25.0, 0.0))
    body = cylinder(frame.to_world((30.0, 25.0, -18.0)), frame.to_world((30.0, 25.0, 40.0)), 10.0)
    plunge = Plunge("round_hole-1", centre, 10.0, 0.0, -18.0, -15.0)
    return Sweep(tool, body, -18.0, (plunge,), operation="drilling")


def _round_the_block(tool, frame):
    """All round a wall that stands on the block's end, past the stock."""
    outside = boolean.cut(box((-2, -2, -18), (72, 52, 40), frame), [box((5, 5, -19), (60, 45, 41), frame)])
    return Sweep(tool, outside, -18.0, features=(PROFILE,))


def _under_the_edge(tool, frame):
    return Sweep(tool, box((-2, 20, -18), (40, 36, -10), frame), -18.0)


FAMILIES = {
    "end mill": Family("endmill", {"DC": 10.0, "APMX": 12.0, "LU": 15.0}, _pocket),
    "ball": Family("ballnose_endmill", {"DC": 10.0, "APMX": 12.0, "LU": 15.0}, _pocket),
    "drill": Family("twist_drill", {"DC": 10.0, "LU": 15.0}, _hole),
    "outside": Family("endmill", {"DC": 8.0, "APMX": 12.0, "LU": 15.0}, _round_the_block),
    "tee slot": Family("t_slot_mill", {"DC": 16.0, "APMX": 8.0, "LU": 15.0, "DN": 7.0}, _under_the_edge),
}
CASES = [(name, frame) for name in FAMILIES for frame in (UPRIGHT, TILTED)]
NAMES = [f"{name} {'tilted' if frame is TILTED else 'upright'}" for name, frame in CASES]
every = pytest.mark.parametrize(("name", "frame"), CASES, ids=NAMES)


def _tool(name, stickout, diameter, shank=10.0):
    taper = HolderSection(diameter=diameter, length=20.0, top_diameter=diameter + 5)
    holder = (taper, HolderSection(diameter=diameter + 9, length=40.0))
    family = FAMILIES[name]
    return Tool(id="T1", type=family.type, DMM=shank, stickout=stickout, holder=holder, **family.sizes)


def _reach(name, frame, tool, around=()):
    stock = boolean.fuse([box((0, 0, -40), (70, 50, 0), frame), box((48.3, 0, 0), (55, 50, 12.5), frame)])
    stage = stage_of(stock, [FAMILIES[name].sweep(tool, frame)], around, frame)
    return reach_of(stage, part_of(stock))["10"]


def _findings(found):
    return {name for name in ("holder", "shank", "neck", "in_holding") if getattr(found, name) is not None}


@every
@FEW
@given(stickouts, mores, diameters, shanks)
def test_a_longer_stickout_never_makes_a_finding_appear(name, frame, stickout, more, diameter, shank):
    short = _reach(name, frame, _tool(name, stickout, diameter, shank))
    long = _reach(name, frame, _tool(name, stickout + more, diameter, shank))
    assert _findings(long) <= _findings(short)
    assert long.clearing <= short.clearing + STICKOUT


@every
@FEW
@given(stickouts, diameters, st.floats(0.0, 20.0))
def test_a_larger_holder_never_makes_a_finding_vanish(name, frame, stickout, diameter, more):
    slim = _reach(name, frame, _tool(name, stickout, diameter))
    thick = _reach(name, frame, _tool(name, stickout, diameter + more))
    assert _findings(slim) <= _findings(thick)
    assert slim.clearing <= thick.clearing + STICKOUT


@every
@FEW
@given(stickouts, diameters, st.floats(-30.0, 100.0), st.floats(-30.0, 10.0), st.floats(0.5, 40.0))
def test_more_workholding_never_removes_a_finding(name, frame, stickout, diameter, x, y, height):
    clamp = HoldingBody("clamp-1", "clamp", box((x, y - 20, -10), (x + 15, y, height), frame))
    tool = _tool(name, stickout, diameter, 14.0)
    free, held = _reach(name, frame, tool), _reach(name, frame, tool, [clamp])
    assert _findings(free) <= _findings(held)
    assert free.clearing <= held.clearing + STICKOUT
    assert {b.body for b in free.blocks} <= {b.body for b in held.blocks}
