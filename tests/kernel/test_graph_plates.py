"""Planes with many holes as triangles: against the closed forms of their outlines' areas."""

import math

import numpy as np
import pytest

from schemas.tolerances import MESH
from worker.kernel.graph_plates import MANY, plate_triangles
from worker.kernel.graph_surface import Surface

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
