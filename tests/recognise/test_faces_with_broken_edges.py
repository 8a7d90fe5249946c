"""A plane face whose edges are all broken is still milled along, by a cutter that stands upright beside it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from schemas.base import Vec3
from tests.recognise.parts import block, chamfered, rounded
from tests.support.recognised import recognise
from worker.kernel.shape import Body

AXES: tuple[Vec3, ...] = ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1))


@pytest.mark.parametrize("broken", [chamfered, rounded])
def test_each_side_is_seen_from_its_front_and_along_it_from_all_sides(broken: Callable[..., Body]) -> None:
    """Of a convex part a straight tool sees a side from each way that does not look at its back: by geometry."""
    found = recognise(broken(block(), 1.0, lambda a, b: True))
    sides = [f for f in found if f.class_ == "planar_face" and f.placement.axis in AXES]
    assert len(sides) == 6
    for side in sides:
        x, y, z = side.placement.axis
        assert {way for way in side.access if way in AXES} == set(AXES) - {(-x, -y, -z)}
