"""Cutting block by block: by cells on a grid, where set operations are those of whole numbers and masks (mm)."""

import numpy as np
import pytest

from worker.field.clip import cut
from worker.field.field import Mesh, fill
from worker.field.lattice import make_lattice
from worker.field.lines import Lines, beside
from worker.field.stock import filled
from worker.field.windows import Window, windows_of
from worker.kernel.mesh import triangulate
from worker.kernel.primitives import box

SHAPE = (5, 7)
LENGTH = 40


def _cells(lines, count=SHAPE[0] * SHAPE[1]):
    """Which of the whole-numbered cells of each line an interval with whole-numbered ends holds; once at most."""
    held = np.zeros((count, LENGTH), int)
    for line, start, stop in zip(lines.line, lines.start, lines.stop, strict=True):
        held[line, int(start) : int(stop)] += 1
    assert held.max(initial=0) <= 1
    return held > 0


def _random_window(rng):
    i, j = (slice(*sorted(rng.integers(0, size + 1, 2).tolist())) for size in SHAPE)
    shape = rng.choice([1, i.stop - i.start]), rng.choice([1, j.stop - j.start])  # broadcast or one by one
    start, stop = rng.integers(0, LENGTH + 1, (2, *shape)).astype(float)  # every other one is empty
    return Window((i, j), start, stop)


def _without(lines, windows):
    stock = filled(windows_of(lines, SHAPE), SHAPE)
    cut(stock, windows)
    return stock.lines()


def _bars(rng):
    count = SHAPE[0] * SHAPE[1]
    ends = np.sort(rng.choice(np.arange(LENGTH // 2), (count, 2)) * 2, axis=1).astype(float)
    line = np.flatnonzero(ends[:, 1] > ends[:, 0])
    return Lines(line, ends[line, 0], ends[line, 1])


def test_random_windows_leave_the_cells_that_none_of_them_holds():
    rng = np.random.default_rng(7)
    for _ in range(60):
        lines = _bars(rng)
        windows = [*(_random_window(rng) for _ in range(rng.integers(1, 12))), *windows_of(_bars(rng), SHAPE)]
        expected = _cells(lines)
        for one in windows:
            expected &= ~_cells(one.lines(SHAPE))
        found = _without(lines, windows)
        assert np.array_equal(_cells(found), expected)
        assert np.array_equal(_cells(_without(found, [])), expected)  # several intervals to a line go in again


def test_intervals_on_numbered_lines_are_windows_that_hold_each_of_them_once():
    rng = np.random.default_rng(8)
    first, second = _bars(rng), _bars(rng)
    both = Lines(*(np.concatenate((getattr(first, k), getattr(second, k))) for k in ("line", "start", "stop")))
    order = np.argsort(both.line, kind="stable")
    for lines in (both, Lines(both.line[order], both.start[order], both.stop[order])):
        found = [w.lines(SHAPE) for w in windows_of(lines, SHAPE)]
        assert sorted((n, a, b) for f in found for n, a, b in zip(f.line, f.start, f.stop, strict=True)) == sorted(
            zip(lines.line, lines.start, lines.stop, strict=True)
        )
        assert all(np.all(np.diff(f.line) > 0) for f in found)


@pytest.mark.parametrize("teeth", [3, 19, 200])
def test_a_comb_is_cut_tooth_by_tooth_in_any_order(teeth):
    bar = Lines(np.arange(35), np.zeros(35), np.full(35, 2.0 * teeth))
    gaps = [
        Window((slice(0, 5), slice(0, 7)), np.full((1, 1), 2.0 * k), np.full((1, 1), 2.0 * k + 1)) for k in range(teeth)
    ]
    for order in (np.arange(teeth), np.arange(teeth)[::-1], np.random.default_rng(5).permutation(teeth)):
        found = _without(bar, [gaps[k] for k in order])
        assert len(found) == 35 * teeth
        assert np.array_equal(np.unique(found.start), 2.0 * np.arange(teeth) + 1)
        assert np.array_equal(np.unique(found.stop), 2.0 * np.arange(teeth) + 2)


def test_what_lies_beside_intervals_is_all_but_them():
    rng = np.random.default_rng(9)
    for _ in range(20):
        held = _without(_bars(rng), [_random_window(rng) for _ in range(4)])
        order = np.lexsort((held.start, held.line))
        lines = Lines(held.line[order], held.start[order], held.stop[order])
        assert np.array_equal(_cells(beside(lines, 35, 0.0, float(LENGTH))), ~_cells(lines))


def test_a_block_is_known_by_its_corners_and_gives_the_lines_of_its_triangles():
    low, high = np.zeros(3), np.array([10.0, 8.0, 6.0])
    lattice = make_lattice(low, high, ([2.0, 9.0], [1.0, 5.0], [3.0]), 0.7)
    points, corners, _ = triangulate(box((2.0, 1.0, 0.0), (9.0, 5.0, 3.0)))
    block = Mesh(points[corners])
    for axis in range(3):
        found, crossed = fill(lattice, [block]).along[axis], block.lines(lattice, axis)
        for one, other in ((found.line, crossed.line), (found.start, crossed.start), (found.stop, crossed.stop)):
            assert np.allclose(one, other, rtol=0, atol=1e-12)
    wedge = points[corners].copy()
    wedge[wedge[:, :, 2] > 2.9, 0] = 2.0  # the same corners, half the volume
    assert fill(lattice, [Mesh(wedge)]).volumes()[0] == pytest.approx(7 * 4 * 3 / 2, rel=0.05)
