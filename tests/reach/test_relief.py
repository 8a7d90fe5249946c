"""Faces met by upright lines against closed forms: exact outlines, heights of planes and cones, no gaps at borders."""

import math

import numpy as np
import pytest

from schemas.base import Frame
from worker.kernel import boolean, primitives
from worker.kernel.relief import relief_of
from worker.kernel.shape import EMPTY
from worker.reach.raster import crossed, grid_over, highest, lowest

WORLD = Frame()
TILTED = Frame(location=(3.0, -2.0, 5.0), axis=(0.3, 0.2, 0.9327), ref_direction=(1.0, 0.0, 0.0))


def _columns(grid):
    return np.meshgrid(grid.xs(), grid.ys())


def _met(body, grid, frame=WORLD):
    found = crossed(relief_of(body, frame), grid)
    return highest(found, grid), lowest(found, grid), found


def test_a_cone_is_met_exactly_within_its_circle():
    body = primitives.cone((1.0, 2.0, 0.0), (1.0, 2.0, 6.0), 16.0, 4.0)
    grid = grid_over((-8, -7), (10, 11), 0.21)
    top, bottom, _ = _met(body, grid)
    x, y = _columns(grid)
    away = np.hypot(x - 1, y - 2)
    assert (np.isfinite(top) == (away < 8)).all()
    true = np.minimum(6.0, 8.0 - away)  # radius 8 to 2 over a height of 6
    assert np.abs(top - true)[away < 8].max() < 1e-12
    assert np.abs(bottom[away < 8]).max() < 1e-12


def test_a_hollow_cone_leaves_its_point_open():
    """A drilled hole: upright wall and conical bottom, point angle 90 degrees."""
    hole = boolean.fuse(
        [primitives.cylinder((5, 5, 4), (5, 5, 12), 6.0), primitives.cone((5, 5, 1), (5, 5, 4), 1e-3, 6.0)]
    )
    body = boolean.cut(primitives.box((0, 0, 0), (10, 10, 10)), [hole])
    grid = grid_over((0, 0), (10, 10), 0.17)
    top, _, _ = _met(body, grid)
    x, y = _columns(grid)
    away = np.hypot(x - 5, y - 5)
    inside = (away < 3) & (away > 0.01)
    assert np.abs(top - (1 + away))[inside].max() < 1e-2


@pytest.mark.parametrize("seed", range(6))
def test_closed_bodies_have_closed_columns_also_where_round_faces_meet_flat_ones(seed):
    """Boxes with crossing bores and balls: every column is entered as often as it is left, exact face or chords."""
    rng = np.random.default_rng(seed)
    body = primitives.box((0, 0, 0), (20, 14, 9))
    spots = rng.uniform((2, 2), (18, 12), (4, 2))
    tools = [primitives.cylinder((x, y, 3), (x, y, 12), 3.0) for x, y in spots[:2]]
    tools += [primitives.sphere((*spots[2], 9.0), 5.0), primitives.cylinder((-1, 7, 4.5), (21, 7, 4.5), 3.0)]
    body = boolean.cut(body, tools)
    frame = (WORLD, TILTED)[seed % 2]
    grid = grid_over((-30, -30), (40, 40), 0.23)
    top, bottom, found = _met(body, grid, frame)
    total = np.zeros(grid.nx * grid.ny)
    np.add.at(total, found.column, found.sign)
    assert not total.any()
    assert (top[np.isfinite(top)] > bottom[np.isfinite(top)]).all()


@pytest.mark.parametrize("h", [0.4, 0.1])
def test_the_area_of_a_disc_is_that_of_its_columns(h):
    body = primitives.cylinder((0.3, 0.1, 0), (0.3, 0.1, 5), 20.0)
    grid = grid_over((-11, -11), (11, 11), h)
    x, y = _columns(grid)
    top, bottom, _ = _met(body, grid)
    inside = np.hypot(x - 0.3, y - 0.1) < 10
    assert (np.isfinite(top) == inside).all()
    assert (top[inside] == 5).all() and (bottom[inside] == 0).all()
    assert abs(inside.sum() * h * h - math.pi * 100) < 3 * h * math.sqrt(h * 20 * math.pi) + 0.05


def test_tops_alone_are_the_same_tops():
    body = boolean.cut(
        primitives.box((0, 0, 0), (20, 20, 8)),
        [primitives.cylinder((10, -1, 4), (10, 21, 4), 5.0), primitives.cone((5, 5, 8), (5, 5, 3), 8.0, 2.0)],
    )
    grid = grid_over((0, 0), (20, 20), 0.19)
    whole, _, _ = _met(body, grid)
    assert (highest(crossed(relief_of(body, WORLD, tops=True), grid), grid) == whole).all()


def test_nothing_has_no_relief():
    found = relief_of(EMPTY, WORLD)
    assert found.bounds is None and not len(found.pieces) and not len(found.triangles)
    assert not len(crossed(found, grid_over((0, 0), (1, 1), 0.2)).column)
