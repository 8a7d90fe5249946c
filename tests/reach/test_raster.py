"""Height maps against closed forms: planes, discs by their area, distances by the theorem of Pythagoras."""

import math

import numpy as np
import pytest

from worker.kernel import primitives
from worker.kernel.mesh import triangulate
from worker.reach.distance import distance, farther, lengths, nearest, squares
from worker.reach.raster import Grid, grid_over, highest, hits, lowest


def _triangles(body):
    points, corners, _ = triangulate(body)
    return points[corners]


def test_a_tilted_plane_is_met_at_its_exact_height():
    corners = np.array([[0, 0, 1.0], [10, 0, 3.0], [10, 5, 4.0], [0, 5, 2.0]])
    grid = grid_over((0, 0), (10, 5), 0.3)
    top = highest(hits(corners[np.array([[0, 1, 2], [0, 2, 3]])], grid), grid)
    x, y = np.meshgrid(grid.xs(), grid.ys())
    inside = (x > 0) & (x < 10) & (y > 0) & (y < 5)
    assert (np.isfinite(top) == inside).all()
    assert np.abs(top - (1 + 0.2 * x + 0.2 * y))[inside].max() < 1e-12


def test_columns_of_a_closed_body_enter_as_often_as_they_leave():
    body = primitives.cone((3, 4, 0), (8, 9, 12), 14.0, 3.0)
    grid = grid_over((-10, -10), (25, 25), 0.37)
    found = hits(_triangles(body), grid)
    total = np.zeros(grid.nx * grid.ny)
    np.add.at(total, found.column, found.sign)
    assert not total.any()


def test_a_column_through_the_common_edge_meets_one_triangle():
    square = np.array([[0, 0, 0.0], [4, 0, 0], [4, 4, 0], [0, 4, 0]])
    grid = Grid(-1.0, -1.0, 1.0, 7, 7)  # columns exactly on the diagonal, the sides and the corners
    found = hits(square[np.array([[0, 1, 2], [0, 2, 3]])], grid)
    assert len(found.column) == len(set(found.column.tolist())) == 16


@pytest.mark.parametrize("h", [0.4, 0.2, 0.1])
def test_the_area_of_a_disc_converges(h):
    body = primitives.cylinder((0.3, 0.1, 0), (0.3, 0.1, 5), 20.0)
    points, corners, _ = triangulate(body, 0.001)
    grid = grid_over((-11, -11), (11, 11), h)
    area = np.isfinite(highest(hits(points[corners], grid), grid)).sum() * h * h
    assert abs(area - math.pi * 100) < 3 * h * math.sqrt(h * 20 * math.pi) + 0.05


def test_top_and_bottom_of_a_ball():
    body = primitives.sphere((0, 0, 7), 12.0)
    points, corners, _ = triangulate(body, 0.002)
    grid = grid_over((-6, -6), (6, 6), 0.25)
    found = hits(points[corners], grid)
    top, bottom = highest(found, grid), lowest(found, grid)
    x, y = np.meshgrid(grid.xs(), grid.ys())
    inner = np.hypot(x, y) < 5
    rise = np.sqrt(36 - x[inner] ** 2 - y[inner] ** 2)
    assert np.abs(top[inner] - 7 - rise).max() < 0.005
    assert np.abs(bottom[inner] - 7 + rise).max() < 0.005


def test_distance_is_euclidean_up_to_its_limit():
    mask = np.zeros((60, 80), bool)
    mask[20, 30] = mask[50, 70] = True
    rows, columns = np.mgrid[0:60, 0:80]
    true = 0.5 * np.minimum(np.hypot(rows - 20, columns - 30), np.hypot(rows - 50, columns - 70))
    found = distance(mask, 0.5, 12.0)
    assert np.abs(found - true)[true <= 12].max() < 1e-6
    assert np.isinf(found[true > 12]).all()


@pytest.mark.parametrize(("h", "limit"), [(0.25, 6.0), (0.2, 5.0), (0.3, 0.01), (0.7, 2.1)])
def test_what_is_farther_is_told_from_squares_as_from_lengths(h: float, limit: float):
    """Pythagoras again: exactly at the limit, a hair below it and far below it; whole numbers of cells lie on it."""
    mask = np.zeros((40, 50), bool)
    mask[7, 9] = mask[30, 44] = True
    rows, columns = np.mgrid[0:40, 0:50]
    cells = np.minimum((rows - 7) ** 2 + (columns - 9) ** 2, (rows - 30) ** 2 + (columns - 44) ** 2)
    for least in (limit, limit - 1e-9, limit - 0.05 * h, 0.5 * limit, 0.0, -0.1):
        true = (np.sqrt(cells) * h >= least) | (np.sqrt(cells) * h > limit)
        assert (farther(mask, h, limit, least) == true).all()
    assert farther(np.zeros((5, 6), bool), h, limit, limit).all()


def test_nearest_names_the_column_that_is_nearest():
    rng = np.random.default_rng(4)
    mask = rng.random((40, 50)) < 0.02
    found = nearest(mask, np.ones_like(mask), 0.25, 6.0).reshape(mask.shape)
    rows, columns = np.mgrid[0:40, 0:50]
    near_rows, near_columns = np.divmod(found, 50)
    measured = 0.25 * np.hypot(rows - near_rows, columns - near_columns)
    known = found >= 0
    assert np.abs(measured - distance(mask, 0.25, 6.0))[known].max() < 1e-6
    assert mask.ravel()[found[known]].all()
    assert (known == np.isfinite(distance(mask, 0.25, 6.0))).all()


def test_the_first_of_equally_near_columns_is_named():
    mask = np.zeros((9, 9), bool)
    mask[0, 4] = mask[4, 0] = mask[4, 8] = mask[8, 4] = True
    for asked, named in (((4, 4), (0, 4)), ((5, 4), (8, 4)), ((8, 8), (4, 8)), ((6, 2), (4, 0))):
        of = np.zeros_like(mask)
        of[asked] = True
        assert nearest(mask, of, 1.0, 6.0).tolist() == [9 * named[0] + named[1]]


@pytest.mark.parametrize("rows", [1, 3, 40])
def test_distances_of_some_columns_are_those_of_all(rows):
    """Few rows with members and many go two ways; Pythagoras for each pair."""
    rng = np.random.default_rng(rows)
    mask = np.zeros((40, 50), bool)
    mask[rng.permutation(40)[:rows]] = rng.random((rows, 50)) < 0.05
    at, members = np.indices(mask.shape).reshape(2, -1), np.argwhere(mask)
    true = np.hypot(at[0][:, None] - members[:, 0], at[1][:, None] - members[:, 1]).min(axis=1).reshape(mask.shape)
    found = lengths(squares(mask, 0.5, 6.0, slice(3, 21), slice(7, 31)), 0.5, 6.0)
    assert np.array_equal(found, np.where(0.5 * true > 6.0, np.inf, 0.5 * true)[3:21, 7:31])


def test_nothing_is_near_an_empty_set():
    assert np.isinf(distance(np.zeros((5, 6), bool), 0.2, 3.0)).all()
    assert (nearest(np.zeros((5, 6), bool), np.ones((5, 6), bool), 0.2, 3.0) == -1).all()
