"""Prisms on each other as one solid, against the sum of areas times heights, and against the kernel's own joining."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from worker.kernel.boolean import common, cut, fuse
from worker.kernel.measure import area, volume
from worker.kernel.planar import Region, grow, rectangle, subtract, union
from worker.kernel.primitives import box
from worker.kernel.shape import WORLD, Body, faces, solids
from worker.kernel.stack import Storey, stacked
from worker.kernel.sweep import prism
from worker.kernel.validity import faults

TILTED = Frame(location=(5.0, -3.0, 2.0), axis=(0.6, 0.0, 0.8), ref_direction=(0.8, 0.0, -0.6))
ROUND = grow(rectangle(0, 0, 40, 20), 5)
"""50 x 30 with corners of radius 5."""
OUTER = rectangle(-30, -30, 70, 60)


def storeys(*regions: Region, height: float = 4.0) -> list[Storey]:
    return [Storey(height * i, height * (i + 1), region) for i, region in enumerate(regions)]


STACKS = {
    "ring that widens round a part": storeys(
        subtract(OUTER, [grow(ROUND, 3)]), subtract(OUTER, [ROUND]), subtract(OUTER, [grow(ROUND, -1)]), OUTER
    ),
    "one wall that goes on up, others step back": storeys(
        rectangle(0, 0, 10, 10), rectangle(0, 0, 10, 15), rectangle(-5, 0, 10, 15), rectangle(-5, 0, 30, 15)
    ),
    "a wall that goes on in part": storeys(
        rectangle(0, 0, 10, 10), rectangle(0, 0, 20, 10), union([rectangle(0, 0, 20, 10), rectangle(5, 5, 8, 30)])
    ),
    "round walls that go on in part": storeys(
        subtract(ROUND, [rectangle(20, -20, 80, 80)]), subtract(ROUND, [rectangle(42, -20, 80, 80)]), ROUND
    ),
    "two pockets that become one": storeys(
        union([rectangle(0, 0, 10, 10), rectangle(20, 0, 30, 10)]),
        union([rectangle(0, 0, 10, 10), rectangle(20, 0, 30, 12)]),
        rectangle(0, 0, 30, 12),
    ),
    "two that stay apart": storeys(*(
        union([rectangle(0, 0, 10, 10 + i), rectangle(20, 0, 30, 10)]) for i in range(3)
    )),
}  # fmt: skip


def whole(stack: list[Storey]) -> float:
    return sum(one.region.area * (one.high - one.low) for one in stack)


@pytest.mark.parametrize("name", STACKS)
@pytest.mark.parametrize("frame", [WORLD, TILTED], ids=["upright", "tilted"])
def test_a_stack_holds_what_its_storeys_hold(name: str, frame: Frame) -> None:
    stack = STACKS[name]
    found = stacked(stack, frame)
    assert found is not None
    assert not faults(found)
    assert volume(found) == pytest.approx(whole(stack), rel=1e-10)
    joined = fuse([prism(one.region, frame, one.low, one.high) for one in stack])
    assert area(found) == pytest.approx(area(joined), rel=1e-9)
    assert len(solids(found)) == len(solids(joined))


def test_walls_that_go_on_are_one_face() -> None:
    """By hand: a square tower whose one side steps out twice has 4 walls below, and each step adds a ledge and 3 walls
    that end at the walls it stands on (the wall across goes on)."""
    found = stacked(storeys(rectangle(0, 0, 10, 10), rectangle(0, 0, 20, 10), rectangle(0, 0, 30, 10)), WORLD)
    assert found is not None
    ends, ledges, across, long_sides, stepping = 2, 2, 1, 6, 3
    assert len(faces(found)) == ends + ledges + across + long_sides + stepping


def test_a_block_is_cut_by_a_stack_as_by_its_prisms() -> None:
    stack = STACKS["ring that widens round a part"]
    block = box((-10, -10, 1), (60, 40, 15))
    one = stacked(stack, WORLD)
    assert one is not None
    prisms = [prism(s.region, WORLD, s.low, s.high) for s in stack]
    assert volume(cut(block, [one])) == pytest.approx(volume(cut(block, prisms)), rel=1e-9)
    assert volume(common(block, [one])) + volume(cut(block, [one])) == pytest.approx(volume(block), rel=1e-9)


@pytest.mark.parametrize(
    "regions",
    [
        (rectangle(0, 0, 10, 10), rectangle(-1, 1e-6, 10, 12), rectangle(-2, -2, 20, 20)),  # walls a micrometre apart
        (rectangle(0, 0, 10, 10), rectangle(1, 0, 10, 12), rectangle(-2, -2, 20, 20)),  # the second stands on air
        (rectangle(0, 0, 10, 10), rectangle(-1, -1, 12, 12)),  # too few to be worth it
    ],
    ids=["nearly together", "does not nest", "two"],
)
def test_where_it_is_not_plain_nothing_is_made(regions: tuple[Region, ...]) -> None:
    assert stacked(storeys(*regions), WORLD) is None


def test_storeys_of_any_height() -> None:
    stack = [Storey(0, 1e-3, ROUND), Storey(1e-3, 7, grow(ROUND, 0.01)), Storey(7, 7.5, grow(ROUND, math.pi))]
    found: Body | None = stacked(stack, TILTED)
    assert found is not None and not faults(found)
    assert volume(found) == pytest.approx(whole(stack), rel=1e-10)
