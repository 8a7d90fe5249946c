"""A feature is seen by its own part of walls and floors that it has in common with another; sizes are as drawn."""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround, pocket
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
RIGHT, LEFT = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)
BACK, FRONT = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)
HEAD = [drill(50, 30, -1, 21, 9), drill(50, 30, 12, 21, 15)]


def of_class(body: Body, *classes: str) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ in classes]


@pytest.mark.parametrize(
    ("window", "size"),
    [
        (box((40, 20, -1), (70, 32, 21)), (30, 12, 12)),  # flush with one wall, within the slot
        (box((40, 20, -1), (70, 40, 21)), (30, 20, 12)),  # as wide as the slot
        (box((40, 20, -1), (70, 45, 21)), (30, 25, 20)),  # beyond the other wall: through the whole part
        (pocket((40, 20, -1), (70, 45, 21), 5), (30, 25, 20)),
        (box((40, 24, -1), (70, 36, 21)), (30, 12, 12)),  # flush with none
    ],
)
def test_a_slot_whose_wall_goes_on_down_a_window_is_seen_from_its_ends(
    window: Body, size: tuple[float, float, float]
) -> None:
    body = cut(block(), [box((-1, 20, 12), (101, 40, 21)), window])
    (slot,), (hole,) = of_class(body, "slot"), of_class(body, "closed_pocket")
    assert (slot.length, slot.width, slot.depth) == pytest.approx((100, 20, 8))
    assert set(slot.access) == {UP, LEFT, RIGHT}
    assert (hole.length, hole.width, hole.depth) == pytest.approx(size) and set(hole.access) == {UP, DOWN}


def test_what_stands_in_a_slot_beside_such_a_window_hides_it_from_that_end() -> None:
    body = cut(block(), [box((-1, 20, 12), (90, 40, 21)), box((40, 20, -1), (70, 32, 21))])
    assert set(of_class(body, "slot")[0].access) == {UP, LEFT}


def test_slots_on_both_faces_over_a_window_are_seen_from_their_ends() -> None:
    tools = [box((40, 20, -1), (70, 40, 41)), box((-1, 20, 30), (101, 40, 41)), box((40, -1, -1), (70, 61, 8))]
    body = cut(block(z=40), tools)
    upper, lower = sorted(of_class(body, "slot"), key=lambda f: -f.placement.axis[2])
    assert set(upper.access) == {UP, LEFT, RIGHT} and set(lower.access) == {DOWN, FRONT, BACK}
    same_when_rewritten(body, 3)


@pytest.mark.parametrize(
    ("tool", "class_", "size", "access"),
    [
        (box((-1, 26, 12), (101, 34, 21)), "slot", (100, 8, 8), {UP, LEFT, RIGHT}),
        (box((-1, -1, 12), (101, 28, 21)), "step", (100, 28, 8), {UP, LEFT, RIGHT, FRONT}),
    ],
)
def test_a_counterbore_level_with_the_floor_of_what_cuts_it_open_stays_one(
    tool: Body, class_: str, size: tuple[float, float, float], access: set[tuple[float, float, float]]
) -> None:
    body = cut(block(), [*HEAD, tool])
    (other,), (hole,) = of_class(body, class_), of_class(body, "counterbore_hole")
    assert (other.length, other.width, other.depth) == pytest.approx(size)
    assert set(other.access) == access
    assert (hole.diameter, hole.depth, hole.bottom, len(hole.elements)) == (9, 20, "through", 2)
    ids = {f.id for f in recognise(cut(block(), HEAD))}
    assert {hole.id, *hole.elements} <= ids  # the same as beside nothing
    same_when_rewritten(body, 1)


def test_a_blind_hole_level_with_a_step_hides_nothing_of_it() -> None:
    body = cut(block(), [box((-1, -1, 12), (101, 28, 21)), drill(50, 30, 12, 21, 12)])
    (step,), (hole,) = of_class(body, "step"), of_class(body, "round_hole")
    assert set(step.access) == {UP, LEFT, RIGHT, FRONT} and hole.access == (UP,)


def test_a_hole_in_the_round_end_of_a_slot_is_no_counterbore() -> None:
    body = cut(block(), [obround(30, 70, 30, 12, 21, 15), drill(30, 30, -1, 21, 9)])
    assert [f.class_ for f in of_class(body, "counterbore_hole", "round_hole", "slot")] == ["round_hole", "slot"]
