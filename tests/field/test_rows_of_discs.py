"""What discs about points in rows cover, against the definition: nearer to some point than the radius."""

import numpy as np
import pytest

from worker.field.rows import covered


def rows(rng, h):
    """Points in rows along x, along y, with gaps and without, and some that stand alone."""
    found = [rng.uniform(-3.0, 3.0, (rng.integers(0, 30), 2))]
    for _ in range(rng.integers(1, 7)):
        places = rng.uniform(-2.0, 2.0) + np.arange(rng.integers(1, 60)) * rng.choice([h, 0.3 * h, 4.0 * h])
        places = places[rng.random(len(places)) < 0.8]
        row = np.stack((places, np.full(len(places), rng.uniform(-3.0, 3.0))), axis=1)
        found.append(row if rng.random() < 0.5 else row[:, ::-1])
    return rng.permutation(np.concatenate(found))


@pytest.mark.parametrize("seed", range(8))
def test_a_place_is_covered_that_lies_nearer_to_a_point_than_the_radius(seed):
    rng = np.random.default_rng(seed)
    h = rng.uniform(0.05, 0.3)
    points, radius = rows(rng, h), rng.uniform(0.1, 1.5)
    at, x = np.arange(60) * h - 4.0, np.linspace(-5.0, 5.0, 301)
    found = covered(points[:, 0], points[:, 1], radius, at)
    away = np.array([np.hypot(x[:, None] - points[:, 0], y - points[:, 1]).min(axis=1) for y in at])
    told = np.zeros(away.shape, bool)
    for line, start, stop in zip(found.line, found.start, found.stop, strict=True):
        assert stop >= start
        told[line] |= (x > start) & (x < stop)
    sure = np.abs(away - radius) > 1e-6
    assert np.array_equal(told[sure], (away < radius)[sure])
    assert 0 < told.mean() < 1


def test_no_points_cover_nothing():
    assert not len(covered(np.zeros(0), np.zeros(0), 1.0, np.arange(5.0)))


def test_a_row_is_told_by_as_many_stretches_as_lines_meet_it():
    """A hundred points 0.1 apart along x, discs of 1 about them: 9.9 and a chord at each of 19 lines, 0.1 apart."""
    found = covered(np.arange(100) * 0.1, np.zeros(100), 1.0, np.arange(-9, 10) * 0.1)
    assert len(found.line) == 19
    np.testing.assert_allclose(found.stop - found.start, 9.9 + 2 * np.sqrt(1 - (np.arange(-9, 10) * 0.1) ** 2))


def test_where_chords_are_shorter_than_the_gaps_each_stands_alone():
    """Discs of 1, 0.4 apart: 0.95 off their row chords are 2 sqrt(1 - 0.95^2) = 0.624 long, 0.99 off it 0.282."""
    found = covered(np.arange(8) * 0.4, np.zeros(8), 1.0, np.array([0.95, 0.99]))
    assert [int((found.line == k).sum()) for k in (0, 1)] == [1, 8]
    np.testing.assert_allclose((found.stop - found.start)[1:], 2 * np.sqrt(1 - 0.99**2))
