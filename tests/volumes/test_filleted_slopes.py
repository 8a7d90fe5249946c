"""Round-cornered cutters over a sloping floor with fillets at its walls: solid and second computation against heights.

A slot of 10 through a block of 24, its floor rising along X, a fillet of 1 along both walls. Pass k covers a rectangle
that ends where the floor rises through its height, its two corners there as round as the cutter, and leaves its border
as round as the corner or the fillet. No place may come out lower than a brute force over all places of the axis finds
(``REACHED``): flat passes at the same heights that nowhere cut into the part.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from examples.shapes import box, cut, polygon, prism
from tests.support.filleted import filleted_at
from tests.support.trial import inputs, plan, raw_box, removals, setup, step, tool
from worker.field import second_opinion
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

LONG, WIDE, DEEP, FILLET, RADIUS = 24.0, 10.0, 8.0, 1.0, 3.0
SLOPE = math.radians(12)
FALL = LONG * math.tan(SLOPE)
PASSES = [-DEEP + FALL * k / 8 for k in range(1, 9)]
"""Eighths of the fall: less than half the diameter."""


def _part():
    ends = [(x, -30, -DEEP + (x + LONG / 2) * math.tan(SLOPE)) for x in (-20, 20)]
    room = prism(polygon([(-20, -30, 1), *ends, (20, -30, 1)]), (0, 60, 0))
    slot = cut(room, box((-30, -40, -30), (30, -WIDE / 2, 9)), box((-30, WIDE / 2, -30), (30, 40, 9)))
    block = cut(box((-12, -10, -14), (12, 10, 0)), slot)
    return filleted_at(block, FILLET, lambda x, y, z: abs(x) < 1 and abs(abs(y) - WIDE / 2) < 1e-6 and -9 < z < -1)


def _grid(side):
    xs, ys = (np.arange(-end / 2 + side / 2, end / 2, side) for end in (LONG, WIDE))
    return np.meshgrid(xs, ys, indexing="ij")


def _quarter(depth, radius):
    """Height of a quarter round over its foot, so far off the wall."""
    return radius - np.sqrt(np.maximum(radius**2 - np.maximum(radius - depth, 0.0) ** 2, 0.0))


def _floor(x, y):
    return -DEEP + (x + LONG / 2) * math.tan(SLOPE) + _quarter(WIDE / 2 - np.abs(y), FILLET) / math.cos(SLOPE)


def _left(x, y, corner):
    """What the passes leave, by how far a place lies off their borders."""
    found = np.zeros_like(x)
    for k, z in enumerate(PASSES, start=1):
        end = -LONG / 2 + LONG * k / 8 if k < 8 else 1e3
        u, v = x - (end - RADIUS), np.abs(y) - (WIDE / 2 - RADIUS)
        deep = RADIUS - np.where((u > 0) & (v > 0), np.hypot(u, v), np.maximum(u, v))
        found = np.where(deep > 0, np.minimum(found, z + _quarter(deep, corner)), found)
    return found


def _reached(side, corner):
    """The lowest height over each place at which a cutter passes that cuts into the part nowhere."""
    x, y = _grid(side)
    n = round(RADIUS / side)
    wide = np.pad(_floor(x, y), ((0, 0), (n, n)), constant_values=np.inf)
    ends = np.pad(wide, ((n, n), (0, 0)), constant_values=-np.inf)
    ends[:, :n] = ends[:, -n:] = np.inf
    places = [(i, j) for i in range(-n, n + 1) for j in range(-n, n + 1) if math.hypot(i, j) * side < RADIUS]
    rise = {at: float(_quarter(RADIUS - math.hypot(*at) * side, corner)) for at in places}
    padded = np.pad(ends, n, constant_values=np.inf)
    free = np.max([padded[n + i : n + i + len(ends), n + j : n + j + ends.shape[1]] - rise[i, j] for i, j in places], 0)
    found = np.zeros_like(x)
    for z in PASSES:
        tip = np.pad(np.where(free <= z + 1e-9, z, np.inf), n, constant_values=np.inf)
        low = np.min([tip[n + i : n + i + len(ends), n + j : n + j + ends.shape[1]] + rise[i, j] for i, j in places], 0)
        found = np.minimum(found, low[n:-n, n:-n])
    return found


def test_what_is_left_lies_nowhere_below_what_the_cutter_reaches():
    """The brute force knows walls and the cutter's reach to half a cell: the two next to a wall are left out."""
    side = 0.25
    x, y = _grid(side)
    short = _reached(side, FILLET) - _left(x, y, FILLET)
    assert short[:, 2:-2].max() < 0.1


def test_passes_over_a_filleted_slope():
    """A corner that is smaller than the fillet leaves the fillet's round."""
    x, y = _grid(0.02)
    left = np.maximum(_left(x, y, FILLET), _floor(x, y))
    exact = float(-left.sum() * 0.02**2)
    work = step("bottom_and_side_rough_milling", tool("bullnose_endmill", 2 * RADIUS, RE=0.6), {"class": "slot"})
    found = inputs(_part(), plan(raw_box((-12, -10, -14), (12, 10, 0)), setup([work])))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    stages = cut_all(found, resolved, lambda _: None)
    (opinion,) = second_opinion(found.plan, found.part, stages)
    assert removals(stages[0])[0] == pytest.approx(exact, rel=1e-4)
    assert opinion.field_volume == pytest.approx(24 * 20 * 14 - exact, abs=opinion.bound)
    assert opinion.borrowed == () and opinion.agrees
