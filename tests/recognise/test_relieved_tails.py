"""Dovetails whose inner corners reliefs take away: floor and flanks are one all the same. Sizes in mm."""

from __future__ import annotations

import math

import pytest

from examples import shapes
from schemas.feature import Feature
from tests.recognise.parts import block, prism
from tests.recognise.test_channels import X_WAYS, dovetail, recesses
from tests.support.rewritten import same_when_rewritten
from tests.support.trial import plan, removals, setup, stages_of, step, tool
from tests.support.undercut import FINISH, RAW, SLOT, dovetail_mill
from tests.support.undercut import dovetail as sound_dovetail
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

TAIL = dovetail(X_WAYS, 40, -1, 101)
"""16 wide at its mouth, 36 at its floor 25 above the block's, flanks of 10 across and 15 up."""
SQUARE = [box((-1, 10, 23), (101, 13.5, 27)), box((-1, 46.5, 23), (101, 50, 27))]
"""Reliefs 2 below the floor and 2 above it, 3.5 wide, under the flanks."""
RELIEFS = [box((-1, y, 18), (101, y + 3, 21)) for y in (16, 41)]
"""At the foot of a rail on a plate of 20, into both by 2 and 1."""
DRILLED = [cylinder((-1, y, 25), (101, y, 25), 3) for y in (12, 48)]


def slots(body: Body) -> list[Feature]:
    return [f for f in recesses(body) if f.class_ == "slot"]


@pytest.mark.parametrize("reliefs", [[], SQUARE, DRILLED])
def test_a_dovetail_with_relieved_corners_is_one_undercut_slot(reliefs: list[Body]) -> None:
    """As wide as where its floor and flanks would meet."""
    (found,) = slots(cut(block(z=40), [TAIL, *reliefs]))
    assert found.undercut is not None and found.undercut.startswith("dovetail")
    assert (found.length, found.width, found.depth) == pytest.approx((100, 36, 15))
    assert (found.access, found.ends, found.open_sides) == ((), "open open", 2)


def test_it_is_the_same_when_rewritten() -> None:
    same_when_rewritten(cut(block(z=40), [TAIL, *SQUARE]), 5)


@pytest.mark.parametrize("reliefs", [[], RELIEFS])
def test_the_relieved_foot_of_a_dovetail_that_stands_out_is_seen_from_its_side(reliefs: list[Body]) -> None:
    """A rail 24 wide at its foot, 36 at its top and 10 high: a slot on each side of it, from its end too."""
    rail = fuse([block(), prism([(18, 20), (42, 20), (48, 30), (12, 30)], 0, 100)])
    found = slots(cut(rail, reliefs))
    assert sorted((f.open_sides, round(f.width or 0, 4), round(f.length or 0, 4)) for f in found) == [(2, 10, 100)] * 2
    assert [d for f in found for d in f.access if abs(d[0]) < 0.5] in ([(0, -1, 0), (0, 1, 0)], [(0, 1, 0), (0, -1, 0)])


def test_a_roof_that_looks_straight_down_beyond_a_relief_is_no_flank() -> None:
    """A channel with lips: 50 wide and 20 high below a mouth of 36, the relief beside its floor."""
    channel = [box((-1, 5, 5), (101, 55, 25)), box((-1, 12, 24), (101, 48, 41)), box((-1, 5, 3), (101, 8, 5))]
    undercut = [f for f in slots(cut(block(z=40), channel)) if f.undercut]
    assert not any((f.undercut or "").startswith("dovetail") for f in undercut)


def test_a_cutter_takes_nothing_of_a_relief_beyond_its_own_flank() -> None:
    """Mouth 12, 10 deep, 60 degrees: beside the mouth two triangles of 10 by 10 / tan 60; what is left in the reliefs
    is another cutter's."""
    reliefs = [shapes.box((-41, y, -11.5), (41, y + 2, -9)) for y in (-13, 11)]
    steps = [step(FINISH, tool("endmill", 12), SLOT), step(FINISH, dovetail_mill(), SLOT)]
    (stage,) = stages_of(shapes.cut(sound_dovetail(), *reliefs), plan(RAW, setup(steps)))
    assert removals(stage) == pytest.approx([12 * 10 * 80, 10 * 10 / math.tan(math.radians(60)) * 80], abs=1)
