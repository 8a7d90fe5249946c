"""Storeys as few solids, against the sum of areas times heights: runs that stand plainly, corners a hair beside."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from worker.kernel.measure import volume
from worker.kernel.outline import three_point_arc
from worker.kernel.planar import Region, of_loops, polygon, rectangle, subtract
from worker.kernel.planar_edge import line
from worker.kernel.shape import WORLD
from worker.kernel.stack import Storey, stacked
from worker.kernel.stack_runs import laid_on, stacks
from worker.kernel.validity import faults


def storeys(*regions: Region, height: float = 4.0) -> list[Storey]:
    return [Storey(height * i, height * (i + 1), region) for i, region in enumerate(regions)]


def whole(stack: list[Storey]) -> float:
    return sum(one.region.area * (one.high - one.low) for one in stack)


def test_where_one_floor_is_not_plain_the_others_are_one_solid_each() -> None:
    """The second storey of six stands on air in part: itself and what stands on it is one solid, the lowest a prism."""
    stack = storeys(rectangle(0, 0, 10, 10), *(rectangle(1, -i, 20 + i, 12 + i) for i in range(5)))
    found = stacks(stack, WORLD)
    assert [volume(one) for one in found] == pytest.approx([400.0, whole(stack) - 400], rel=1e-9)
    assert not any(map(faults, found))


@pytest.mark.parametrize("off", [3e-6, -3e-6])
def test_a_corner_a_hair_beside_the_border_below_is_laid_on_it(off: float) -> None:
    """Ground that widens along a wall whose corners lie 3 um beside it, as where they end on fitted arcs: all of it is
    one solid, which holds what the storeys hold to a length times that hair."""
    ground = [(0.0, 0.0), (30.0, 0.0), (30.0, 20.0)]
    regions = [
        polygon([*ground, (5.0 - k, 20.0), (5.0 - k, 10.0 + (off if k else 0.0)), (0.0, 10.0)]) for k in range(4)
    ]
    stack = storeys(*regions)
    assert stacked(stack, WORLD) is None
    found = stacks(stack, WORLD)
    assert len(found) == 1 and not faults(found[0])
    assert volume(found[0]) == pytest.approx(whole(stack), abs=4 * 12 * 10 * abs(off))


def test_an_edge_where_two_fitted_arcs_meet_is_left_out() -> None:
    """A quarter of a round in two arcs, with a tenth of a hair of a third between: a cutter of 8 leaves one where it
    rounds a kink between arcs that were fitted to one curve. Nothing comes of it, and the storeys are one solid."""

    def quarter(wide: float) -> Region:
        at = [(wide * math.cos(a), wide * math.sin(a)) for a in (0.0, 0.3, 0.7, 0.7 + 5e-5 / wide, 1.2, math.pi / 2)]
        bends = [three_point_arc(at[i], at[j], at[k]) for i, j, k in ((0, 1, 2), (3, 4, 5))]
        return of_loops([[bends[0], line(at[2], at[3]), bends[1], line(at[5], (0.0, 0.0)), line((0.0, 0.0), at[0])]])

    stack = storeys(*map(quarter, (10.0, 11.0, 12.0)))
    assert stacked(stack, WORLD) is None
    (found,) = stacks(stack, WORLD)
    assert not faults(found)
    assert volume(found) == pytest.approx(math.pi * (10**2 + 11**2 + 12**2), abs=1e-3)


def test_corners_farther_off_stay_where_they_are() -> None:
    below, above = rectangle(0, 0, 10, 10), subtract(rectangle(-5, -5, 15, 15), [rectangle(-6, 10 + 2e-5, 3, 16)])
    assert laid_on(above, below) is above


@pytest.mark.parametrize("bent", [False, True])
def test_an_edge_shorter_than_that_hair_goes(bent: bool) -> None:
    """Where a corner below is met by two corners a micrometre apart, they become one."""
    below = rectangle(0, 0, 10, 10)
    a, b = (10 + 1e-6, 10.0), (10.0, 10 + 1e-6)
    short = three_point_arc(a, (10 + 0.75e-6, 10 + 0.75e-6), b) if bent else line(a, b)
    rest = [(10.0, 10 + 1e-6), (0.0, 10.0), (0.0, 0.0), (10 + 1e-6, 0.0), a]
    above = of_loops([[*(line(p, q) for p, q in pairwise(rest)), short]])
    laid = laid_on(above, below)
    assert sorted(edge.a for edge in laid.edges) == sorted(edge.a for edge in below.edges)
    assert laid.area == pytest.approx(100.0, abs=1e-4)
