"""Who hangs together and who stands over whom, found by boxes and arrays, against asking each of each."""

import numpy as np
import pytest

from schemas.tolerances import SIGHT_CURVED
from tests.recognise.parts import block
from worker.kernel.boolean import cut
from worker.kernel.graph import face_graph
from worker.kernel.primitives import box, cylinder
from worker.recognise.access import Sight
from worker.recognise.covering import lines_covered, pairs_covered, walls_seen
from worker.recognise.outside import _loop_from
from worker.recognise.patches import part_shape


def rings(counts, seed):
    """Closed polygons beside one another as segments in any order, ends off by less than the cells' size."""
    chance = np.random.default_rng(seed)
    segments, owner = [], []
    for number, count in enumerate(counts):
        turn = 2 * np.pi * np.arange(count) / count
        corners = np.stack([np.cos(turn) + 3.0 * number, np.sin(turn)], axis=1)
        segments.append(np.stack([corners, np.roll(corners, -1, axis=0)], axis=1))
        owner += [number] * count
    order = chance.permutation(len(owner))
    points = np.concatenate(segments)[order]
    points += chance.uniform(-4e-5, 4e-5, points.shape)
    flip = chance.random(len(points)) < 0.5
    points[flip] = points[flip][:, ::-1]
    return points, np.array(owner)[order]


@pytest.mark.parametrize("seed", range(5))
def test_a_loop_is_the_polygon_of_its_seed(seed):
    points, owner = rings([3, 400, 5, 77], seed)
    for number in range(4):
        start = int(np.flatnonzero(owner == number)[0])
        assert _loop_from(start, points).tolist() == np.flatnonzero(owner == number).tolist()


def test_ends_further_apart_than_two_cells_do_not_join():
    points = np.array([[[0.0, 0.0], [1.0, 0.0]], [[1.0003, 0.0], [2.0, 0.0]], [[1.00009, 0.0], [1.0, 5.0]]])
    assert _loop_from(0, points).tolist() == [0, 2]


def test_what_stands_over_a_patch_is_found_as_by_asking_every_pair():
    slot, bore = box((-1, 10, 5), (61, 30, 12)), cylinder((30, 20, 0), (30, 20, 31), 8)
    body = cut(block(60, 40, 30), [slot, bore, cylinder((10, -1, 20), (10, 41, 20), 6)])
    shape = part_shape(face_graph(body))
    told = set()
    for direction in ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.6, 0.0, 0.8)):
        sight = Sight(shape)
        view = sight.view(direction)
        cover = view.seen(np.flatnonzero(view.facing(slice(None)) < -SIGHT_CURVED))
        for patch in shape.patches:
            own = np.arange(*shape.slices[patch.index].indices(len(shape.corners))[:2])
            wall = np.abs(view.facing(own)) < SIGHT_CURVED
            each = pairs_covered(view.seen(own[~wall]), cover) or lines_covered(walls_seen(view, own[wall]), cover)
            assert sight._covered(patch.index, direction) == each
            told.add(each)
    assert told == {True, False}
