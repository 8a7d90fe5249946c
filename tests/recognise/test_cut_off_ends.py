"""Round ends that a deeper slot cuts off a slot belong to it, however little stands; sizes are as drawn."""

from __future__ import annotations

import pytest

from tests.recognise.parts import block, drill
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box
from worker.kernel.shape import Body


@pytest.mark.parametrize("far", [50.0, 50.5, 52.0, 53.3])
def test_the_tip_of_a_round_end_beyond_a_deeper_slot_is_the_slots(far: float) -> None:
    """8 wide, its end drawn about 50: the tip at 54 stands, however little of it, both places where walls touch it are
    gone."""
    slot = fuse([box((-1, 26, 14), (50, 34, 21)), drill(50, 30, 14, 21, 8)])
    body = cut(block(), [slot, box((44, -1, 10), (far, 61, 21))])
    found = next(f for f in recognise(body) if f.class_ == "slot" and f.depth == pytest.approx(6))
    assert (found.ends, found.length, found.width) == ("open radiused", pytest.approx(54), pytest.approx(8))
    assert found.orthogonal_radius == pytest.approx(4)
    assert len([f for f in recognise(body) if f.class_ == "slot"]) == 2
    same_when_rewritten(body, 2)


@pytest.mark.parametrize("bay", [drill(50, 30, 14, 21, 6), drill(50, 30, 13, 21, 8)])
def test_a_round_bay_that_no_wall_of_the_slot_runs_into_is_none_of_it(bay: Body) -> None:
    """Narrower, or deeper."""
    body = cut(block(), [box((-1, 26, 14), (45, 34, 21)), bay, box((44, -1, 10), (52, 61, 21))])
    slot = next(
        f for f in recognise(body) if f.class_ == "slot" and f.depth == pytest.approx(6) and f.width == pytest.approx(8)
    )
    assert (slot.ends, slot.length) == ("open open", pytest.approx(44))
