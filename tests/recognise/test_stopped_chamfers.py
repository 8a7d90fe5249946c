"""Chamfers that end within their edge, in the cone that the cutter leaves there. Sizes in mm."""

from __future__ import annotations

import math

import pytest

from tests.recognise.parts import block, prism
from tests.support.agreed import agreed
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from tests.support.trial import cut_volume, plan, raw_box, setup, step, tool
from worker.kernel.boolean import cut
from worker.kernel.primitives import cone
from worker.kernel.shape import Body


def stopped(off: float, *ends: float) -> Body:
    """A block whose upper front edge is chamfered by 3 from 20 to 60 along X, by a cutter of 90 degrees whose axis
    stands so far outside the front; where it stops it leaves its cone, and else runs out at the block's end."""
    tip, top = 17 - off, 21.0
    slant = prism([(-1, 16), (-1, 21), (4, 21)], 20, 60 if 60 in ends else 101)
    return cut(block(), [slant, *(cone((x, -off, tip), (x, -off, top), 0, 2 * (top - tip)) for x in ends)])


@pytest.mark.parametrize("off", [0, 2])
@pytest.mark.parametrize("ends", [(20, 60), (20,)])
def test_a_chamfer_is_one_with_the_cones_at_its_ends(off: float, ends: tuple[float, ...]) -> None:
    found = [f for f in recognise(stopped(off, *ends)) if f.class_ not in ("planar_face", "profile_feature")]
    assert [(f.class_, len(f.faces)) for f in found] == [("chamfer", 1 + len(ends))]
    assert (found[0].length, found[0].depth, found[0].angle) == pytest.approx((40 if 60 in ends else 80, 3, 45))
    assert {(0, 0, 1), (0, -1, 0)} <= set(found[0].access)


def test_it_is_the_same_when_rewritten() -> None:
    same_when_rewritten(stopped(2, 20, 60), 3)


def test_one_pass_of_the_cutter_makes_it() -> None:
    """Half of 3 by 3 along 40, and at each end a quarter of a cone 3 high and 3 wide."""
    work = step("chamfering", tool("chamfer_mill", 10, SIG=90, LU=5), {"class": "chamfer"})
    stage = agreed(stopped(0, 20, 60).wrapped, plan(raw_box((0, 0, 0), (100, 60, 20)), setup([work])))
    assert cut_volume(stage.cuts[0]) == pytest.approx(3 * 3 / 2 * 40 + 2 * math.pi * 3**3 / 3 / 4, abs=0.01)
