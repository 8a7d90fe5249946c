"""Reach is monotone: longer, thinner and less around it never make a finding appear."""

from hypothesis import given, settings
from hypothesis import strategies as st

from schemas.tolerances import STICKOUT
from schemas.tool import HolderSection, Tool
from tests.support.hand_stage import Sweep, part_of, stage_of
from worker.kernel import boolean
from worker.kernel.planar import grow, rectangle
from worker.kernel.primitives import box
from worker.kernel.sweep import prism
from worker.reach import reach_of
from worker.stage.model import HoldingBody

STOCK = boolean.fuse([box((0, 0, -40), (70, 50, 0)), box((48.3, 0, 0), (55, 50, 12.5))])
FEW = settings(max_examples=8, deadline=None, derandomize=True)
diameters = st.floats(8.0, 60.0)
stickouts = st.floats(10.0, 60.0)


def _tool(stickout, diameter, shank=10.0):
    holder = (HolderSection(diameter=diameter, length=20.0), HolderSection(diameter=diameter + 9, length=40.0))
    return Tool(id="T1", type="endmill", DC=10.0, APMX=12.0, LU=15.0, DMM=shank, stickout=stickout, holder=holder)


def _reach(tool, around=()):
    region = grow(rectangle(15, 15, 35, 30), 5.0)
    stage = stage_of(STOCK, [Sweep(tool, prism(region, _frame(), -18.0, 40.0), -18.0)], around)
    return reach_of(stage, part_of(STOCK))["10"]


def _frame():
    from schemas.base import Frame

    return Frame()


def _findings(found):
    return {name for name in ("holder", "shank", "neck") if getattr(found, name) is not None}


@FEW
@given(stickouts, st.floats(0.0, 30.0), diameters, st.floats(6.0, 16.0))
def test_a_longer_stickout_never_makes_a_finding_appear(stickout, more, diameter, shank):
    short = _reach(_tool(stickout, diameter, shank))
    long = _reach(_tool(stickout + more, diameter, shank))
    assert _findings(long) <= _findings(short)


@FEW
@given(stickouts, diameters, st.floats(0.0, 20.0))
def test_a_larger_holder_never_makes_a_finding_vanish(stickout, diameter, more):
    slim, thick = _reach(_tool(stickout, diameter)), _reach(_tool(stickout, diameter + more))
    assert _findings(slim) <= _findings(thick)
    assert slim.clearing <= thick.clearing + STICKOUT


@FEW
@given(stickouts, diameters, st.floats(-30.0, 100.0), st.floats(-30.0, 10.0), st.floats(0.5, 40.0))
def test_more_workholding_never_removes_a_finding(stickout, diameter, x, y, height):
    clamp = HoldingBody("clamp-1", "clamp", box((x, y - 20, -10), (x + 15, y, height)))
    free, held = _reach(_tool(stickout, diameter)), _reach(_tool(stickout, diameter), [clamp])
    assert _findings(free) <= _findings(held)
    assert free.clearing <= held.clearing + STICKOUT
