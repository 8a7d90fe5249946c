"""The part's shadow above heights at which a slanting fillet ends: by the solid's outlines, by the field's triangles.

Neither knows the other's way; between two heights of the pocket both fall by what the slope uncovers.
"""

import functools

import numpy as np
import pytest

from schemas.base import Frame
from tests.support.filleted import filleted_at
from tests.volumes.test_sloping_floors import DEEP, LONG, SHALLOW, sloped
from worker.field.arcs import NOTHING
from worker.field.plane import Shadow, area
from worker.field.scene import Scene
from worker.field.view import view_of
from worker.kernel.mesh import triangulate
from worker.kernel.shadow import Skyline
from worker.kernel.shape import Body

FALL = (DEEP - SHALLOW) / LONG


def _on_the_slope(x, y, z):
    return abs(z + 12.5 + FALL * x) < 1e-5 and abs(x) < 21 and abs(y) < 16


@functools.cache
def _part():
    return Body(filleted_at(sloped(), 1.0, _on_the_slope))


@functools.cache
def _up():
    points, corners, _ = triangulate(_part(), 0.002)
    triangles = points[corners]
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return triangles[across[:, 2] > 0]


@pytest.mark.parametrize("z", [-13.867, -13.73, -13.456, -12.0])
def test_a_thin_end_of_a_fillet_leaves_the_outline_closed(z):
    """Triangles within 0.002 of round borders some 100 long: 0.2 mm2."""
    borders = np.linspace(-30.0, 30.0, 2401)
    seen = area(Shadow(_up(), z), (borders[1:] + borders[:-1]) / 2, np.diff(borders))
    assert Skyline(_part(), Frame()).above(z).area == pytest.approx(seen, abs=0.2)


def _wall(offsets):
    """A strip of an upright round wall of 5, 0.1 high, its upper corners so far (mm) off it."""
    turns = np.linspace(0.0, 1.0, len(offsets))
    rings = [
        np.stack((r * np.cos(turns), r * np.sin(turns), np.full_like(turns, z)), axis=1)
        for r, z in ((5.0 + 0.0 * turns, 0.0), (5.0 + offsets, 0.1))
    ]
    (a, b), (c, d) = ((ring[:-1], ring[1:]) for ring in rings)
    return np.concatenate([np.stack((a, b, c), axis=1), np.stack((b, d, c), axis=1)])


@pytest.mark.parametrize(
    ("offsets", "upright"),
    [(1e-4 * np.tile([1.0, -1.0], 20), True), (np.full(40, -3e-4), False), (np.full(40, -5e-5), True)],
    ids=["corners off both ways", "a draft of 0.17 degrees", "a draft of 0.03 degrees"],
)
def test_a_wall_whose_corners_lie_off_both_ways_stands_upright(offsets, upright):
    wall = _wall(offsets)
    view, room = view_of(Frame()), (-5.0, -5.0, 5.0, 5.0)
    scene = Scene(view, None, wall, np.zeros(len(wall), np.int32), NOTHING, room, 1.0)
    assert bool((scene.looks == 0.0).all()) == upright
