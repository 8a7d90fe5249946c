"""Leaning flat faces beside a tool: closed forms against points sampled densely over the face and its border."""

from __future__ import annotations

import numpy as np
import pytest

from schemas.base import Frame
from worker.kernel import boolean, primitives
from worker.kernel.planar import polygon
from worker.kernel.shadow import Skyline
from worker.stage.removal import slants
from worker.stage.removal.slants import Flank, Slant, deepest, highest_near, slant_of

FLANK = Flank(1.0, 1.0, 6.0)


def leaning(seed: int, tangent: float) -> Skyline:
    """A block with a leaning top, a bore and a notch in it."""
    turn = np.random.default_rng(seed).uniform(0, 2 * np.pi)
    normal = (float(-tangent * np.cos(turn)), float(-tangent * np.sin(turn)), 1.0)
    body = primitives.box((0, 0, -30), (20, 14, 40))
    over = primitives.half_space_box((10, 7, 5), normal, 200.0)
    cuts = [over, primitives.cylinder((13, 6, -31), (13, 6, 41), 5.0), primitives.box((-1, 4, -31), (6, 8, 41))]
    return Skyline(boolean.cut(body, cuts), Frame())


def sampled(sky: Skyline, slant) -> np.ndarray:
    """Points on the face: a grid inside, and its border closely."""
    x0, y0, x1, y1 = slant.region.bounds
    grid = np.stack(np.meshgrid(np.linspace(x0, x1, 161), np.linspace(y0, y1, 113)), axis=-1).reshape(-1, 2)
    border = np.concatenate(
        [
            s + np.linspace(0, size, 400)[:, None] * u
            for s, u, size in zip(slant.start, slant.along, slant.size, strict=True)
        ]
    )
    return np.concatenate((grid[slant.region.holds(grid)], border))


def slant_and_points(seed: int, tangent: float):
    sky = leaning(seed, tangent)
    (shown,) = [s for s in sky.shown if s.look == "up"]
    slant = slant_of(sky, shown)
    assert slant is not None
    rng = np.random.default_rng(seed + 100)
    return sky, slant, rng.uniform((-6, -6), (26, 20), (40, 2)), rng.uniform(-6, 8, 40)


def test_what_lies_below_every_tip_is_not_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """Held to all of the border at once, as the closed form is told; few distances at a time, and of the border what
    is higher than the tips alone."""
    _, slant, points, _ = slant_and_points(0, 0.9)
    ends = slant.heights(slant.start + slant.size[:, None] * slant.along)
    tips = np.full(len(points), float(np.median(slant.height)))
    looked: list[tuple[int, np.ndarray]] = []
    one_go = slants._deepest

    def listening(slant, held, flank, points, tips, above):
        looked.append((len(points), held))
        return one_go(slant, held, flank, points, tips, above)

    monkeypatch.setattr(slants, "_deepest", listening)
    monkeypatch.setattr(slants, "AT_ONCE", 100)
    found = deepest(slant, FLANK, points, tips, 0.001)
    whole = one_go(slant, np.arange(len(slant.size)), FLANK, points, tips, 0.001)
    reached = whole[0] > 0
    assert 5 < reached.sum() < len(points)
    np.testing.assert_array_equal(np.array(found)[:, reached], np.array(whole)[:, reached])
    assert (found[0][~reached] <= 0).all()
    assert {n for _, held in looked for n in held} == set(np.flatnonzero(np.maximum(slant.height, ends) > tips[0]))
    assert all(count * len(held) <= 100 + len(held) for count, held in looked)


def test_what_lies_farther_off_than_the_tool_is_wide_is_not_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    """A strip of 1000 x 4 mm that leans across, cut into pieces by 99 notches on its upper side: beside places within
    20 mm of one another no more of its border than the tool's radius past them, and the flank's way into the upper edge
    by hand: its axis 1 mm outside that, 3 mm below, a tip of radius 1: 1 + 3 - 1 = 3 mm into it."""
    notched = [(10 * n + dx, y) for n in range(99, 0, -1) for dx, y in ((1, 4), (1, 3), (-1, 3), (-1, 4))]
    border = np.array([(0, 0), (1000, 0), (1000, 4), *notched, (0, 4)], float)
    ways = np.roll(border, -1, axis=0) - border
    size = np.hypot(*ways.T)
    slant = Slant(polygon(border.tolist()), 6.0, np.array((0.0, 1.0)), border, ways / size[:, None], size)
    looked: list[int] = []
    one_go = slants._deepest

    def listening(slant, held, *rest):
        looked.append(len(held))
        return one_go(slant, held, *rest)

    monkeypatch.setattr(slants, "_deepest", listening)
    points = np.column_stack([np.linspace(484, 486, 9), np.full(9, 5.0)])
    into, top = deepest(slant, FLANK, points, np.full(9, 7.0), 0.001)
    np.testing.assert_allclose(into, 3.0, atol=1e-9)
    np.testing.assert_allclose(top, 10.0, atol=1e-9)
    assert len(slant.size) > 390 and max(looked) <= 12


@pytest.mark.parametrize("tangent", [0.05, 0.4, 0.9, 1.5, 2.0])
@pytest.mark.parametrize("seed", range(4))
def test_a_flank_beside_a_leaning_face(seed: int, tangent: float) -> None:
    sky, slant, points, tips = slant_and_points(seed, tangent)
    out = ~slant.region.holds(points)
    points, tips = points[out], tips[out]
    into, top = deepest(slant, FLANK, points, tips, 0.001)
    metal = sampled(sky, slant)
    heights = slant.heights(metal)
    for n in range(len(points)):
        reach = FLANK.at(heights - tips[n]) - np.hypot(*(metal - points[n]).T)
        assert reach.max() <= into[n] + 0.01 or reach.max() <= FLANK.blunt  # nothing sampled is deeper
        if np.isfinite(into[n]):  # and it is reached
            assert reach.max() >= into[n] - 0.05
            assert slant.heights(metal).min() - 0.05 <= top[n] <= slant.heights(metal).max() + 0.05


@pytest.mark.parametrize("tangent", [0.05, 0.4, 2.0])
@pytest.mark.parametrize("seed", range(4))
def test_the_highest_of_a_leaning_face_within_a_distance(seed: int, tangent: float) -> None:
    sky, slant, points, _ = slant_and_points(seed, tangent)
    radii = np.random.default_rng(seed).uniform(1, 9, len(points))
    found = highest_near(slant, radii, points)
    metal = sampled(sky, slant)
    heights = slant.heights(metal)
    for n in range(len(points)):
        near = np.hypot(*(metal - points[n]).T) < radii[n]
        best = heights[near].max(initial=-np.inf)
        assert best <= found[n] + 5e-3 * (1 + tangent)
        if near.any():
            assert best >= found[n] - 0.12 * (1 + tangent)
        elif np.isfinite(found[n]):  # a sliver between the samples
            assert np.hypot(*(metal - points[n]).T).min() < radii[n] + 0.1
