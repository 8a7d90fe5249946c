"""Volumes of the tri-dexel field against closed forms, with the error shrinking as the cells do."""

import math

import numpy as np
import pytest

from schemas.base import Frame
from worker.field.bound import best_axis, chord_error, facts_of, stops
from worker.field.field import Mesh, fill
from worker.field.lattice import make_lattice
from worker.field.lines import Lines, intersect, of_crossings, subtract, union
from worker.kernel import boolean
from worker.kernel.mesh import triangulate
from worker.kernel.primitives import box, cone, cylinder, sphere


def _mesh(body, deflection=0.001):
    points, corners, _ = triangulate(body, deflection)
    return Mesh(points[corners])


def _lattice(h, planes=((), (), ()), size=20.0):
    return make_lattice(np.full(3, -size), np.full(3, size), planes, h)


def _lines(*intervals):
    line, start, stop = zip(*intervals, strict=True) if intervals else ((), (), ())
    return Lines(np.array(line, np.int64), np.array(start, float), np.array(stop, float))


def _as_set(lines):
    return sorted(zip(lines.line.tolist(), lines.start.tolist(), lines.stop.tolist(), strict=True))


def test_set_operations_on_intervals():
    a = _lines((0, 0, 10), (1, 0, 4), (1, 6, 9))
    b = _lines((0, 2, 3), (0, 8, 12), (1, 3, 7), (2, 0, 1))
    assert _as_set(subtract(a, b)) == [(0, 0, 2), (0, 3, 8), (1, 0, 3), (1, 7, 9)]
    assert _as_set(union(a, b)) == [(0, 0, 12), (1, 0, 9), (2, 0, 1)]
    assert _as_set(intersect(a, b)) == [(0, 2, 3), (0, 8, 10), (1, 3, 4), (1, 6, 7)]
    assert _as_set(union(_lines((3, 0, 1), (3, 1, 2)))) == [(3, 0, 2)]
    assert len(subtract(a, a)) == 0


def test_a_line_through_a_seam_of_the_surface_is_wrong_for_itself_alone():
    """Line 1 never leaves, line 3 never enters; each of the others holds what lies between its two crossings."""
    line = np.array([0, 0, 1, 2, 2, 3, 4, 4, 4, 4])
    at = np.array([1.0, 5.0, 2.0, 3.0, 1.0, 4.0, 0.0, 2.0, 6.0, 4.0])
    sign = np.array([-1, 1, -1, 1, -1, 1, -1, 1, 1, -1], np.int8)
    assert _as_set(of_crossings(line, at, sign)) == [(0, 1, 5), (2, 1, 3), (4, 0, 2), (4, 4, 6)]


def test_cells_have_borders_in_the_planes():
    lattice = _lattice(0.7, ((1.234, -5.5), (3.21,), (0.0, 0.0004)))
    for plane, axis in ((1.234, 0), (-5.5, 0), (3.21, 1), (0.0, 2)):
        assert np.abs(lattice.borders[axis] - plane).min() == 0.0
    assert all(w.max() <= 0.7 + 1e-9 and w.min() > 0 for w in lattice.widths)


def test_boxes_on_the_planes_are_exact_at_any_cell_size():
    body = boolean.cut(box((-7.3, -4.1, -2.2), (6.6, 5.7, 9.9)), [box((0.13, -1.7, 3.3), (6.6, 2.9, 9.9))])
    planes = ((-7.3, 6.6, 0.13), (-4.1, 5.7, -1.7, 2.9), (-2.2, 9.9, 3.3))
    exact = 13.9 * 9.8 * 12.1 - 6.47 * 4.6 * 6.6
    for h in (3.0, 0.9):
        assert fill(_lattice(h, planes), [_mesh(body)]).volumes() == pytest.approx((exact,) * 3, rel=1e-12)


CASES = {
    "Steinmetz, V06": (
        lambda: boolean.common(cylinder((0, 0, -20), (0, 0, 20), 10), [cylinder((-20, 0, 0), (20, 0, 0), 10)]),
        16 * 125 / 3,
    ),
    "crossing holes, V07": (
        lambda: boolean.fuse([cylinder((0, 0, -20), (0, 0, 20), 10), cylinder((-20, 0, 0), (20, 0, 0), 10)]),
        2 * math.pi * 25 * 40 - 16 * 125 / 3,
    ),
    "drilled hole with its point, V01": (
        lambda: boolean.fuse(
            [
                cylinder((0, 0, -15), (0, 0, 15), 10),
                cone((0, 0, -15 - 5 / math.tan(math.radians(59))), (0, 0, -15), 0, 10),
            ]
        ),
        2434.846961,
    ),
    "groove of a ball cutter, V05": (
        lambda: boolean.common(
            boolean.fuse([cylinder((-15, 0, 0), (15, 0, 0), 10), sphere((-15, 0, 0), 10), sphere((15, 0, 0), 10)]),
            [box((-20, -20, -20), (20, 20, 0))],
        ),
        math.pi * 25 * 30 / 2 + 2 * math.pi * 125 / 3,
    ),
}


def _seen(body, h):
    """Volume by the best set of lines, and the bound that goes with it."""
    points, corners, owner = triangulate(body, 0.001)
    facts = facts_of(points[corners], owner)
    lattice = make_lattice(np.full(3, -20.0), np.full(3, 20.0), stops([facts], h), h)
    axis, bound = best_axis(facts.rounds, h)
    return fill(lattice, [Mesh(points[corners])]).volumes()[axis], bound + chord_error(facts.rounds, 0.001)


@pytest.mark.parametrize("name", CASES)
def test_rounded_bodies_converge_within_their_bound(name):
    """The error falls with the 3/2 power of the cell and stays below what is stated."""
    make, exact = CASES[name]
    body = make()
    bounds = []
    for h in (1.6, 0.8, 0.4, 0.2):
        found, bound = _seen(body, h)
        assert abs(found - exact) <= bound, h
        bounds.append(bound)
    assert bounds[-1] < bounds[0] / 6
    assert bounds[-1] < 4e-3 * exact


@pytest.mark.parametrize(("width", "leg"), [(30.0, 1.0), (30.0, 2.5), (17.0, 0.7)])
def test_chamfers_are_seen_along_their_edge_too(width, leg):
    """A slope of 45 degrees must not run through the middles of cells: all of them would fall on one side."""
    prism = boolean.cut(box((0, 0, 0), (width, 12, 9)), [_wedge(width, leg)])
    exact = width * (12 * 9 - leg * leg / 2)
    points, corners, owner = triangulate(prism)
    facts = facts_of(points[corners], owner)
    lattice = make_lattice(np.full(3, -1.0), np.array([width + 1, 13, 10]), stops([facts], 0.25), 0.25)
    volumes = fill(lattice, [Mesh(points[corners])]).volumes()
    assert volumes == pytest.approx((exact,) * 3, abs=0.25 * width * leg * 0.05 + 1e-6)


def _wedge(width, leg):
    frame = Frame(location=(0, 12, 9 - leg), axis=(0, 1, 1), ref_direction=(1, 0, 0))
    return box((-1, -50, 0), (width + 1, 50, 50), frame)


def test_all_three_sets_of_lines_see_the_same_ball():
    exact = 4 / 3 * math.pi * 9**3
    volumes = fill(_lattice(0.2), [_mesh(sphere((0.1, 0.2, 0.3), 18))]).volumes()
    assert volumes == pytest.approx((exact,) * 3, rel=3e-4)


def test_cutting_a_mesh_away_leaves_the_rest():
    block = _mesh(box((-20, -20, -20), (20, 20, 20)))
    field = fill(_lattice(0.4, ((-5.0, 5.0),) * 3), [block]).without([_mesh(CASES["crossing holes, V07"][0]())])
    along_y = field.volumes()[1]  # square to both holes
    assert along_y == pytest.approx(64000 - CASES["crossing holes, V07"][1], rel=3e-4)
