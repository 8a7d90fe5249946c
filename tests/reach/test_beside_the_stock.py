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
from worker.stage.model import HoldingBody

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
    assert found.least_stickout == pytest.approx(least, abs=STICKOUT)
    assert (found.holder is None) == (least < 15.0)
    if found.holder:
        assert found.holder.body == "post 0"


@pytest.mark.parametrize(("radius", "least"), [(4.0, 10.0), (3.9, 10.0), (4.1, 22.0)])
def test_a_round_post_past_a_corner(radius, least):
    """Axis on the arc of 4 mm about the corner (80, 50); a post about (92, 62), 16.97 mm from it, holder of 9 mm."""
    centre = 12.0 * 2**0.5
    holder = 2 * (centre - 4.0 - 4.0)
    found = _least([cylinder((92, 62, -30), (92, 62, 12), 2 * radius)], holder)
    assert found.least_stickout == pytest.approx(least, abs=STICKOUT)


def test_a_post_out_of_reach_asks_for_nothing():
    assert _least([box((20, 90, -30), (40, 99, 60))]).least_stickout == pytest.approx(10.0, abs=STICKOUT)
