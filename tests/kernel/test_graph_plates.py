"""Planes with many holes as triangles: against the closed forms of their outlines' areas."""

import math

import numpy as np
import pytest

from schemas.tolerances import MESH
from worker.kernel.boolean import cut
from worker.kernel.graph import face_graph
from worker.kernel.graph_plates import MANY, plate_triangles
from worker.kernel.graph_surface import Surface
from worker.kernel.primitives import box, cone, cylinder

COUNT, PITCH, RADIUS = 13, 10.0, 4.5
PLACES = [(PITCH * (i + 0.5), PITCH * (j + 0.5)) for i in range(COUNT) for j in range(COUNT)]
EDGE = COUNT * PITCH
TOP = Surface("plane", (0.0, 0.0, 7.0), (0.0, 0.0, 1.0))


def straight(number, a, b):
    return ("line", number, (number + 1) % 4, ((*a, 7.0), (*b, 7.0)))


def hole(number, x, y):
    """Clockwise, as the metal lies on its left."""
    turns = [-math.tau * k / 16 for k in range(17)]
    return ("circle", number, number, tuple((x + RADIUS * math.cos(t), y + RADIUS * math.sin(t), 7.0) for t in turns))


def plate():
    corners = [(0.0, 0.0), (EDGE, 0.0), (EDGE, EDGE), (0.0, EDGE)]
    return [straight(k, corners[k], corners[(k + 1) % 4]) for k in range(4)] + [
        hole(4 + k, x, y) for k, (x, y) in enumerate(PLACES)
    ]


def test_triangles_fill_a_plane_between_all_its_holes():
    corners = plate_triangles(TOP, plate())
    doubled = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert (doubled[:, 2] > 0).all() and np.abs(corners[..., 2] - 7.0).max() < 1e-9
    exact = EDGE**2 - len(PLACES) * math.pi * RADIUS**2
    assert exact < doubled[:, 2].sum() / 2 < exact + len(PLACES) * math.tau * RADIUS * MESH
    middles = corners.mean(axis=1)[:, None, :2] - np.array(PLACES)
    assert np.hypot(middles[..., 0], middles[..., 1]).min() > RADIUS - MESH


@pytest.mark.parametrize("odd", [("other", 4, 4, ((1.0, 1.0, 7.0), (2.0, 1.0, 7.0))), straight(0, (0, 0), (5, 5))])
def test_free_forms_and_outlines_that_touch_are_left_to_the_kernel(odd):
    assert plate_triangles(TOP, [*plate(), odd]) is None
    assert plate_triangles(TOP, plate()[: MANY - 1]) is None


@pytest.mark.parametrize(("outer", "inner", "aside"), [(40.0, 10.0, 0.0), (40.0, 39.5, 0.0), (40.0, 10.0, 3.0)])
def test_rings_between_circles_are_filled(outer, inner, aside):
    """Both ends of a tube, also where the hole lies aside of its middle: the area of the ring (closed form), but for
    chords, with all triangles on one side."""
    tube = cut(cylinder((0, 0, 0), (0, 0, 5), outer), [cylinder((aside, 0, -1), (aside, 0, 6), inner)])
    ends = [f for f in face_graph(tube).faces if f.surface.kind == "plane"]
    for end in ends:
        a, b, c = end.triangles.transpose(1, 0, 2)
        areas = np.cross(b - a, c - a) @ np.array(end.surface.axis) / 2
        assert areas.min() > 0
        assert areas.sum() == pytest.approx(math.pi * (outer**2 - inner**2) / 4, rel=0.02, abs=0.3)
    assert len(ends) == 2


def test_the_cone_of_a_drill_is_triangulated_to_its_point():
    """6 mm deep, 10 mm wide: its area by the closed form pi r s, but for chords, and it looks up out of the metal."""
    bored = cut(box((0, 0, 0), (30, 30, 20)), [cone((15, 15, 14), (15, 15, 20), 0.0, 10.0)])
    tip = next(f for f in face_graph(bored).faces if f.surface.kind == "cone")
    assert tip.area == pytest.approx(math.pi * 5.0 * math.hypot(5.0, 6.0), rel=0.02)
    assert tip.triangles.reshape(-1, 3)[:, 2].min() == pytest.approx(14.0, abs=1e-9)
    assert tip.normal[2] > 0
