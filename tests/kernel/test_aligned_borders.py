"""Corners of offset borders, put back on the lines that they were cut from (plane geometry by hand, mm)."""

from __future__ import annotations

import pytest

from worker.kernel.planar import Region
from worker.kernel.planar_edge import line
from worker.kernel.planar_tidy import aligned

STRIP = [line((40.0, 0.5), (-40.0, 0.5)), line((-40.0, -0.5), (40.0, -0.5))]
"""Where the axis of a cutter of 23 may run in a slot: what it covers goes 11.5 further, to 12 on either side."""


def covered(off: float) -> Region:
    """The rectangle that it covers, two corners that much off, as where arcs end on a line within a micrometre."""
    corners = [(-40.0, -12.0 + off), (58.0, -12.0), (58.0, 12.0), (-40.0, 12.0 - off)]
    return Region((tuple(line(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)),))


@pytest.mark.parametrize("off", [0.0, 1e-6, 2.6e-6, -4e-6])
def test_a_wall_is_no_steeper_for_a_corner_that_was_merged(off: float) -> None:
    (found,) = aligned(covered(off), STRIP, 11.5).loops
    assert [edge.a[1] for edge in found] == pytest.approx([-12.0, -12.0, 12.0, 12.0], abs=1e-12)


def test_a_corner_that_lies_elsewhere_stays_there() -> None:
    (found,) = aligned(covered(1e-4), STRIP, 11.5).loops
    assert found[0].a[1] == pytest.approx(-12.0 + 1e-4, abs=1e-12)
