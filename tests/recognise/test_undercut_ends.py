"""Where undercut slots end in something as deep, and ledges that a cutter leaves in a wall; sizes are as drawn."""

from __future__ import annotations

import math

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, drill, prism
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body


def one(body: Body, name: str) -> Feature:
    (found,) = [f for f in recognise(body) if f.class_ == name]
    return found


DOVETAIL = [prism([(24, 41), (36, 41), (36, 40), (41, 26), (19, 26), (24, 40)], -1, 50)]
TEE = [box((-1, 24, 20), (50, 36, 41)), box((-1, 19, 11), (50, 41, 20))]


@pytest.mark.parametrize(("tools", "floor"), [(DOVETAIL, 26), (TEE, 11)])
@pytest.mark.parametrize("wide", [20.0, 24.0, 30.0])
def test_an_undercut_slot_is_no_wider_for_a_hole_as_deep_at_its_end(
    tools: list[Body], floor: float, wide: float
) -> None:
    """22 wide and 50 long; a wider hole ends it where its foot's edge, 11 off the middle, runs into it (Pythagoras)."""
    body = cut(block(z=40), [*tools, drill(50, 30, floor, 41, wide)])
    found = one(body, "slot")
    length = 50 - math.sqrt((wide / 2) ** 2 - 11**2) if wide > 22 else 50
    assert (found.width, found.length, found.depth) == pytest.approx((22, length, 40 - floor))
    assert one(body, "round_hole").diameter == pytest.approx(wide)


@pytest.mark.parametrize(("y", "class_"), [(40, "open_pocket"), (43, "open_pocket"), (46, "round_hole")])
def test_a_round_ledge_in_a_pockets_wall_is_open_to_it_up_to_half_a_turn(y: float, class_: str) -> None:
    """A cutter of 16 beside a wall at 45: from less than half its circle what is cut comes out sideways."""
    body = cut(block(z=40), [box((20, 15, 10), (80, 45, 41)), drill(50, y, 20, 41, 16)])
    whole, ledge = one(body, "closed_pocket"), one(body, class_)
    assert (whole.length, whole.width, whole.depth) == pytest.approx((60, 30, 30))
    assert ledge.depth == pytest.approx(20)
    if class_ == "open_pocket":
        chord = 2 * math.sqrt(8**2 - (45 - y) ** 2)
        assert (ledge.length, ledge.width) == pytest.approx((chord, 8 - (45 - y)))
        assert (ledge.open_sides, ledge.orthogonal_radius) == (1, pytest.approx(8))
    same_when_rewritten(body, 2)
