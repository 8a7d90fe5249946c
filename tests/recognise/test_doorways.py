"""Recesses in the wall of a deeper one, level with its floor: both are told as without the other; sizes as drawn.

A machinist mills the deep slot from above, a window from its own side, and a blind one from before the wall: what goes
on over it hides it from above (ISO 14649-10: an own pocket whose mouth lies in that wall).
"""

from __future__ import annotations

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, pocket, rounded, upright
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

SLOT = box((-1, 20, 10), (101, 40, 41))
FILLETED = pocket((-20, 20, 10), (120, 40, 41), 0, 2)
BLIND = box((-1, 20, 10), (80, 40, 41))
STEP = box((-1, 20, 10), (101, 61, 41))


def parted(deep: Body, *others: Body) -> tuple[Feature, list[Feature]]:
    """What is cut from above, and all else, by where its mouth is."""
    found = [
        f for f in recognise(cut(block(z=40), [deep, *others])) if f.class_ not in ("planar_face", "profile_feature")
    ]
    (own,) = (f for f in found if f.placement.axis == (0, 0, 1))
    return own, sorted((f for f in found if f is not own), key=lambda f: f.placement.location)


@pytest.mark.parametrize("deep", [SLOT, FILLETED])
@pytest.mark.parametrize(("far", "class_", "depth"), [(50, "closed_pocket", 10), (61, "closed_pocket", 20)])
def test_a_slot_is_whole_whose_wall_has_a_recess_level_with_its_floor(
    deep: Body, far: float, class_: str, depth: float
) -> None:
    own, (door,) = parted(deep, box((40, 35, 10), (60, far, 20)))
    assert (own.class_, own.ends, len(own.access)) == ("slot", "open open", 3)
    assert (own.length, own.width, own.depth) == pytest.approx((100, 20, 30))
    assert (door.class_, door.open_sides, door.length, door.width, door.depth) == (
        class_, 0, *map(pytest.approx, (20, 10, depth))
    )  # fmt: skip
    through = far > 60
    assert (door.bottom, door.placement.axis) == (("through", (0, 1, 0)) if through else ("planar", (0, -1, 0)))
    assert door.access == (((0, 1, 0),) if through else ()) and (door.undercut is None) == through


def test_they_stay_however_the_part_is_written() -> None:
    same_when_rewritten(cut(block(z=40), [SLOT, box((40, 35, 10), (60, 50, 20)), box((10, 35, 10), (30, 61, 20))]), 3)
    same_when_rewritten(cut(block(z=40), [FILLETED, box((40, -1, 10), (60, 61, 20))]), 4)


def test_a_passage_right_across_is_one() -> None:
    own, (door,) = parted(SLOT, box((40, -1, 10), (60, 61, 20)))
    assert (own.class_, own.width, own.open_sides) == ("slot", pytest.approx(20), 2)
    assert (door.length, door.width, door.depth) == pytest.approx((20, 10, 60)) and len(door.access) == 2


def test_each_of_several_is_told() -> None:
    own, doors = parted(
        SLOT, box((20, 35, 10), (40, 50, 20)), box((60, 35, 10), (75, 55, 26)), box((60, 8, 10), (70, 25, 14))
    )
    assert (own.length, own.width) == pytest.approx((100, 20))
    sizes = sorted((f.length, f.width, f.depth) for f in doors)
    assert sizes == [pytest.approx(s) for s in ((10, 4, 12), (16, 15, 15), (20, 10, 10))]


@pytest.mark.parametrize(
    ("deep", "tool", "own", "door"),
    [
        (BLIND, box((75, 25, 10), (90, 35, 20)), ("slot", 1, (80, 20, 30)), ("closed_pocket", 0, (10, 10, 10))),
        (BLIND, box((75, 25, 10), (101, 35, 20)), ("slot", 1, (80, 20, 30)), ("closed_pocket", 0, (10, 10, 20))),
        (SLOT, box((80, 35, 10), (101, 50, 20)), ("slot", 2, (100, 20, 30)), ("open_pocket", 1, (10, 10, 20))),
        (STEP, box((40, 10, 10), (60, 25, 20)), ("step", 3, (100, 40, 30)), ("closed_pocket", 0, (20, 10, 10))),
        (
            pocket((20, 20, 10), (80, 40, 41), 4), box((40, 35, 10), (60, 50, 20)),
            ("closed_pocket", 0, (60, 20, 30)), ("closed_pocket", 0, (20, 10, 10)),
        ),
        (
            SLOT, rounded(box((40, 35, 10), (60, 50, 20)), 3, upright),
            ("slot", 2, (100, 20, 30)), ("closed_pocket", 0, (20, 10, 10)),
        ),
        (
            SLOT, cut(cylinder((50, 35, 10), (50, 61, 10), 20), [box((0, 0, 0), (100, 100, 10))]),
            ("slot", 2, (100, 20, 30)), ("closed_pocket", 0, (20, 10, 20)),
        ),
    ],
)  # fmt: skip
def test_so_it_is_in_end_walls_beside_ends_in_steps_and_pockets(
    deep: Body, tool: Body, own: tuple[str, int, tuple[float, ...]], door: tuple[str, int, tuple[float, ...]]
) -> None:
    """Round corners, and an arch of 20 mm over the floor, too."""
    first, (second,) = parted(deep, tool)
    for found, (class_, sides, sizes) in ((first, own), (second, door)):
        assert (found.class_, found.open_sides) == (class_, sides)
        assert (found.length, found.width, found.depth) == pytest.approx(sizes)


def test_a_foot_all_along_a_wall_is_no_recess_in_it() -> None:
    """A T-slot of which one half is gone: no wall stands on the floor beside it."""
    found = recognise(cut(block(z=40), [box((-1, 20, 10), (101, 40, 41)), box((-1, 35, 10), (101, 50, 20))]))
    assert len([f for f in found if f.class_ not in ("planar_face", "profile_feature")]) == 1
