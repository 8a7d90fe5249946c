"""Borders that close over next to nothing."""

from __future__ import annotations

from worker.kernel.planar_edge import Edge
from worker.kernel.planar_trace import SPECK, _chain


def test_a_border_that_is_all_specks_is_left_out() -> None:
    """A way there and back, shorter than any edge may be, beside a square of 2 x 2."""
    corners = [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)]
    square = [Edge(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    there = Edge((5.0, 5.0), (5.0 + SPECK / 2, 5.0))
    back = Edge(there.b, there.a)
    loops = _chain([*square, there, back])
    assert loops is not None
    assert [len(loop) for loop in loops] == [4]
