"""Where a cutter's axis can be near some places, against the definition: no border point nearer than its radius."""

import tracemalloc

import numpy as np

from worker.field.lines import whole
from worker.field.touching import axis_near, bends, nearest_two


def test_near_places_the_axis_is_where_no_border_point_is_nearer_than_the_radius():
    rng = np.random.default_rng(7)
    border, radius, off = rng.uniform(-6.0, 6.0, (25, 2)), 1.3, 0.4
    at, places = np.sort(rng.uniform(-5.0, 5.0, 200)), rng.uniform(-5.0, 5.0, 200)
    found = axis_near(whole(200, -8.0, 8.0), border, radius, 0, at, (places - off, places + off))
    told, free = np.zeros((200, 81), bool), np.zeros((200, 81), bool)
    for line in range(200):
        x = places[line] + np.linspace(-off, off, 81)[:, None]
        free[line] = np.hypot(x - border[:, 0], at[line] - border[:, 1]).min(axis=1) > radius
        mine = found.line == line
        told[line] = np.any((x > found.start[mine]) & (x < found.stop[mine]), axis=1)
    assert 0.2 < free.mean() < 0.8
    inner = slice(1, -1)  # the ends of the windows lie on a stretch's own end
    assert np.array_equal(told[:, inner], free[:, inner])


def test_round_a_bend_the_axis_runs_on_a_circle_of_what_the_bend_is_wider():
    """A round end of radius 4, seen by points of its border: the axis of a cutter of 3.5 goes round at 0.5."""

    class Slot:
        """The round end at the origin, its walls along x."""

        def scan(self, along, at):
            wide = np.sqrt(np.maximum(16.0 - at**2, 0.0))
            found = whole(len(at), -100.0, 0.0) if along == 0 else whole(len(at), -4.0, 4.0)
            stop = wide if along == 0 else np.where(at > 0, wide, 4.0)
            keep = np.abs(at) < 4.0
            start = found.start if along == 0 else -stop
            return type(found)(found.line, start, stop).where(keep)

    turn = np.linspace(-np.pi / 2, np.pi / 2, 700)
    border = 4.0 * np.stack((np.cos(turn), np.sin(turn)), axis=1)
    step = 3.5 / 48
    known = 0.5 * np.stack((np.cos(turn), np.sin(turn)), axis=1)[::30]
    more = bends(Slot(), known, border, 3.5, step)
    right = more[more[:, 0] > 0.05]
    assert len(right) > 100
    assert np.abs(np.hypot(*right.T) - 0.5).max() < 2e-3


def test_the_two_nearest_border_points_are_looked_for_only_near_each_place():
    """Against the definition, place by place; and with far less at hand than all distances of 2,000 places from 2,000
    points, eight bytes each: 32 MB."""
    rng = np.random.default_rng(3)
    along, radius, apart = rng.uniform(0.0, 200.0, 2000), 3.0, np.cos(np.radians(30.0))
    border = np.stack((along, np.where(rng.random(2000) < 0.5, 0.0, 5.0)), axis=1)
    places = np.stack((rng.uniform(0.0, 200.0, 2000), rng.uniform(1.0, 4.0, 2000)), axis=1)
    places[0] = (100.0, 60.0)  # far from all
    tracemalloc.start()
    first, second, tight = nearest_two(places, border, radius, apart)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 15e6
    assert not tight[0] and tight.any() and not tight.all()
    for n in range(0, 2000, 13):
        way = border - places[n]
        away = np.hypot(*way.T)
        assert first[n] == away.argmin()
        toward = way / away[:, None]
        away[toward @ toward[first[n]] > apart] = np.inf
        assert tight[n] == (away.min() < radius)
        assert not tight[n] or second[n] == away.argmin()
