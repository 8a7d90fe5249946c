"""Triangles whose corners all lie on the bend of a face's border look where the border bends to: they say nothing of
where the face itself looks. Free-form corners of chamfers round a mouth in a round wall have some."""

from __future__ import annotations

import math

import numpy as np
import pytest

from schemas.base import Frame
from worker.field.crowns import looks_up
from worker.field.scene import Scene
from worker.field.triangles import CHORD
from worker.field.view import view_of

LONG = 0.4
"""A chord of the border (mm)."""


def _scene(height: float) -> Scene:
    """A strip that leans by 45 degrees, one long side along a chord; on that a triangle of a height that folds back
    under it: its third corner lies out and below as the border would that bends away from the strip."""
    a, b, far = (0.0, 0.0, 0.0), (LONG, 0.0, 0.0), (LONG / 2, -height, -2 * height)
    strip = [(a, b, (0.0, 1.0, -1.0)), (b, (LONG, 1.0, -1.0), (0.0, 1.0, -1.0)), (a, b, far)]
    triangles = np.array(strip)
    view = view_of(Frame())
    assert view is not None
    room = (-1.0, -1.0, 2.0, 2.0)
    return Scene(view, None, triangles, np.zeros(3, np.int32), np.zeros((0, 3, 3)), room, 1.0)


def test_slivers_on_a_bent_border_turn_no_face_over() -> None:
    """A chord of 0.4 mm stands off an arc of radius 2.5 by 0.008 (s = c^2 / 8r), less than the chords' deviation."""
    sagitta = LONG**2 / (8 * 2.5)
    assert sagitta < CHORD
    scene = _scene(sagitta / math.sqrt(5))
    assert scene.looks[2] < -0.1
    assert looks_up(scene, 0)


@pytest.mark.parametrize("height", [0.05, 1.0])
def test_what_is_wider_than_a_chord_tells(height: float) -> None:
    assert not looks_up(_scene(height), 0)
