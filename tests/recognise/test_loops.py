"""Grooves of one width round a rectangle or any other outline: slots that close on themselves; sizes by hand."""

from __future__ import annotations

import json
import math

import pytest
from OCP.BRepPrimAPI import BRepPrimAPI_MakeTorus
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

from bench.reencode import turned
from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import at_height, block, chamfered, drill, obround, pocket, rounded
from tests.support.block import as_step, one_setup, solid_block
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.planar import polygon
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body
from worker.kernel.sweep import prism as swept
from worker.pipeline import check_plan

LOW, HIGH = (20.0, 10.0), (80.0, 50.0)
UP = Frame(location=(0, 0, 0))


def inside(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def frame(width: float, depth: float, corner: float = 0.0, core: float = 0.0, top: float = 20.0) -> Body:
    """A groove's volume along the inside of a rectangle of 60 x 40, with corner radii outside and inside."""
    low, high = (*LOW, top - depth), (*HIGH, top + 1)
    island = pocket((low[0] + width, low[1] + width, low[2] - 1), (high[0] - width, high[1] - width, high[2] + 1), core)
    return cut(pocket(low, high, corner), [island])


@pytest.mark.parametrize(
    ("width", "corner", "core"), [(3.0, 0.0, 0.0), (3.0, 6.0, 3.0), (2.4, 2.4, 0.0), (5.0, 12.0, 7.0)]
)
def test_a_groove_round_a_rectangle_is_one_slot(width: float, corner: float, core: float) -> None:
    """The middle runs round a rectangle smaller by one width; a round corner of radius r saves (8 - 2 pi) r / 4 each.

    Where the inner corner is sharp the middle turns about it at half the width.
    """
    middle = corner and (corner + core) / 2
    length = 2 * (60 + 40 - 2 * width) - (8 - 2 * math.pi) * middle
    body = cut(block(), [frame(width, 2, corner, core)])
    for part in (body, turned(body, 2)[0]):
        (found,) = inside(part)
        assert (found.class_, found.ends, found.course_of_travel) == ("slot", "loop", "general")
        assert (found.width, found.depth, found.length) == pytest.approx((width, 2, length), abs=1e-4)
        assert (found.open_sides, found.bottom, found.diameter) == (0, "planar", None)
        assert found.orthogonal_radius == (pytest.approx(corner) if corner else None)
        assert found.bosses == () and len(found.access) == 1
    same_when_rewritten(body, 1)


def test_the_mouth_broken_and_the_floor_rounded_change_nothing() -> None:
    tool = rounded(frame(3, 2, 6, 3), 0.4, at_height(18))
    body = chamfered(cut(block(), [tool]), 0.3, lambda a, b: at_height(20)(a, b) and 5 < a[1] < 55)
    (found,) = [f for f in inside(body) if f.class_ != "chamfer"]
    assert (found.class_, found.ends, found.planar_radius) == ("slot", "loop", pytest.approx(0.4))
    assert (found.width, found.depth) == pytest.approx((3, 2))


def ring_of(outline: list[tuple[float, float]], core: list[tuple[float, float]]) -> Body:
    return cut(swept(polygon(outline), UP, 18, 21), [swept(polygon(core), UP, 17, 22)])


def regular(corners: int, radius: float) -> list[tuple[float, float]]:
    angles = [2 * math.pi * k / corners for k in range(corners)]
    return [(50 + radius * math.cos(a), 30 + radius * math.sin(a)) for a in angles]


@pytest.mark.parametrize("corners", [3, 5, 6])
def test_a_groove_round_a_regular_outline(corners: int) -> None:
    """Between apothems of 25 cos(pi / n) and 3 less; the middle is n sides of 2 (apothem - 1.5) tan(pi / n)."""
    apothem, turn = 25 * math.cos(math.pi / corners), math.pi / corners
    tool = ring_of(regular(corners, 25), regular(corners, 25 - 3 / math.cos(turn)))
    (found,) = inside(cut(block(), [tool]))
    assert (found.class_, found.ends) == ("slot", "loop")
    length = 2 * corners * (apothem - 1.5) * math.tan(turn)
    assert (found.width, found.length) == pytest.approx((3, length), abs=1e-4)


def test_a_groove_with_an_inner_corner_and_one_round_an_obround() -> None:
    outline = [(20.0, 10.0), (80.0, 10.0), (80.0, 30.0), (50.0, 30.0), (50.0, 50.0), (20.0, 50.0)]
    core = [(23.0, 13.0), (77.0, 13.0), (77.0, 27.0), (47.0, 27.0), (47.0, 47.0), (23.0, 47.0)]
    (found,) = inside(cut(block(), [ring_of(outline, core)]))
    assert (found.class_, found.width, found.length) == ("slot", pytest.approx(3), pytest.approx((200 + 176) / 2))
    tool = cut(obround(30, 70, 30, 18, 21, 30), [obround(30, 70, 30, 17, 22, 24)])
    (found,) = inside(cut(block(), [tool]))
    assert (found.ends, found.course_of_travel, found.bosses) == ("loop", "general", ())
    assert (found.width, found.length) == pytest.approx((3, 80 + 27 * math.pi), abs=1e-4)


def tube(radius: float, corner: float, z: float) -> Body:
    """A round bar bent to a rectangle of 60 x 40, its middle with corners of one radius, at a height."""
    (x0, y0), (x1, y1) = LOW, HIGH
    sides = [cylinder((x0 + corner, y, z), (x1 - corner, y, z), 2 * radius) for y in (y0, y1)]
    sides += [cylinder((x, y0 + corner, z), (x, y1 - corner, z), 2 * radius) for x in (x0, x1)]
    for x, y, way in ((x1, y1, (1, 0)), (x0, y1, (0, 1)), (x0, y0, (-1, 0)), (x1, y0, (0, -1))):
        middle = gp_Pnt(x + corner * (1 if x == x0 else -1), y + corner * (1 if y == y0 else -1), z)
        axis = gp_Ax2(middle, gp_Dir(0, 0, 1), gp_Dir(*way, 0))
        sides.append(Body(BRepPrimAPI_MakeTorus(axis, corner, radius, math.pi / 2).Shape()))
    return fuse(sides)


@pytest.mark.parametrize("up", [0.0, 0.8])
def test_a_round_bottom_that_closes_on_itself(up: float) -> None:
    """A tube of radius 2, its middle so far over the face: sunk 2 - up; the mouth is a chord."""
    (found,) = inside(cut(block(), [tube(2, 5, 20 + up)]))
    assert (found.class_, found.ends, found.bottom) == ("slot", "loop", "radiused")
    assert (found.width, found.depth) == pytest.approx((2 * math.sqrt(4 - up * up), 2 - up), abs=1e-4)
    assert found.length == pytest.approx(200 - (8 - 2 * math.pi) * 5, abs=1e-3)


@pytest.mark.parametrize(
    "tool",
    [
        frame(3, 2, 6, 0.0),  # no cutter 3 wide gets round a sharp core inside a corner of 6
        frame(12, 2),  # round 36 x 16: less than twice as wide
        cut(box((*LOW, 18), (*HIGH, 21)), [box((24, 13, 17), (77, 47, 22))]),  # 4 wide on one side
        fuse([frame(3, 2, 6, 3), box((23, 13, 19), (77, 47, 21))]),  # the core is lower than the mouth
    ],
)
def test_other_pockets_keep_their_island(tool: Body) -> None:
    found = [f for f in inside(cut(block(), [tool])) if f.class_ != "boss"]
    assert [f.class_ for f in found] == ["closed_pocket"] and len(found[0].bosses) == 1


def test_what_meets_a_groove_leaves_it_whole() -> None:
    """A shallower slot from outside, holes in the floor, and a pocket within."""
    tools = [frame(5, 4, 8, 3), box((45, -1, 18), (49, 30, 21)), box((35, 25, 10), (65, 40, 21))]
    body = cut(block(), [*tools, *(drill(x, 47.5, -1, 21, 3) for x in (30, 50, 70))])
    (found,) = [f for f in inside(body) if f.ends == "loop"]
    assert (found.width, found.depth) == pytest.approx((5, 4))
    assert {f.class_ for f in inside(body)} == {"slot", "closed_pocket", "round_hole"}
    same_when_rewritten(body, 1)


CUTS = {
    "counterbore at a corner": [drill(77, 47, 14, 21, 10)],
    "bore inside a corner": [drill(76, 46, 14, 21, 6)],
    "hole through a corner": [drill(78, 48, -1, 21, 8)],
    "step over a corner": [box((72, 42, -1), (101, 61, 21))],
    "pocket over a corner": [box((72, 42, 12), (90, 55, 21))],
    "slot from outside": [box((48, -1, 10), (53, 20, 21))],
    "slot right across": [box((48, -1, 10), (53, 61, 21))],
    "hole in a side": [drill(50, 11.5, -1, 21, 6)],
    "window in a side": [box((40, 5, -1), (55, 18, 21))],
}


@pytest.mark.parametrize("tools", CUTS.values(), ids=CUTS)
def test_what_cuts_through_a_groove_leaves_it_whole(tools: list[Body]) -> None:
    """Width and length of the whole: 2 (60 + 40 - 6) less (8 - 2 pi) times the middle's radius of 4.5."""
    groove = frame(3, 2, 6, 3)
    (alone,) = inside(cut(block(), [groove]))
    body = cut(block(), [groove, *tools])
    (found,) = [f for f in inside(body) if f.ends == "loop"]
    assert (found.id, found.open_sides, found.course_of_travel) == (alone.id, 0, "general")
    length = 188 - (8 - 2 * math.pi) * 4.5
    assert (found.width, found.depth, found.length) == pytest.approx((3, 2, length), abs=1e-4)
    assert "boss" not in {f.class_ for f in inside(body)}


def test_a_groove_cut_at_a_corner_is_the_same_however_it_is_written() -> None:
    same_when_rewritten(cut(block(), [frame(3, 2, 6, 3), *CUTS["pocket over a corner"]]), 2)


def test_a_channel_round_three_sides_is_no_loop() -> None:
    channel = cut(frame(3, 2), [box((15, 40, 0), (85, 60, 30))])
    found = inside(cut(block(), [channel, box((15, 40, 10), (85, 55, 21))]))
    assert "loop" not in {f.ends for f in found}


@pytest.mark.parametrize(("size", "codes"), [(3.0, set()), (4.0, {"fit.too-narrow", "left.stock"})])
def test_a_cutter_is_held_against_the_width(size: float, codes: set[str]) -> None:
    """Both computations of the stock follow the groove all round."""
    ring = cut(pocket((10, 8, 17), (50, 32, 21), 4.5), [pocket((13, 11, 16), (47, 29, 22), 1.5)])
    tool = {"id": "E", "type": "endmill", "DC": size, "APMX": 8, "LU": 10, "DMM": 6, "stickout": 25}
    step = {"id": "10", "operation": "bottom_and_side_finish_milling", "tool": "E", "features": [{"class": "slot"}]}
    plan = one_setup([step], tool)
    report = check_plan(as_step(cut(solid_block(), [ring])), json.dumps(plan).encode(), {}).report
    assert {f.code for f in report.findings if f.level == "error"} == codes
