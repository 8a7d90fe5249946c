"""What stands over a feature: cases worked by hand on a block with a top face, a hole and side walls."""

import pytest

from schemas.base import Frame
from schemas.feature import Feature
from schemas.tool import Tool
from tests.support.hand_stage import Sweep, stage_of
from worker.kernel import boolean, measure
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import faces
from worker.part import Part
from worker.reach import reach_of
from worker.stage.model import HoldingBody, Plunge

TOOL = Tool(id="T1", type="endmill", DC=10.0, APMX=20.0, stickout=30.0)
BODY = boolean.cut(box((0, 0, 0), (60, 40, 20)), [cylinder((15, 20, -1), (15, 20, 21), 8.0)])


def _faces_where(test):
    return tuple(i for i, f in enumerate(faces(BODY)) if test(measure.face_point_inside(f)))


TOP = Feature(
    id="planar_face-1",
    class_="planar_face",
    faces=_faces_where(lambda p: abs(p[2] - 20) < 1e-6),
    placement=Frame(location=(30.0, 20.0, 20.0)),
    access=((0.0, 0.0, 1.0),),
)
HOLE = Feature(
    id="round_hole-1",
    class_="round_hole",
    faces=_faces_where(lambda p: 0.01 < p[2] < 19.99 and abs((p[0] - 15) ** 2 + (p[1] - 20) ** 2 - 16) < 1e-6),
    placement=Frame(location=(15.0, 20.0, 20.0)),
    diameter=8.0,
    bottom="through",
)
SIDES = Feature(
    id="profile_feature-1",
    class_="profile_feature",
    faces=_faces_where(lambda p: min(p[0], p[1], 60 - p[0], 40 - p[1]) < 1e-6),
    placement=Frame(location=(30.0, 20.0, 20.0)),
)


def _covers(feature, held, stated=None):
    part = Part(BODY, (TOP, HOLE, SIDES), 7, measure.bounding_box(BODY), measure.volume(BODY), "0" * 64)
    stock = box((-2, -2, 0), (62, 42, 22))
    stage = stage_of(
        stock, [Sweep(TOOL, box((-20, -20, 20), (80, 60, 40)), 20.0, features=(feature,), stated=stated)], held
    )
    return reach_of(stage, part)["10"].covered


def _body(low, high):
    return [HoldingBody("clamp-1", "clamp", box(low, high))]


@pytest.mark.parametrize(
    ("feature", "low", "high", "stands_over"),
    [
        (TOP, (50, 10, 22), (70, 20, 30), True),
        (TOP, (60, 10, -10), (80, 20, 30), False),  # touches the part's side, over nothing of it
        (TOP, (59.9, 10, 22), (80, 20, 30), True),
        (TOP, (10, 10, -10), (20, 20, 0), False),  # under the part
        (TOP, (60, 10, -10), (80, 20, 15), False),
        (HOLE, (10, 10, 22), (13, 30, 30), True),
        (HOLE, (0, 10, 22), (10.9, 30, 30), False),  # beside the hole: its edge is at x = 11
        (SIDES, (60, 10, 5), (80, 20, 12), True),  # a jaw beside a wall that is to be milled
        (SIDES, (60.5, 10, 5), (80, 20, 12), False),
        (SIDES, (60, 10, -20), (80, 20, 0), False),
        (SIDES, (40, 10, 20), (60, 20, 30), False),  # on the part, flush with its wall
    ],
)
def test_bodies_over_and_beside(feature, low, high, stands_over):
    found = _covers(feature, _body(low, high))
    assert bool(found) == stands_over
    if found:
        assert found[0].feature == feature.id and found[0].body == "clamp-1"


@pytest.mark.parametrize(
    ("operation", "skin", "drilled", "closed"),
    [
        ("tapping", 2.0, 0.0, True),
        ("reaming", 2.0, 0.0, True),
        ("boring", 2.0, 0.0, True),
        ("tapping", 0.0, 0.0, False),
        ("tapping", 2.0, 5.0, False),  # a pilot goes through the skin
        ("drilling", 2.0, 0.0, False),  # a drill goes through it itself
    ],
)
def test_stock_over_a_hole_that_a_tool_is_to_follow(operation, skin, drilled, closed):
    """The hole is there from below; stock of ``skin`` mm stands over its mouth."""
    kinds = {"tapping": "tapping_cutting_tool", "reaming": "reaming_cutting_tool", "drilling": "twist_drill"}
    kind = kinds.get(operation, "rotating_boring_cutting_tool")
    tool = Tool(id="T1", type=kind, DC=8.0, LU=30.0, stickout=40.0, thread="M8" if operation == "tapping" else None)
    stock = boolean.cut(box((0, 0, 0), (60, 40, 20 + skin)), [cylinder((15, 20, -1), (15, 20, 20), 8.0)])
    if drilled:
        stock = boolean.cut(stock, [cylinder((15, 20, -1), (15, 20, 30), drilled)])
    plunge = Plunge("round_hole-1", (15.0, 20.0, 20.0), 8.0, 20.0, 1.0, 1.0)
    sweep = Sweep(tool, cylinder((15, 20, 1), (15, 20, 30), 8.0), 1.0, (plunge,), (HOLE,), operation)
    part = Part(BODY, (HOLE,), 7, measure.bounding_box(BODY), measure.volume(BODY), "0" * 64)
    covers = reach_of(stage_of(stock, [sweep]), part)["10"].covered
    assert [(c.feature, c.body) for c in covers] == ([("round_hole-1", "stock")] if closed else [])


@pytest.mark.parametrize(("stated", "stands_over"), [(None, True), (11.5, True), (12.0, False), (15.0, False)])
def test_a_jaw_below_the_stated_tip_stands_over_nothing_that_the_step_cuts(stated, stands_over):
    """The rest of an outline that an earlier setup cut further down; the jaw's top is at 12."""
    assert bool(_covers(SIDES, _body((60, 10, 5), (80, 20, 12)), stated)) == stands_over


def test_adding_a_body_never_removes_a_cover():
    one = _body((50, 10, 22), (70, 20, 30))
    two = [*one, HoldingBody("jaw", "jaw_fixed", box((-20, 0, -20), (0, 40, 5)))]
    assert {c.feature for c in _covers(TOP, one)} <= {c.feature for c in _covers(TOP, two)}
