"""Triangles of a body close: a face with a saw's teeth in its border keeps its notches, whichever way it is meshed."""

from __future__ import annotations

import numpy as np
import pytest

from examples.shapes import polygon, prism
from worker.kernel.mesh import triangulate
from worker.kernel.shape import Body

TEETH = (
    (-85, 1), (-11, 8), (-6, 3), (-5, 4), (-4, 3), (-2, 6), (1, 3), (3, 5), (46, 3), (51, 8), (83, 7), (86, 4),
    (58, -25), (-59, -25),
)  # fmt: skip
"""A border as terraces of a step leave it that is cut askew; corners in x and z (mm)."""


@pytest.mark.parametrize("swift", [True, False])
def test_notches_of_a_border_stay_open(swift: bool) -> None:
    """The area between straight lines by their corners (shoelace formula), on both ends of a prism."""
    x, z = np.array(TEETH, float).T
    area = abs(np.dot(x, np.roll(z, -1)) - np.dot(z, np.roll(x, -1))) / 2
    body = Body(prism(polygon([(float(a), 0.0, float(b)) for a, b in TEETH]), (0, 5, 0)))
    points, corners, _ = triangulate(body, 0.01, swift=swift)
    one, two, three = points[corners].transpose(1, 0, 2)
    looks = np.cross(two - one, three - one)[:, 1] / 2
    assert [looks[looks > 0].sum(), -looks[looks < 0].sum()] == pytest.approx([area, area])
