"""What the field knows exactly: arcs that scan lines cross, tools on one axis as one, blocks without a mesh.

Chords of a circle: sqrt(r2 - d2) to either side. A union of turned solids is at each height as wide as the widest
(numpy.interp between its corners).
"""

import numpy as np
import pytest

from worker.field.arcs import circle_through, circles_through, parted
from worker.field.outlines import Sides
from worker.field.plane import Outlined
from worker.field.solids import Turned, as_one
from worker.field.triangles import Triangles
from worker.field.view import View
from worker.kernel.primitives import box, cylinder

VIEW = View((0, 1, 2), (1, 1, 1), (0.0, 0.0, 0.0))
TOP = 11.0


def _circle(x, y, radius, way):
    """24 chords of 15 degrees, none of which begins at a quarter: some turn in x or in y between their ends."""
    angle = way * (np.radians(4.0) + np.linspace(0.0, 2 * np.pi, 25))
    corners = np.stack((x + radius * np.cos(angle), y + radius * np.sin(angle)), axis=1)
    return np.stack((corners[:-1], corners[1:]), axis=1), np.full((24, 3), (x, y, radius))


@pytest.mark.parametrize("along", [0, 1])
def test_scan_lines_cross_arcs_where_the_circle_is(along):
    """A round boss, and a round hole of the same size in a square plate."""
    x, y, radius, far = 1.3, -0.4, 7.0, 20.0
    square = np.array([(-far, -far), (far, -far), (far, far), (-far, far)])
    plate = np.stack((square, np.roll(square, -1, axis=0)), axis=1), np.zeros((4, 3))
    hole = (np.concatenate(both) for both in zip(plate, _circle(x, y, radius, -1), strict=True))
    boss, holed = (parted(Sides(*some)) for some in (_circle(x, y, radius, 1), hole))
    middle, across = (x, y) if along == 0 else (y, x)
    at = across + np.linspace(-6.999, 6.999, 101)
    half = np.sqrt(radius**2 - (at - across) ** 2)
    found = Outlined(boss.ends, boss.circles).scan(along, at)
    assert found.line.tolist() == list(range(101))
    assert found.start == pytest.approx(middle - half, abs=1e-9)
    assert found.stop == pytest.approx(middle + half, abs=1e-9)
    found = Outlined(holed.ends, holed.circles).scan(along, at)
    assert found.stop[::2] == pytest.approx(middle - half, abs=1e-9)
    assert found.start[1::2] == pytest.approx(middle + half, abs=1e-9)


def _drawn(random):
    count = int(random.integers(1, 4))
    heights, radii = np.sort(random.uniform(-9, 9, count)), np.sort(random.uniform(0, 6, count))
    return Turned(VIEW, 0.1, 0.2, (*heights.tolist(), TOP), (*radii.tolist(), float(radii[-1])))


def _radius(turned, z):
    return np.where(z < turned.heights[0], 0.0, np.interp(z, turned.heights, turned.radii))


@pytest.mark.parametrize("seed", range(20))
def test_tools_on_one_axis_turn_what_the_widest_does(seed):
    random = np.random.default_rng(seed)
    every = [_drawn(random) for _ in range(3)]
    (one,) = as_one(every)
    z = random.uniform(-10, TOP, 500)
    assert _radius(one, z) == pytest.approx(np.max([_radius(t, z) for t in every], axis=0), abs=1e-9)


def test_tools_beside_each_other_or_of_other_height_stay_apart():
    one = Turned(VIEW, 0.0, 0.0, (-5.0, TOP), (2.0, 2.0))
    beside = Turned(VIEW, 1.0, 0.0, (-5.0, TOP), (2.0, 2.0))
    behind = Turned(VIEW, 0.0, 0.0, (-99.0, -6.0), (2.0, 2.0))
    assert as_one([one, beside, behind]) == [one, beside, behind]


def test_a_block_has_twelve_triangles_outward_that_close():
    triangles, owner = Triangles().both(box((-1.0, 2.0, 3.0), (4.0, 9.0, 5.5)))
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    assert len(triangles) == 12 and np.bincount(owner).tolist() == [2] * 6
    assert across.sum(axis=0) == pytest.approx([0.0, 0.0, 0.0])
    assert np.abs(across).sum(axis=0) / 2 == pytest.approx([2 * 7 * 2.5, 2 * 5 * 2.5, 2 * 5 * 7])
    assert np.sum(triangles[:, 0] * across) / 6 == pytest.approx(5 * 7 * 2.5)


def test_what_does_not_fill_its_box_is_meshed():
    assert len(Triangles().of(cylinder((0, 0, 0), (0, 0, 4), 3))) > 12


def test_points_lie_on_one_circle_or_on_none():
    # Six corners of a regular hexagon of 8 mm about (3, -2); the same with one corner 0.05 mm off; three on a line
    turns = np.linspace(0.0, 2 * np.pi, 7)[:-1]
    ring = np.stack((3 + 8 * np.cos(turns), -2 + 8 * np.sin(turns)), axis=1)
    dented = ring + np.array([[0.05, 0]] + [[0, 0]] * 5)
    row = np.array([[0.0, 0.0], [1.0, 1.0], [5.0, 5.0]])
    points, group = np.concatenate((ring, dented, row)), np.repeat([0, 1, 2], (6, 6, 3))
    found = circles_through(points, group)
    assert found[0] == pytest.approx((3, -2, 8), abs=1e-12) and np.isnan(found[1:]).all()
    assert circle_through(dented) is None and circle_through(dented, 0.1) is not None
