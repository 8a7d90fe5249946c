"""The room under a tool that comes through: over a bar, beside it, into a blind floor, along an outside profile."""

import pytest

from schemas.base import Frame
from schemas.tool import Tool
from tests.support.hand_stage import Sweep, part_of, stage_of
from worker.kernel import boolean
from worker.kernel.primitives import box, cylinder
from worker.reach import reach_of
from worker.stage.model import HoldingBody, Plunge

TOP = Frame()
TILTED = Frame(location=(3.0, -2.0, 7.0), axis=(0.3, -0.5, 0.8), ref_direction=(1.0, 0.2, 0.0))
DRILL = Tool(id="T1", type="twist_drill", DC=6.0, SIG=118, LU=40.0, stickout=60.0)


def _below(tip, x, frame=TOP, thin=0.0):
    """A plate 10 mm thick, less ``thin`` below, over a bar (top -10, x to 20) and a bed (top -40); drilled at ``x``."""
    plate = box((0, 0, thin - 10), (80, 50, 0), frame)
    held = [
        HoldingBody("bar", "plate", box((0, 0, -20), (20, 50, -10), frame)),
        HoldingBody("bed", "plate", box((-20, -20, -60), (100, 70, -40), frame)),
    ]
    body = cylinder(frame.to_world((x, 25.0, tip)), frame.to_world((x, 25.0, 20.0)), 6.0)
    plunge = Plunge("round_hole-1", frame.to_world((x, 25.0, 0.0)), 6.0, 0.0, tip, tip + 1.8)
    sweep = Sweep(DRILL, body, tip, (plunge,), operation="drilling")
    found = reach_of(stage_of(plate, [sweep], held, frame), part_of(plate))["10"].below
    return None if found is None else (found.body, found.room)


@pytest.mark.parametrize("frame", [TOP, TILTED])
def test_a_drill_beside_the_bar_has_the_room_to_the_bed(frame):
    assert _below(-12.0, 40.0, frame) == ("bed", pytest.approx(28.0))


@pytest.mark.parametrize(("x", "body", "room"), [(22.9, "bar", 0.5), (23.0, "bed", 30.5), (23.1, "bed", 30.5)])
def test_the_bar_counts_where_the_drill_is_over_it(x, body, room):
    """The bar ends at x = 20, so that a drill of 6 mm at x = 23 just passes it; half a millimetre still to go."""
    assert _below(-9.5, x, thin=0.5) == (body, pytest.approx(room))


def test_the_exact_bottom_leaves_no_room_over_the_bar():
    assert _below(-10.0, 10.0) == ("bar", pytest.approx(0.0))


def test_a_blind_hole_comes_out_nowhere():
    assert _below(-8.0, 40.0) is None


def test_an_outside_profile_over_a_low_post():
    tool = Tool(id="T1", type="endmill", DC=8.0, APMX=20.0, stickout=40.0)
    ring = boolean.cut(box((-4, -4, -10.5), (84, 54, 20)), [box((0, 0, -11), (80, 50, 21))])
    stock = box((-2, -2, -10), (82, 52, 0))
    held = [HoldingBody("post", "jack", box((30, -10, -30), (40, 5, -13)))]
    found = reach_of(stage_of(stock, [Sweep(tool, ring, -10.5)], held), part_of(stock))["10"].below
    assert found and (found.body, found.room) == ("post", pytest.approx(2.5))
