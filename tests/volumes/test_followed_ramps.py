"""A ball follows a floor that slopes and leaves what it cannot reach at its walls: solid and field by closed forms.

Between a plane and an upright wall along its slope, which stand square to each other, a ball of radius r leaves
``(1 - pi / 4) r2`` of each length along the slope. Across the slope the wall stands at 90 degrees less or more the
slope to the floor: ``r2 (cot(a / 2) - (pi - a) / 2)`` a length (two tangents less the sector between them). A
fillet as large as the ball is the very round that it leaves: nothing stays.
"""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse, polygon, prism, volume
from tests.support.agreed import agreed
from tests.support.block import judged
from tests.support.filleted import filleted_at
from tests.support.trial import Json, plan, raw_box, removals, setup, step, step_bytes, tool

X, Y, Z, WALL, LOW, R = 24.0, 16.0, 16.0, 9.0, 4.0, 2.0
RAW = raw_box((0, 0, 0), (X, Y, Z))
STEP, SLOT, FOLLOW = {"class": "step"}, {"class": "slot"}, "freeform_operation"
BALL = tool("ballnose_endmill", 2 * R)
SECTION = (1 - math.pi / 4) * R * R


def above(y0: float, y1: float, degrees: float, end: float = X + 1) -> Shape:
    """All over a plane that rises along X from ``LOW``."""
    t = math.tan(math.radians(degrees))
    outline = [(-1, y0, LOW - t), (end, y0, LOW + end * t), (end, y0, Z + 30), (-1, y0, Z + 30)]
    return prism(polygon(outline), (0, y1 - y0, 0))


def ramp(degrees: float = 15.0, end: float = X + 1) -> Shape:
    """One that runs up beside a wall, to an end wall where it ends before the block does."""
    return cut(box((0, 0, 0), (X, Y, Z)), above(-1, WALL, degrees, end))


def filleted(radius: float) -> Shape:
    t = math.tan(math.radians(15))
    return filleted_at(ramp(), radius, lambda x, y, z: abs(y - WALL) < 1e-6 and abs(z - LOW - t * x) < 1e-6)


def left(part: Shape, feature: Json, cutter: Json = BALL, **keys: object) -> float:
    """What both computations say that a ball leaves of the blank over the part, over all of the slope; passes where it
    follows nothing lie as far apart as it is wide."""
    work = step(FOLLOW, cutter, feature, technology={"axial_cutting_depth": 4.0})
    stage = agreed(part, plan(RAW, setup([work], **keys)))
    assert stage.failures == () and stage.cuts[0].gouge is None
    return volume(box((0, 0, 0), (X, Y, Z))) - volume(part) - removals(stage)[0]


@pytest.mark.parametrize("degrees", [5.0, 15.0, 20.0])
def test_beside_a_wall(degrees: float) -> None:
    assert left(ramp(degrees), STEP) == pytest.approx(SECTION * X / math.cos(math.radians(degrees)), rel=1e-6)


def test_the_finer_the_ball_the_less_it_leaves() -> None:
    found = [left(ramp(), STEP, tool("ballnose_endmill", d)) / d**2 for d in (6.0, 3.0, 1.5)]
    assert found == pytest.approx([found[0]] * 3, rel=1e-6)


def test_between_two_walls() -> None:
    part = cut(box((0, 0, 0), (X, Y, Z)), above(3, 13, 15.0))
    assert left(part, SLOT) == pytest.approx(2 * SECTION * X / math.cos(math.radians(15)), rel=1e-6)


def test_up_to_an_end_wall() -> None:
    """The floor meets it at 90 degrees and the slope: what stays across is told per length between the walls; where
    three meet a ball takes the corner of a cube with its own radius, leaned by the slope: within r3."""
    degrees, end = 15.0, 18.0
    a = math.radians(90 + degrees)
    across = R * R * (1 / math.tan(a / 2) - (math.pi - a) / 2)
    high = Z - LOW - end * math.tan(math.radians(degrees))
    rims = SECTION * end / math.cos(math.radians(degrees)) + across * WALL + SECTION * high
    assert left(ramp(degrees, end), STEP) == pytest.approx(rims, abs=R**3)


@pytest.mark.parametrize("radius", [R, 2.5])
def test_a_fillet_no_tighter_than_the_ball_leaves_nothing(radius: float) -> None:
    assert left(filleted(radius), STEP) == pytest.approx(0.0, abs=1e-5)


def test_a_ball_larger_than_the_fillet_leaves_more_than_its_round_less_the_fillets() -> None:
    ball = tool("ballnose_endmill", 2.4 * R)
    assert left(filleted(R), STEP, ball) > SECTION * (1.44 - 1) * X


def test_what_is_no_ball_leaves_steps() -> None:
    assert left(ramp(), STEP, tool("endmill", 2 * R)) > SECTION * X * 2


def test_round_a_post() -> None:
    """On a level floor the round of the ball goes round it as a ring, its section's middle (10 - 3 pi) r / (12 - 3 pi)
    off the post (Pappus). The slope makes its way longer by less than 1 / cos, and the angle to the floor turns to
    both sides by as much. Its level top is another step's."""
    part, post = fuse(ramp(8.0), cylinder((12, 3, 0), (12, 3, Z - 1), 2.4)), 1.2
    ring = SECTION * math.tau * (post + R * (10 - 3 * math.pi) / (12 - 3 * math.pi))
    alone, over = SECTION * X / math.cos(math.radians(8)), math.pi * post**2 * 1.0
    assert left(part, STEP) - alone - over == pytest.approx(ring, rel=0.05)


def test_seen_in_a_setup_that_is_turned() -> None:
    turned = {"ref_direction": [math.cos(0.5), math.sin(0.5), 0]}
    assert left(ramp(), STEP, **turned) == pytest.approx(SECTION * X / math.cos(math.radians(15)), rel=1e-6)


def test_no_square_cutter_of_the_same_setup_is_advised_for_the_corner() -> None:
    """It would leave steps on the slope: the corner is cut square to the floor, or stays a fillet."""
    flat = {**tool("endmill", 12), "id": "E"}
    document = plan(RAW, setup([step(FOLLOW, BALL, STEP)]))
    document["tools"].append(flat)
    told = {f.code: f.remedy for f in judged(document, step_bytes(ramp()))[0] if f.code.startswith(("fit", "left"))}
    assert set(told) == {"fit.floor-radius", "left.stock"}
    assert all(r is not None and r.pointer == "/setups" and "square to the floor" in r.text for r in told.values())
    assert "ball leaves its own round" in told["left.stock"].text
