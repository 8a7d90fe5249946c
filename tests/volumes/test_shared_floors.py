"""Recesses of one depth that cross: each step takes its own feature's volume, to closed forms, and no more.

A slot of length l, width w and depth d is l w d; what crosses it is taken by the step that comes first. The part is
100 x 80 x 30; the blank is the part's box unless it says otherwise.
"""

from __future__ import annotations

import copy
import math

import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse, polygon, prism
from tests.support.agreed import agreed
from tests.support.block import told
from tests.support.trial import Json, inputs, plan, raw_box, removals, setup, step, step_bytes, tool
from worker.field import second_opinion
from worker.locate import on_feature_of
from worker.part import RECESSES
from worker.pipeline import cut_all
from worker.resolve import resolve

BLANK = raw_box((-50, -40, -30), (50, 40, 0))
LARGER = raw_box((-52, -43, -30), (54, 45, 3))
FINISH = "bottom_and_side_finish_milling"
CORNERS = ((-1, -1), (1, -1), (1, 1), (-1, 1))
ALONG, ACROSS = box((-60, -6, -10), (60, 6, 1)), box((-6, -60, -10), (6, 60, 1))
SLANT = prism(polygon([(-67, -80, -10), (-53, -80, -10), (67, 80, -10), (53, 80, -10)]), (0, 0, 20))
"""14 mm wide along X, all across at a slope of 4 in 3: 11.2 mm between its walls,
and so much longer than its middle line by 3 / 4 of that."""
POCKET = box((-20, -15, -10), (20, 15, 1))
LOW_ALONG, LOW_ACROSS = box((-60, -12, -20), (60, 12, -12)), box((-12, -60, -20), (12, 60, -12))
MOUTH_ALONG, MOUTH_ACROSS = box((-60, -6, -14), (60, 6, 1)), box((-6, -60, -14), (6, 60, 1))
LEDGE = box((-60, 10, -10), (60, 50, 1))
HEAD = [cylinder((20, 1, -10), (20, 1, 1), 20), cylinder((20, 1, -31), (20, 1, 1), 8)]
HEAD_IN_WALL = [cylinder((0, 13, -10), (0, 13, 1), 20), cylinder((0, 13, -31), (0, 13, 1), 8)]
EDGE_HOLE = cylinder((0, 8, -10), (0, 8, 1), 20)
WAY = (math.cos(math.radians(10)), math.sin(math.radians(10)))
MIDDLE = [(27 * a * WAY[0] - 8 * b * WAY[1], 27 * a * WAY[1] + 8 * b * WAY[0], -10) for a, b in CORNERS]
ROUND_ENDS = [
    cylinder((a * 27 * WAY[0], a * 27 * WAY[1], -10), (a * 27 * WAY[0], a * 27 * WAY[1], 1), 16) for a in (-1, 1)
]
OBROUND = fuse(prism(polygon(MIDDLE), (0, 0, 11)), *ROUND_ENDS)
"""70 x 16, turned by 10 degrees."""
ARMS = [box((-60, -50, -10), (0, 50, 1)), box((-60, -50, -10), (60, 0, 1))]
TEE = [box((-60, -10, -10), (60, 10, 1)), box((-12, 0, -10), (12, 50, 1))]
SLOPING = prism(polygon([(-60, -10, -10), (60, 20, -10), (60, 60, -10), (-60, 60, -10)]), (0, 0, 11))
"""Before a wall that climbs 1 in 4."""
ROUNDED = [
    box((-20, -9, -10), (20, 9, 1)),
    box((-14, -15, -10), (14, 15, 1)),
    *(cylinder((x, y, -10), (x, y, 1), 12) for x in (-14, 14) for y in (-9, 9)),
]
AROUND = cut(box((-30, -30, -10), (30, 30, 1)), cylinder((0, 0, -11), (0, 0, 2), 30))
RING = cut(cylinder((0, 0, -10), (0, 0, 1), 60), cylinder((0, 0, -11), (0, 0, 2), 36))
BENT = [
    cut(RING, box((-40, -40, -11), (40, 0, 2))),
    *(cylinder((x, 0, -10), (x, 0, 1), 12) for x in (-24, 24)),
]
"""Half a ring 12 wide about a radius of 24, with round ends."""
END_MILL = tool("endmill", 11)
T_MILL = tool("t_slot_mill", 24, APMX=8, DN=11, LU=60, DMM=11)
CROSSED = 6 * (math.sqrt(30**2 - 6**2) - math.sqrt(18**2 - 6**2)) + 30**2 * math.asin(0.2) - 18**2 * math.asin(1 / 3)
"""What a strip 12 wide through its middle has of the ring on one side (mm2)."""
Work = tuple[float | None, Json]
"""Length of the feature and the tool that cuts it."""


def head(x: float, y: float, diameter: float) -> list[Shape]:
    """A counterbore whose head is as deep as the recesses."""
    return [cylinder((x, y, z), (x, y, 1), size) for z, size in ((-10, diameter), (-31, 5))]


def part(*tools: Shape) -> Shape:
    return cut(box((-50, -40, -30), (50, 40, 0)), *tools)


def document(shape: Shape, blank: Json, works: list[Work]) -> Json:
    """A step each; the feature is named by its id, for a point of the shared floor is in all of them."""
    anything = plan(blank, setup([step(FINISH, END_MILL, {"class": "profile_feature"})]))
    found = [f for f in inputs(shape, anything).part.features if f.class_ in RECESSES]
    ids = [next(f.id for f in found if f.length == (length and pytest.approx(length, abs=1e-3))) for length, _ in works]
    return plan(blank, setup([step(FINISH, cutter, id) for id, (_, cutter) in zip(ids, works, strict=True)]))


CASES: dict[str, tuple[list[Shape], Json, list[Work], list[float]]] = {
    "a slot across another": ([ALONG, ACROSS], BLANK, [(100, END_MILL)], [100 * 12 * 10]),
    "both": ([ALONG, ACROSS], LARGER, [(100, END_MILL), (80, END_MILL)], [106 * 12 * 13, (88 - 12) * 12 * 13]),
    "aslant": ([ALONG, SLANT], LARGER, [(80 / 0.8 + 11.2 * 0.75, END_MILL)], [14 * 88 * 13]),
    "a pocket that a slot crosses": (
        [ALONG, POCKET],
        BLANK,
        [(40, END_MILL), (100, END_MILL)],
        [(40 * 30 - (4 - math.pi) * 5.5**2) * 10, 60 * 12 * 10],
    ),
    "T-slots": (
        [LOW_ALONG, LOW_ACROSS, MOUTH_ALONG, MOUTH_ACROSS],
        BLANK,
        [(100, T_MILL), (80, T_MILL)],
        [100 * 24 * 8, (80 - 24) * 24 * 8],
    ),
    "a slot through a counterbore's head": ([ALONG, *HEAD], LARGER, [(100, END_MILL)], [106 * 12 * 13]),
    "a slot through a flat hole": ([ALONG, HEAD[0]], BLANK, [(100, END_MILL)], [100 * 12 * 10]),
    "an obround pocket that a slot crosses at 10 degrees": (
        [ALONG, OBROUND],
        BLANK,
        [(70, END_MILL)],
        [(54 * 16 + math.pi * 8**2) * 10],
    ),
    "a slot past a hole's axis": ([ALONG, cylinder((20, 8, -10), (20, 8, 1), 16)], BLANK, [(100, END_MILL)], [12000]),
    "a slot past a hole whose axis is behind its wall": (  # the metal ends in sharp edges beside the hole's mouth
        [ALONG, cylinder((20, 8.5, -10), (20, 8.5, 1), 8)],
        LARGER,
        [(100, END_MILL)],
        [106 * 12 * 13],
    ),
    "a step through a hole in its edge": ([LEDGE, EDGE_HOLE], LARGER, [(100, END_MILL)], [106 * 35 * 13]),
    "a step in a corner that a hole relieves": (
        [box((0, 10, -10), (60, 50, 1)), cylinder((1, 11, -10), (1, 11, 1), 14)],
        BLANK,
        [(50, END_MILL)],
        [(50 * 30 - (1 - math.pi / 4) * 5.5**2) * 10],
    ),
    "a pocket through a counterbore's head": (
        [POCKET, *HEAD_IN_WALL],
        BLANK,
        [(40, END_MILL)],
        [(40 * 30 - (4 - math.pi) * 5.5**2) * 10],
    ),
    "a kidney slot that a slot crosses": (
        [*BENT, ACROSS],
        BLANK,
        [(24 * math.pi + 12, END_MILL)],
        [(24 * math.pi * 12 + math.pi * 6**2) * 10],
    ),
    "a ring that a slot crosses": (
        [RING, ALONG],
        BLANK,
        [(None, END_MILL)],
        [48 * math.pi * 12 * 10],
    ),
    "an L-shaped step past a flat hole": (
        [*ARMS, cylinder((1, 20, -10), (1, 20, 1), 12)],
        BLANK,
        [(100, END_MILL)],
        [(100 * 40 + 50 * 40) * 10],
    ),
    "a step past a head in its post's corner": ([*ARMS, *head(5, 5, 16)], BLANK, [(100, END_MILL)], [60000]),
    "a T-shaped pocket past a flat hole": (
        [*TEE, cylinder((14, 25, -10), (14, 25, 1), 10)],
        BLANK,
        [(100, END_MILL)],
        [(100 * 20 + 24 * 30) * 10],
    ),
    "a step past a head at its end": ([LEDGE, *head(46, 8, 12)], LARGER, [(100, END_MILL)], [106 * 35 * 13]),
    "a sloping step past a head at its end": (
        [SLOPING, *head(46, 15, 14)],
        LARGER,
        [(100 * math.hypot(1, 0.25) + 22.5 / math.hypot(1, 4), END_MILL)],
        [(106 * 45 - 106 * 5 - 0.25 * (54**2 - 52**2) / 2) * 13],
    ),
    "a pocket past two heads at its mouth": (
        [box((-20, -15, -10), (60, 15, 1)), *head(46, 16, 12), *head(46, -16, 12)],
        LARGER,
        [(70, END_MILL)],
        [(74 * 30 - (2 - math.pi / 2) * 5.5**2) * 13],
    ),
    "a pocket past a head where its corner begins": (
        [*ROUNDED, *head(15, 15, 12)],
        BLANK,
        [(40, END_MILL)],
        [(40 * 30 - (4 - math.pi) * 6**2) * 10],
    ),
    "a pocket past a head in its boss": (
        [AROUND, *head(13, 0, 10)],
        BLANK,
        [(60, END_MILL)],
        [(60**2 - math.pi * 15**2 - (4 - math.pi) * 5.5**2) * 10],
    ),
    "a slot on a T-slot's floor": (
        [LOW_ALONG, MOUTH_ALONG, box((-6, -60, -20), (6, 60, 1))],
        BLANK,
        [(80, END_MILL), (100, T_MILL)],
        [80 * 12 * 20, (100 - 12) * 24 * 8],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_each_step_takes_its_own(name: str) -> None:
    tools, blank, works, wanted = CASES[name]
    shape = part(*tools)
    found = inputs(shape, document(shape, blank, works))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (stage,) = stages = cut_all(found, resolved, lambda _: None)
    assert removals(stage) == pytest.approx(wanted, rel=1e-6)
    (opinion,) = second_opinion(found.plan, found.part, stages)
    assert opinion.agrees and not opinion.borrowed


def test_a_kidney_slot_that_a_slot_ends_is_cut_whole_by_both() -> None:
    """Half a ring 12 wide with open ends at a slot as wide: what of it lies off the slot, and the slot."""
    shape = part(cut(RING, box((-40, -40, -11), (40, 0, 2))), ALONG)
    anything = plan(BLANK, setup([step(FINISH, END_MILL, {"class": "profile_feature"})]))
    ids = [f.id for f in inputs(shape, anything).part.features if f.class_ == "slot"]
    assert len(ids) == 2
    stage = agreed(shape, plan(BLANK, setup([step(FINISH, END_MILL, id) for id in ids])))
    assert sum(removals(stage)) == pytest.approx((24 * math.pi * 12 - CROSSED + 100 * 12) * 10, rel=1e-6)


def test_the_other_slot_is_told_where_one_alone_is_planned() -> None:
    shape = part(ALONG, ACROSS)
    one = document(shape, BLANK, [(100, END_MILL)])
    both = document(shape, BLANK, [(100, END_MILL), (80, END_MILL)])
    codes = [
        {f.code for f in told(doc, step_bytes(shape))} & {"left.feature", "left.stock", "cut.nothing"}
        for doc in (one, both)
    ]
    assert codes == [{"left.feature", "left.stock"}, set()]


@pytest.mark.parametrize("shapes", [[ALONG, HEAD[0]], [LEDGE, EDGE_HOLE]], ids=["slot", "step"])
def test_what_a_cutter_leaves_of_a_hole_as_deep_is_told(shapes: list[Shape]) -> None:
    """And no other cutter is offered: however small, it stays in its own feature."""
    shape = part(*shapes)
    one = document(shape, BLANK, [(100, END_MILL)])
    both = copy.deepcopy(one)
    both["setups"][0]["workingsteps"].append(
        {"id": "20", "operation": FINISH, "tool": "T1", "features": [{"class": "round_hole"}]}
    )
    found = [{f.code: f for f in told(doc, step_bytes(shape))} for doc in (one, both)]
    codes = [each.keys() & {"left.feature", "left.stock", "cut.nothing"} for each in found]
    assert codes == [{"left.feature", "left.stock"}, set()]
    remedy = found[0]["left.stock"].remedy
    assert remedy and remedy.pointer == "/setups/0/workingsteps"
