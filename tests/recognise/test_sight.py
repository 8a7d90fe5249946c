"""What stands over a round wall seen along its axis: chords of it lie in the metal by their sagitta."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from schemas.base import Vec3
from schemas.tolerances import SIGHT_MARGIN
from worker.kernel.graph import face_graph
from worker.kernel.primitives import cylinder
from worker.recognise.access import Sight
from worker.recognise.covering import lines_covered, walls_seen
from worker.recognise.patches import PartShape, part_shape
from worker.recognise.projection import Seen, View

RADIUS, CHORD = 22.8, 2.5


@pytest.mark.parametrize(("out", "covered"), [(0.0, False), (2 * SIGHT_MARGIN, True), (-0.1, False)])
def test_metal_that_ends_with_a_round_wall_does_not_cover_it(out: float, covered: bool) -> None:
    """Radius 22.8, a chord of 2.5: its middle lies 0.034 mm in the metal, r - sqrt(r^2 - (chord / 2)^2)."""
    x = math.sqrt(RADIUS**2 - (CHORD / 2) ** 2)
    assert RADIUS - x > SIGHT_MARGIN
    wall = Seen(np.array([[[x, -CHORD / 2], [x, CHORD / 2], [x, CHORD / 2]]]), np.array([[0.0, 0.0, 5.0]]))
    over = Seen(np.array([[[RADIUS - 3, -2.0], [RADIUS + out, 0.0], [RADIUS - 3, 2.0]]]), np.full((1, 3), 9.0))
    view = SimpleNamespace(seen=lambda _: wall, outward=lambda _: np.array([[1.0, 0.0]]), barrel=lambda _: RADIUS)
    assert lines_covered(walls_seen(cast(View, view), np.array([0])), over) == covered


@pytest.mark.parametrize(("way", "radius"), [((0.0, 0.0, 1.0), 5.0), ((1.0, 0.0, 0.0), math.inf)])
def test_only_along_its_axis_is_a_cylinder_seen_as_its_circle(way: Vec3, radius: float) -> None:
    shape = part_shape(face_graph(cylinder((0, 0, 0), (0, 0, 8), 10)))
    (round_,) = (p.index for p in shape.patches if p.surface.kind == "cylinder")
    triangles = np.arange(shape.slices[round_].start, shape.slices[round_].stop)
    assert Sight(shape).view(way).barrel(triangles) == radius


@pytest.mark.parametrize(("high", "seen"), [(0.008, True), (0.03, False)])
def test_a_sliver_at_the_border_of_a_free_form_may_look_anywhere(high: float, seen: bool) -> None:
    """0.6 long and so high, turned over beside 12 mm2 that face the direction: below MESH its normal says nothing."""
    facing = np.array([[[0, 0, 0], [6, 0, 0], [0, 4, 0]]], dtype=float)
    over = np.array([[[0, 0, 0], [0, 0.6, 0.3], [high, 0, 0]]], dtype=float)
    corners = np.concatenate([facing, over])
    flat = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    sizes = np.linalg.norm(flat, axis=1)
    patch = SimpleNamespace(surface=SimpleNamespace(kind="other"), corners=corners)
    shape = SimpleNamespace(patches=[patch], slices=[slice(0, 2)], normals=flat / sizes[:, None], areas=sizes / 2)
    assert Sight(cast(PartShape, shape)).faces_it(0, (0.0, 0.0, 1.0)) is seen
