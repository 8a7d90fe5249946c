"""Borders that close over next to nothing."""

from __future__ import annotations

import pytest

from worker.kernel.errors import KernelError
from worker.kernel.planar import inside_of
from worker.kernel.planar_edge import Edge, Point2, line
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


def _notched(gap: float) -> list[Edge]:
    """5 x 20 less a notch of 0.5 x 18 in its right side; the lines at the notch's upper corners stop short of each
    other, or go past, by the gap: as where a boolean made one edge of two beside each other."""
    corners: list[tuple[Point2, Point2]] = [
        ((0, 0), (5, 0)), ((5, 0), (5, 1)), ((5, 1), (4.5, 1)), ((4.5, 1), (4.5, 19)),
        ((4.5, 19 + gap), (5, 19 + gap)), ((5, 19), (5, 20)), ((5, 20), (0, 20)), ((0, 20), (0, 0)),
    ]  # fmt: skip
    return [line(a, b) for a, b in corners]


@pytest.mark.parametrize("gap", [2.3e-4, -2.3e-4, 5e-3])
def test_a_border_whose_lines_miss_each_other_by_a_vertex_is_closed(gap: float) -> None:
    """100 less 9, but for half a millimetre times the gap."""
    found = inside_of(_notched(gap))
    assert len(found.loops) == 1
    assert abs(found.area - 91.0) <= 0.5 * abs(gap) + 1e-9


def test_a_border_that_stands_open_is_none() -> None:
    with pytest.raises(KernelError):
        inside_of(_notched(0.5))
