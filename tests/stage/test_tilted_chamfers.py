"""Chamfers in a setup that leans: square to the spindle, climbing as steeply as the flank, and round an axis aside."""

from __future__ import annotations

import json
import math

import pytest

from examples import shapes
from tests.support.agreed import agreed
from tests.support.trial import Json, plan, raw_box, setup, step, step_bytes, taken, tool
from worker.pipeline import check_plan

LEAN = math.sqrt(0.5)
FLANK = tool("chamfer_mill", 16, SIG=90, LU=10)
LEG, LONG = 2.0, 40.0


def along_y(x: float, inwards: float) -> shapes.Shape:
    """What a chamfer of 45 degrees takes off a block's upper edge along Y at x."""
    corners = [(x, 0, 20), (x + inwards * LEG, 0, 20), (x, 0, 20 - LEG)]
    return shapes.prism(shapes.polygon(corners), (0, LONG, 0))


def block() -> shapes.Shape:
    """60 x 40 x 20, its upper edges along Y chamfered 2 x 45 degrees."""
    return shapes.cut(shapes.box((0, 0, 0), (60, LONG, 20)), along_y(0, 1), along_y(60, -1))


def on_one(operation: str, cutter: Json, x: float, axis: tuple[float, float, float], grown: float) -> Json:
    at = {"class": "chamfer", "at": [x, LONG / 2, 19]}
    blank = raw_box((-grown, -grown, -grown), (60 + grown, LONG + grown, 20 + grown))
    return plan(blank, setup([step(operation, cutter, at)], axis))


@pytest.mark.parametrize("cutter", [tool("endmill", 16), tool("facemill", 40, APMX=9)], ids=lambda t: t["type"])
@pytest.mark.parametrize("grown", [0.0, 3.0])
def test_the_end_of_a_mill_makes_a_chamfer_that_lies_square_to_the_spindle(cutter: Json, grown: float) -> None:
    """All above its plane, x + z = 78: the corner of the blank past it, an upright triangle (closed form)."""
    stage = agreed(block(), on_one("plane_finish_milling", cutter, 59, (LEAN, 0, LEAN), grown))
    side = (60 + grown) + (20 + grown) - 78
    assert taken(stage) == pytest.approx(side**2 / 2 * (LONG + 2 * grown), rel=1e-9)


def test_a_flank_takes_nothing_of_it_and_says_so() -> None:
    stage = agreed(block(), on_one("chamfering", FLANK, 59, (LEAN, 0, LEAN), 3.0))
    assert taken(stage) == 0
    assert "square to the spindle" in " ".join(stage.cuts[0].notes)


@pytest.mark.parametrize("x", [1.0, 59.0])
@pytest.mark.parametrize("way", [1, -1])
def test_a_flank_along_an_edge_as_steep_as_itself_touches_its_upper_side(x: float, way: int) -> None:
    """The plane that the flank sweeps holds the edge and the level way across it: it is the block's top. Of the 3 mm
    above that goes what stands over the chamfer as the tilted spindle sees it: less, past the blank's end, the
    integral of max(0, d + u - 3) over d in 0..3 and u in 0..2 (closed form)."""
    stage = agreed(block(), on_one("chamfering", FLANK, x, (0, way * LEAN, LEAN), 3.0))
    assert taken(stage) == pytest.approx(3 * LEG * LONG - LEG**3 / 6, rel=1e-6)


def test_a_flank_proves_nothing_on_a_cone_that_turns_from_level_to_upright() -> None:
    """The chamfer round half a disc's end, seen square to its flat run: there its slope says all from 0 to 90."""
    bar = shapes.fuse(shapes.box((0, 0, 0), (40, 6, 20)), shapes.cylinder((0, 0, 10), (0, 6, 10), 20))
    rest = shapes.fuse(shapes.box((0, 0, 0), (40, 5, 20)), shapes.cylinder((0, 0, 10), (0, 5, 10), 20))
    tip = shapes.cone((0, 5, 10), (0, 6, 10), 20, 18)
    run = shapes.prism(shapes.polygon([(0, 5, 0), (0, 5, 20), (0, 6, 19), (0, 6, 1)]), (40, 0, 0))
    part = shapes.merged(shapes.common(bar, shapes.fuse(rest, tip, run)))
    ring = {"class": "chamfer", "at": [20, 5.5, 19.5]}
    stage = agreed(
        part, plan(raw_box((-13, -3, -3), (43, 9, 23)), setup([step("chamfering", FLANK, ring)], (0, LEAN, LEAN)))
    )
    assert taken(stage) == 0
    assert "takes nothing there" in " ".join(stage.cuts[0].notes)


def test_reach_is_told_of_a_flank_that_stands_off_all_it_passes() -> None:
    """The ring round a plate: its runs along Y climb as steeply as the flank, which takes what lies above their upper
    edges alone, 4.2 mm above its tip (a leg of 3 seen at 45 degrees). The shank of 16 then meets the blank beside."""
    plate = shapes.chamfer_ring(shapes.rounded_block((0, 0, 0), (60, 40, 12), 6), 12, 3)
    tilted = setup([step("chamfering", FLANK, {"class": "chamfer"})], (0, LEAN, LEAN))
    document = plan(raw_box((-3, -3, -3), (63, 43, 15)), tilted)
    codes = {f.code for f in check_plan(step_bytes(plate), json.dumps(document).encode(), {}).report.findings}
    assert "reach.shank" in codes and "rule.failed" not in codes


def test_a_mouth_s_chamfer_from_an_axis_aside() -> None:
    """A cone of 45 degrees, 2 high, round a hole of 10, seen 25 degrees aside: its slope says 20 to 70. The flank of 45
    leaves w sin 25 of its width w all over (Pappus: w = 2 sqrt 2, a ring has no ends), which is w sin 25 / sin 20 along
    the axis, so cos 25 times that under the blank's top, 3 above the part. What stands over the cone at radius r is
    then 10 - r - that deep, whichever way the axis leans (Cavalieri); none of the hole beneath the cone goes."""
    block = shapes.box((-20, -20, 0), (20, 20, 20))
    part = shapes.cut(block, shapes.cylinder((0, 0, 0), (0, 0, 20), 10), shapes.cone((0, 0, 18), (0, 0, 20), 10, 14))
    aside, steep = math.radians(25), math.radians(20)
    work = step("chamfering", FLANK, {"class": "chamfer"})
    tilted = setup([work], (0, math.sin(aside), math.cos(aside)))
    stage = agreed(part, plan(raw_box((-20, -20, 0), (20, 20, 23)), tilted))
    far = 10 - 2 * math.sqrt(2) * math.sin(aside) / math.sin(steep) * math.cos(aside)
    exact = 2 * math.pi * (far * (far**2 - 5**2) / 2 - (far**3 - 5**3) / 3)
    assert taken(stage) == pytest.approx(exact, rel=1e-6)
