"""To how many sides recesses are open: counted by gap and by side of the block, however those are rounded."""

from __future__ import annotations

import pytest

from tests.recognise.parts import block, drill, rounded, upright
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body
from worker.recognise import recognise


def open_sides(body: Body, class_: str) -> int | None:
    (found,) = [f for f in recognise(body) if f.class_ == class_]
    return found.open_sides


@pytest.mark.parametrize(
    ("tool", "class_", "sides"),
    [
        (box((-1, -1, 14), (101, 20, 21)), "step", 3),
        (box((-1, -1, 14), (30, 20, 21)), "step", 2),
        (box((-1, 4, 10), (70, 56, 21)), "open_pocket", 1),  # its gap meets the rounds of both corners
    ],
)
@pytest.mark.parametrize("radius", [0.0, 8.0])
def test_rounded_corners_of_the_block_are_no_sides(tool: Body, class_: str, sides: int, radius: float) -> None:
    whole = rounded(block(), radius, upright) if radius else block()
    assert open_sides(cut(whole, [tool]), class_) == sides


def test_a_window_in_the_floor_at_a_gap_opens_no_more_sides() -> None:
    """A half-round scallop through the floor's free edge."""
    body = cut(block(), [box((30, -1, 10), (70, 40, 21)), drill(50, 0, -1, 21, 12)])
    assert [f.open_sides for f in recognise(body) if f.bottom == "planar"] == [1]
