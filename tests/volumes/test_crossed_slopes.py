"""Recesses with sloping floors that others cross: solid and second computation against one closed form, or against
columns over which the cutter is set down wherever its ground is free.

The block is 60 x 40 x 20 with its top at 0. A ramp of 16 runs along X between upright walls, its floor rises from 10
below the top to 1 below it. Passes 3 apart lie 7, 4 and 1 below the top; where a pass ends at the slope, or at a line
that bounds the ramp's own ground, a cutter of radius r leaves (1 - pi/4) r2 in each corner.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from examples.shapes import Shape, box, cut, cylinder, polygon, prism, rounded_face
from tests.support.trial import Json, inputs, plan, raw_box, removals, setup, step, tool
from worker.field import Opinion, second_opinion
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

FINISH = "bottom_and_side_finish_milling"
BLOCK = (-30, -20, -20), (30, 20, 0)
RADIUS = 4.0
CORNER = (1 - math.pi / 4) * RADIUS**2
DEPTH: Json = {"technology": {"axial_cutting_depth": 3.0}}


def ramp() -> Shape:
    """Its room: from x = -35, past the block's ends."""
    ends = [(x, -8, -10 + 9 * (x + 30) / 60) for x in (-35, 35)]
    return prism(polygon([*ends, (35, -8, 5), (-35, -8, 5)]), (0, 16, 0))


def both(part: Shape, raw: Json, cutter: Json, depth: float, **keys: Any) -> tuple[float, float, Opinion]:
    """Volume that the solid and the second computation take with one step on the slot or pocket of that depth."""
    document = plan(raw, setup([step(FINISH, cutter, {"class": "slot"})], location=[0, 0, 0]))
    recesses = [f for f in inputs(part, document).part.features if f.class_ in ("slot", "open_pocket", "step")]
    (id,) = [f.id for f in recesses if f.depth == pytest.approx(depth, abs=0.02)]
    found = inputs(part, plan(raw, setup([step(FINISH, cutter, id, **keys)], location=[0, 0, 0])))
    stages = cut_all(found, resolve(found.plan, found.part.features, on_feature_of(found.part)), lambda _: None)
    (opinion,) = second_opinion(found.plan, found.part, stages)
    (taken,) = removals(stages[0])
    return taken, taken - opinion.difference, opinion


def test_a_deeper_slot_that_ends_in_a_ramp_is_cleared_from_where_it_is_free() -> None:
    """The slot of 12, 6 deep, takes a notch of 12 x 12 out of the ramp's floor, which is higher there. At the pass of
    its depth it is free, but hangs together with the ramp's own free end from the next pass up alone."""
    part = cut(box(*BLOCK), ramp(), box((2, -25, -6), (14, 4, 5)))
    solid, field, opinion = both(part, raw_box(*BLOCK), tool("endmill", 2 * RADIUS), 10, **DEPTH)
    apart = (26 + 2 / 3) * 16 - 2 * CORNER + 12 * 12 - 4 * CORNER
    joined = 40 * 16 + 4 * 12 - 3 * CORNER
    exact = 20 * 16 - 2 * CORNER + 2 * apart + 3 * joined + 60 * 16
    assert solid == pytest.approx(exact, rel=1e-6)
    assert field == pytest.approx(exact, abs=opinion.bound)
    assert opinion.agrees and not opinion.borrowed


def test_a_wall_with_a_gap_in_its_middle_bounds_a_ramp_at_both_sides_of_it() -> None:
    """The slot of 20 is 2 deep and ends over the ramp, whose floor is deeper there: it takes a piece of one wall's
    upper edge. The blank stands 1 over the part."""
    part = cut(box(*BLOCK), ramp(), box((-10, -25, -2), (10, 0, 5)))
    blank = raw_box((-30, -22, -20), (30, 22, 1))
    solid, field, opinion = both(part, blank, tool("endmill", 2 * RADIUS), 10, **DEPTH)
    at_the_slot = (53 + 1 / 3) * 16 - 2 * CORNER  # passes run at the slot's own height as well
    exact = 3 * (20 * 16 - 2 * CORNER) + 2 * (40 * 16 - 2 * CORNER) + at_the_slot + 2 * 60 * 16
    assert solid == pytest.approx(exact, rel=1e-6)
    assert field == pytest.approx(exact, abs=opinion.bound)
    assert opinion.agrees and not opinion.borrowed


class Columns:
    """Heights of the part over a lattice of the block, and what a cutter takes that is set down on them."""

    def __init__(self, side: float, *floors: Any) -> None:
        self.side = side
        x, y = (np.arange(-end + side / 2, end, side) for end in (30, 20))
        self.x, self.y = np.meshgrid(x, y, indexing="ij")
        self.height = np.minimum.reduce([np.zeros_like(self.x), *(f(self.x, self.y) for f in floors)])

    def taken(self, ground: Any, heights: list[float], top: float, radius: float) -> float:
        """By a flat cutter that is set down at each height wherever nothing of the part is under it and it stays over
        its ground, which goes on past the block's ends."""
        left = np.full_like(self.x, top)
        n = round(radius / self.side)
        disc = [(i, j) for i in range(-n, n + 1) for j in range(-n, n + 1) if math.hypot(i, j) * self.side < radius]
        for z in heights:
            free = ground(self.x, self.y) & (self.height <= z + 1e-9)
            fits = _all_of(free, disc, n)
            left = np.where(_any_of(fits, disc, n), np.minimum(left, z), left)
        return float((top - left).sum()) * self.side**2


def _all_of(free: Any, disc: list[tuple[int, int]], n: int) -> Any:
    wide = np.pad(free, n, mode="edge")
    return np.logical_and.reduce([wide[n + i : n + i + len(free), n + j : n + j + free.shape[1]] for i, j in disc])


def _any_of(fits: Any, disc: list[tuple[int, int]], n: int) -> Any:
    wide = np.pad(fits, n, mode="edge")
    return np.logical_or.reduce([wide[n + i : n + i + len(fits), n + j : n + j + fits.shape[1]] for i, j in disc])


def test_a_trough_whose_bottom_line_falls_is_left_in_terraces() -> None:
    """A round trough of radius 12 whose axis falls by 1 in 12; a slot of 14 crosses it 14 deep and leaves a piece of it
    on either side. The step on the deeper one goes on through the slot, along its upper edges, to the other."""
    radius, fall, half = 12.0, 1 / 12, 7.0
    lean = math.hypot(1.0, fall)
    trough = cylinder((-40, 0, 2.7 + 40 * fall), (40, 0, 2.7 - 40 * fall), 2 * radius)
    part = cut(box(*BLOCK), trough, box((-half, -25, -14), (half, 25, 5)))

    def above(x: Any) -> Any:
        return 2.7 - x * fall

    def bottom(x: Any, y: Any) -> Any:
        return np.where(np.abs(y) < radius, above(x) - lean * np.sqrt(np.maximum(radius**2 - y**2, 0.0)), 0.0)

    edge = math.sqrt(radius**2 - (above(half) / lean) ** 2)
    slope = above(half) * fall / lean**2 / edge
    columns = Columns(0.25, bottom, lambda x, y: np.where(np.abs(x) < half, -14.0, 0.0))
    low, other = float(bottom(30.0, 0.0)), float(bottom(-half, 0.0))
    heights = [low, other, *(low * (1 - k / 8) for k in range(1, 8))]
    exact = columns.taken(lambda x, y: np.abs(y) < edge + slope * (x - half), heights, 0.0, RADIUS)
    solid, field, opinion = both(part, raw_box(*BLOCK), tool("endmill", 2 * RADIUS), -low)
    assert solid == pytest.approx(exact, rel=5e-3)
    assert field == pytest.approx(exact, rel=5e-3)
    assert opinion.agrees and not opinion.borrowed


def test_a_low_wall_that_ends_on_a_slope_is_a_wall() -> None:
    """A pocket of 26 x 20 with corners of 6, 5 deep, goes into the ramp's side. In one corner the ramp's floor rises
    through the pocket's, and leaves up to 0.4 of a wall there, whose triangles lean as much as their chords are short.
    The ground goes on from where that wall begins, along its tangent, to the ramp's far wall."""
    pocket = prism(rounded_face((-20, -2, -5), (6, 18, -5), 6.0), (0, 0, 10))
    part = cut(box(*BLOCK), ramp(), pocket)
    solid, field, opinion = both(part, raw_box(*BLOCK), tool("endmill", 2 * RADIUS), 5)
    begins = -30 + 60 * (5 + 1e-3) / 9  # lower than a micrometre it is none
    turn = math.acos(begins / 6)
    y = 4 - 6 * math.sin(turn)
    meets = begins - (y + 8) * math.tan(turn)
    corners = [(-20, 18), (-20, -8), (meets, -8), (begins, y), (6, 4), (6, 18)]
    ends = zip(corners, [*corners[1:], corners[0]], strict=True)
    inside = sum(a * d - b * c for (a, b), (c, d) in ends) / 2
    round_ = 36 * (turn - math.sin(turn)) / 2 - 2 * (1 - math.pi / 4) * 36
    blunt = RADIUS**2 * (math.tan(math.pi / 4 - turn / 2) - (math.pi / 4 - turn / 2))
    exact = 5 * (inside + round_ - CORNER - blunt)
    assert solid == pytest.approx(exact, rel=1e-6)
    assert field == pytest.approx(exact, abs=opinion.bound)
    assert opinion.agrees and not opinion.borrowed


def test_a_recess_that_hangs_together_past_the_metal_alone_is_none_of_a_ledge() -> None:
    """A ledge of 4, 4 deep, beside a slot of 12 that is 10 deep; its ground goes on over the slot and all beyond. A
    pocket 6 deep opens at the far side of the block: from the ledge there is a way to it through the air alone."""
    rooms = box((0, -25, -10), (12, 25, 5)), box((0, -25, -4), (16, 25, 5)), box((-35, -8, -6), (-15, 8, 5))
    solid, field, opinion = both(cut(box(*BLOCK), *rooms), raw_box(*BLOCK), tool("endmill", 2 * RADIUS), 4)
    assert solid == pytest.approx(16 * 40 * 4, rel=1e-6)
    assert field == pytest.approx(16 * 40 * 4, abs=opinion.bound)
    assert opinion.agrees and not opinion.borrowed
