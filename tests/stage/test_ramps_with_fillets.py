"""Pockets whose floor slopes, with fillets round it, cut by a bull-nose of the fillets' own radius.

The truth is a model of columns: metal closed by a ball of the fillet is the part, closed by the cutter, whose tip
stands at its passes' heights alone, what is left. Passes keep all of their width off the slope: one step more is left
of its area at most.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from examples.shapes import Shape, box, cut, polygon, prism, rounded_block, volume
from tests.support.agreed import agreed
from tests.support.filleted import filleted_at
from tests.support.trial import plan, raw_box, removals, setup, step, tool

Floats = NDArray[np.float64]
H, LONG, WIDE, CORNER, DEEP, FILLET = 0.25, 26.0, 18.0, 5.0, 9.0, 2.0
LOW, HIGH = (-17.0, -13.0, -13.0), (17.0, 13.0, 0.0)
PASS = 0.25


def _floor(x: float, rise: float) -> float:
    return -DEEP + rise * (x / LONG + 0.5)


def _ramp(rise: float) -> Shape:
    ends = [(-30.0, _floor(-30, rise)), (30.0, _floor(30, rise))]
    below = prism(polygon([(-30, -30, -30), (30, -30, -30), *((x, -30, z) for x, z in ends[::-1])]), (0, 60, 0))
    part = cut(box(LOW, HIGH), cut(rounded_block((-LONG / 2, -WIDE / 2, -12), (LONG / 2, WIDE / 2, 1), CORNER), below))
    return filleted_at(part, FILLET, lambda x, y, z: z < -4 and abs(z - _floor(x, rise)) < 0.05)


def _profile(radius: float, corner: float) -> Floats:
    n = int(radius / H)
    far = np.hypot(*np.meshgrid(*[H * np.arange(-n, n + 1)] * 2))
    over = np.clip(far - (radius - corner), 0.0, corner)
    return np.where(far <= radius, corner - np.sqrt(corner**2 - over**2), np.inf)


def _highest(columns: Floats, profile: Floats) -> Floats:
    n, found = len(profile) // 2, np.full(columns.shape, -np.inf)
    wide = np.pad(columns, n, constant_values=-np.inf)
    for i, j in np.argwhere(np.isfinite(profile)):
        part = wide[i : i + columns.shape[0], j : j + columns.shape[1]]
        np.maximum(found, part - profile[i, j], out=found)
    return found


def _left(rise: float, diameter: float, corner: float) -> float:
    x, y = (H * (np.arange(int(size / H)) + 0.5) - size / 2 for size in (LONG + 8, WIDE + 8))
    over = np.hypot(*(np.maximum(abs(a) - half + CORNER, 0.0) for a, half in ((x[:, None], LONG / 2), (y, WIDE / 2))))
    sharp = np.where(over < CORNER, _floor(x[:, None], rise), 0.0)
    ball = _profile(FILLET, FILLET)
    part = -_highest(-_highest(sharp, ball), ball)
    mill = _profile(diameter / 2, corner)
    tips = np.ceil((_highest(part, mill) - part.min()) / PASS - 1e-6) * PASS + part.min()
    return float(np.sum(np.minimum(-_highest(-tips, mill), 0.0) - np.minimum(part, 0.0))) * H * H


def test_fillets_beside_a_slope_bar_no_cutter_of_their_own_radius() -> None:
    rise, part = 2.0, _ramp(2.0)
    work = step("bottom_and_side_finish_milling", tool("bullnose_endmill", 8, RE=FILLET), {"class": "closed_pocket"})
    work["technology"] = {"axial_cutting_depth": PASS}
    stage = agreed(part, plan(raw_box(LOW, HIGH), setup([work])))
    left = volume(box(LOW, HIGH)) - volume(part) - removals(stage)[0]
    assert stage.failures == ()
    assert 0.0 <= left - _left(rise, 8.0, FILLET) <= PASS * LONG * WIDE
