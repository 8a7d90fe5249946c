"""Where edges meet, against points laid out by hand, and against looking at many points of both."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from worker.kernel.planar_edge import Edge, arcs, line, point_at
from worker.kernel.planar_meet import Known, crossings

TOL = 1e-6
AT = st.floats(-10, 10)
POINT = st.tuples(AT, AT)
EDGE = st.one_of(
    st.builds(line, POINT, POINT),
    st.builds(lambda c, r, a, s: arcs(c, r, a, s)[0], POINT, st.floats(0.5, 8), st.floats(-3, 3), st.floats(0.2, 3)),
    st.builds(lambda c, r, a, s: arcs(c, r, a, -s)[0], POINT, st.floats(0.5, 8), st.floats(-3, 3), st.floats(0.2, 3)),
)


@pytest.mark.parametrize(
    ("e", "f", "expected"),
    [
        (line((0, 0), (10, 0)), line((5, -5), (5, 5)), [(5, 0)]),
        (line((0, 0), (10, 0)), line((5, 1e-3), (5, 5)), []),
        (line((0, 0), (10, 0)), line((5, TOL / 2), (5, 5)), [(5, TOL / 2), (5, 0)]),  # an end that all but touches
        (line((0, 0), (10, 0)), line((2, 0), (4, 0)), [(2, 0), (4, 0)]),  # an overlap: its ends
        (line((-10, 3), (10, 3)), arcs((0, 0), 5, 0, math.pi)[0], [(-4, 3), (4, 3)]),
        (line((-1, 3), (1, 3)), arcs((0, 0), 5, 0, math.pi)[0], []),  # within the circle
        (line((-10, 5.1), (10, 5.1)), arcs((0, 0), 5, 0, math.pi)[0], []),
        (line((-10, 5), (10, 5)), arcs((0, 0), 5, 0, math.pi)[0], [(0, 5)]),  # touches
        (arcs((0, 0), 5, 0, math.pi)[0], arcs((6, 0), 5, 0, math.pi)[0], [(3, 4)]),
        (arcs((0, 0), 5, 0, math.pi)[0], arcs((1, 0), 3, 0, math.pi)[0], []),  # one within the other
        (arcs((0, 0), 5, 0, math.pi)[0], arcs((20, 0), 3, 0, math.pi)[0], []),
    ],
)
def test_where_two_edges_meet(e: Edge, f: Edge, expected: list[tuple[float, float]]) -> None:
    for one, other in ((e, f), (f, e)):
        found = sorted(crossings(Known(one), Known(other), TOL))
        assert found == [pytest.approx(p, abs=1e-9) for p in sorted(expected)]


@settings(max_examples=200, deadline=None)
@given(EDGE, EDGE)
def test_edges_that_are_told_to_keep_apart_do(e: Edge, f: Edge) -> None:
    """Where nothing is told, no two of many points of the edges lie together."""
    if min(Known(e).long, Known(f).long) < 0.1 or crossings(Known(e), Known(f), TOL):
        return
    ts = np.linspace(0, 1, 60)
    one, other = (np.array([point_at(edge, t) for t in ts]) for edge in (e, f))
    least = np.linalg.norm(one[:, None] - other[None], axis=2).min()
    assert least > 1e-9
    sides = _side(e, other) if e.centre is None else np.hypot(*(other - np.array(e.centre)).T) - e.radius
    through = np.flatnonzero(sides[:-1] * sides[1:] < 0)  # the other passes the line or circle there, off the edge
    assert all(not _well_within(e, other[i : i + 2].mean(axis=0)) for i in through)


def _side(e: Edge, points: np.ndarray) -> np.ndarray:
    (ax, ay), (bx, by) = e.a, e.b
    return (points[:, 0] - ax) * (by - ay) - (points[:, 1] - ay) * (bx - ax)


def _well_within(e: Edge, p: np.ndarray) -> bool:
    """True when a point beside the edge lies well between its ends, by more than two steps of the other."""
    known = Known(e)
    return 1.0 < known.fraction((float(p[0]), float(p[1]))) * known.long < known.long - 1.0
