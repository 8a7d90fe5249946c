"""Tapered holders beside walls of every slope, against exact solids on both sides of the answer (0.02 mm)."""

import math

import pytest

from schemas.base import Frame
from schemas.tolerances import STICKOUT
from schemas.tool import HolderSection, Tool
from tests.support.hand_stage import Sweep, part_of, stage_of
from worker.kernel import boolean, measure
from worker.kernel.planar import grow, rectangle
from worker.kernel.primitives import box, cone, cylinder, sphere
from worker.kernel.sweep import prism
from worker.reach import reach_of
from worker.stage.model import HoldingBody, Plunge

TOP = Frame()
TILTED = Frame(location=(3.0, -2.0, 7.0), axis=(0.3, -0.5, 0.8), ref_direction=(1.0, 0.2, 0.0))
HOLDERS = {
    "slim": ((16.0, 30.0, 32.0), (40.0, 40.0, None)),
    "steep": ((12.0, 8.0, 40.0), (40.0, 40.0, None)),
    "two cones": ((14.0, 20.0, 20.0), (20.0, 12.0, 44.0)),
    "inverted": ((30.0, 20.0, 18.0), (26.0, 30.0, 40.0)),
}
DEPTH = 20.0


def _ramp(frame, foot, angle, top):
    """A slope that begins ``foot`` mm beside the axis and rises at that angle to ``top``."""
    run = top / math.tan(math.radians(angle))
    slab = box((-60, -60, 0), (60, 60, top), frame)
    beyond = Frame(
        location=frame.to_world((foot, 0.0, 0.0)),
        axis=frame.direction_to_world((-math.sin(math.radians(angle)), 0.0, math.cos(math.radians(angle)))),
        ref_direction=frame.y,
    )
    assert run < 50
    return boolean.cut(slab, [box((-200, -200, 0), (200, 200, 200), beyond)])


def _walls(name, frame):
    return {
        "slope of 60": lambda: [_ramp(frame, 9.0, 60, 25)],
        "slope of 75": lambda: [_ramp(frame, 8.5, 75, 30)],
        "slope of the flank": lambda: [_ramp(frame, 9.0, math.degrees(math.atan2(30, 8)), 25)],
        "upright": lambda: [box((11.0, -60, 0), (60, 60, 25), frame)],
        "two steps": lambda: [box((10.5, -60, 0), (60, 60, 6.37), frame), box((15.2, -60, 0), (60, 60, 21), frame)],
        "ball": lambda: [sphere(frame.to_world((21.0, 4.0, 3.0)), 22.0)],
        "cone": lambda: [cone(frame.to_world((25.0, 3.0, 0)), frame.to_world((25.0, 3.0, 26)), 28.0, 3.0)],
        "lying bar": lambda: [cylinder(frame.to_world((16.0, -60, 6)), frame.to_world((16.0, 60, 6)), 12.0)],
    }[name]()


def _tool(holder, stickout=70.0):
    stack = tuple(HolderSection(diameter=d, length=n, top_diameter=t) for d, n, t in holder)
    return Tool(id="T1", type="twist_drill", DC=8.0, LU=20.0, DMM=8.0, stickout=stickout, holder=stack)


def _holder(tool, frame, low):
    """The holder as solids, its face at height ``low`` over the axis."""
    found = []
    for part in tool.holder:
        ends = [frame.to_world((0.0, 0.0, z)) for z in (low, low + part.length)]
        found.append(cone(*ends, part.diameter, part.top))
        low += part.length
    return found


WALLS = ["slope of 60", "slope of 75", "upright", "two steps", "ball", "cone", "lying bar"]
CASES = [(name, wall, TOP) for name in HOLDERS for wall in WALLS]
CASES += [("slim", wall, TILTED) for wall in ("slope of 60", "two steps", "ball")]


@pytest.mark.parametrize(("name", "wall", "frame"), CASES)
def test_a_drill_beside_a_wall(name, wall, frame):
    tool = _tool(HOLDERS[name])
    stock = boolean.fuse([box((-60, -60, -30), (60, 60, 0), frame), *_walls(wall, frame)])
    plunge = Plunge("round_hole-1", frame.to_world((0.0, 0.0, 0.0)), 8.0, 0.0, -DEPTH, -18.0)
    hole = cylinder(frame.to_world((0, 0, -DEPTH)), frame.to_world((0, 0, 60)), 8.0)
    stage = stage_of(stock, [Sweep(tool, hole, -DEPTH, (plunge,), operation="drilling")], (), frame)
    least = reach_of(stage, part_of(stock))["10"].clearing
    assert least is not None
    after = stage.stock_before(1)
    assert measure.volume(boolean.common(after, _holder(tool, frame, least + STICKOUT - DEPTH))) < 1e-6
    assert measure.volume(boolean.common(after, _holder(tool, frame, least - STICKOUT - DEPTH))) > 1e-6


def test_a_wall_that_leans_as_the_flank_does():
    """Flank and wall are parallel: any height decides alike; worked by hand."""
    tool = _tool(HOLDERS["slim"])
    stock = boolean.fuse([box((-60, -60, -30), (60, 60, 0)), *_walls("slope of the flank", TOP)])
    plunge = Plunge("round_hole-1", (0.0, 0.0, 0.0), 8.0, 0.0, -DEPTH, -18.0)
    sweep = Sweep(tool, cylinder((0, 0, -DEPTH), (0, 0, 60), 8.0), -DEPTH, (plunge,), operation="drilling")
    least = reach_of(stage_of(stock, [sweep]), part_of(stock))["10"].clearing
    # at height 0 the wall is 9 mm off, where the flank stands 30/8 (9 - 8) = 3.75 over the holder's face; with a
    # wider second section of 20 mm radius, 30 mm up, over a wall 25 high nothing else counts
    assert least == pytest.approx(max(DEPTH, DEPTH - 3.75), abs=0.1)


@pytest.mark.parametrize("name", ["slim", "steep", "two cones"])
@pytest.mark.parametrize("wall", ["slope of 60", "slope of 75", "lying bar"])
def test_a_slot_along_a_sloping_wall(name, wall):
    """A cutter goes along y beside the wall, which is the same all along: the holder at its ends and between them."""
    tool = _tool(HOLDERS[name]).model_copy(update={"type": "endmill", "APMX": 18.0, "LU": 20.0})
    stock = boolean.fuse([box((-60, -60, -30), (60, 60, 0)), *_walls(wall, TOP)])
    region = grow(rectangle(0, -15, 1e-6, 15), 4.0)
    stage = stage_of(stock, [Sweep(tool, prism(region, TOP, -DEPTH, 60.0), -DEPTH)])
    least = reach_of(stage, part_of(stock))["10"].clearing
    assert least is not None
    after = stage.stock_before(1)
    for lift, meets in ((STICKOUT, False), (-STICKOUT, True)):
        swept = [_moved(_holder(tool, TOP, least + lift - DEPTH), y) for y in (-15.0, -7.5, 0.0, 7.5, 15.0)]
        volume = sum(measure.volume(boolean.common(after, bodies)) for bodies in swept)
        assert (volume > 1e-6) == meets


def _moved(bodies, y):
    from worker.kernel.shape import move_body

    return [move_body(body, TOP, Frame(location=(0.0, y, 0.0))) for body in bodies]


def test_a_clamp_with_a_sloping_back():
    clamp = HoldingBody("clamp", "clamp", _ramp(TOP, 9.0, 70, 25))
    tool = _tool(HOLDERS["slim"])
    stock = box((-60, -60, -30), (60, 60, 0))
    plunge = Plunge("round_hole-1", (0.0, 0.0, 0.0), 8.0, 0.0, -DEPTH, -18.0)
    sweep = Sweep(tool, cylinder((0, 0, -DEPTH), (0, 0, 60), 8.0), -DEPTH, (plunge,), operation="drilling")
    stage = stage_of(stock, [sweep], [clamp])
    least = reach_of(stage, part_of(stock))["10"].clearing
    for lift, meets in ((STICKOUT, False), (-STICKOUT, True)):
        holder = _holder(tool, TOP, least + lift - DEPTH)
        volume = sum(measure.volume(boolean.common(body, holder)) for body in (clamp.body, stage.stock_before(1)))
        assert (volume > 1e-6) == meets
