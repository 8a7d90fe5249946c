"""Blocks that stand in a recess flush with a side of the part: bosses, as round ones there are; sizes as built."""

from __future__ import annotations

import pytest

from schemas.base import Vec3
from schemas.feature import Feature
from tests.recognise.parts import block, drill, rounded, upright
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box
from worker.kernel.shape import Body

POCKET = box((20, -1, 12), (80, 40, 21))
STEP = box((-1, -1, 12), (101, 40, 21))
SLOT = box((-1, 10, 12), (101, 50, 21))
ALL = box((-1, -1, 12), (101, 61, 21))
BLOCK: tuple[Vec3, Vec3] = ((40, -2, -1), (60, 15, 22))


def told(tool: Body, *islands: Body) -> list[Feature]:
    """The boss first, and what it stands in, in 100 x 60 x 20 with a recess 8 deep."""
    found = recognise(cut(block(), [cut(tool, list(islands))]))
    mine = [f for f in found if f.class_ not in ("planar_face", "profile_feature") or f.bosses]
    return sorted(mine, key=lambda f: (f.class_ != "boss", f.placement.location))


@pytest.mark.parametrize(
    ("tool", "class_", "sizes", "sides"),
    [
        (POCKET, "open_pocket", (60, 40, 8), 1),
        (STEP, "step", (100, 40, 8), 3),
        (ALL, "planar_face", (100, 60, None), None),
    ],
)
@pytest.mark.parametrize("height", [8.0, 5.0])
def test_what_a_block_at_the_edge_stands_in_is_told_as_without_it(
    tool: Body, class_: str, sizes: tuple[float, float, float | None], sides: int | None, height: float
) -> None:
    boss, found = told(tool, box(BLOCK[0], (60, 15, 12 + height)))
    assert (boss.length, boss.width, boss.height) == pytest.approx((20, 15, height))
    assert (found.class_, found.open_sides, found.bosses) == (class_, sides, (boss.id,))
    assert (found.length, found.width) == pytest.approx(sizes[:2]) and found.depth == sizes[2]


def test_it_stands_in_the_mouth_of_a_slot_at_each_end() -> None:
    left, right, slot = told(SLOT, box((-2, 22, -1), (20, 38, 22)), box((80, 22, -1), (102, 38, 18)))
    assert [(b.length, b.width, b.height) for b in (left, right)] == [pytest.approx((20, 16, h)) for h in (8, 6)]
    assert (slot.class_, slot.ends, slot.width, len(slot.bosses)) == ("slot", "open open", pytest.approx(40), 2)


@pytest.mark.parametrize(
    ("island", "size"),
    [
        (rounded(box(*BLOCK), 3, lambda a, b: upright(a, b) and a[1] > 0), (20, 15)),
        (fuse([box(*BLOCK), drill(50, 15, -1, 22, 20)]), (25, 20)),  # its end all round
        (box((20, -2, -1), (95, 30, 22)), (75, 30)),  # larger than what is left of the step
    ],
)
def test_its_corners_may_be_round_and_it_may_be_large(island: Body, size: tuple[float, float]) -> None:
    body = cut(block(), [cut(STEP, [island])])
    boss, step = told(STEP, island)
    assert (step.class_, boss.length, boss.width) == ("step", *map(pytest.approx, size))
    same_when_rewritten(body, 2)


@pytest.mark.parametrize(
    ("tool", "island"),
    [
        (POCKET, box((45, 20, -1), (55, 41, 22))),  # a rib from the wall
        (STEP, box((-2, -2, -1), (15, 15, 22))),  # at the part's corner: what two slots that meet in a T leave
    ],
)
def test_what_is_no_island_stays_a_wall(tool: Body, island: Body) -> None:
    (found,) = told(tool, island)
    assert (found.class_, found.bosses) == ("open_pocket", ())


def test_the_inner_walls_of_a_bent_slot_are_no_island() -> None:
    """10 wide round a tongue of 40: two legs of 30 and half a circle about 25."""
    outer = fuse([box((20, -1, 12), (80, 30, 21)), drill(50, 30, 12, 21, 60)])
    (slot,) = told(outer, box((30, -2, -1), (70, 30, 22)), drill(50, 30, -1, 22, 40))
    assert (slot.class_, slot.course_of_travel, slot.bosses) == ("slot", "general", ())
    assert (slot.width, slot.length) == pytest.approx((10, 2 * 30 + 25 * 3.14159265))


ACROSS = box((-1, 26, 12), (101, 34, 21))


@pytest.mark.parametrize("across", [ACROSS, box((22, 26, 12), (68, 34, 21))])
def test_what_slots_of_one_width_leave_is_no_island(across: Body) -> None:
    """Of 8, round a block of 30 x 26: as the core of a groove that closes on itself, at least twice as wide."""
    slots = [box((22, -1, 12), (30, 27, 21)), box((60, -1, 12), (68, 27, 21)), across]
    (found,) = (f for f in recognise(cut(block(), slots)) if f.class_ not in ("planar_face", "profile_feature"))
    assert (found.class_, found.bosses, found.depth, found.width) == ("open_pocket", (), 8, pytest.approx(34))


def test_one_that_a_wider_slot_leaves_is() -> None:
    slots = [box((14, -1, 12), (30, 27, 21)), box((60, -1, 12), (76, 27, 21)), box((14, 26, 12), (76, 42, 21))]
    boss, found = told(fuse(slots))
    assert (boss.length, boss.width, found.bosses) == (pytest.approx(30), pytest.approx(26), (boss.id,))
