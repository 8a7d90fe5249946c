"""Faces at which the kernel's swift triangulator ends the process as they lie, and faces that it alone does in time.

Areas against the closed forms r2 (1 - pi / 4) and r2 pi / 4. Each work runs in a child of its own, which may die.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from bench.forked import answer_of
from schemas.base import Frame, any_frame
from schemas.tolerances import MESH
from worker.kernel.boolean import cut
from worker.kernel.graph_mesh import face_triangles
from worker.kernel.mesh import triangulate
from worker.kernel.outline import three_point_arc
from worker.kernel.planar import Region
from worker.kernel.planar_edge import line
from worker.kernel.primitives import box, cylinder
from worker.kernel.sweep import prism, region_faces

FINE = 0.0015
"""Chords (mm) of a closer look."""
FRAME = any_frame((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))


def quarter(radius: float, left: bool) -> Region:
    """A quarter of a disc in the corner of its square, or what it leaves of the square (``left``)."""
    near = radius * math.cos(math.pi / 4)
    middle = (radius - near, radius - near) if left else (near, near)
    ends = (radius, 0.0), (0.0, radius)
    return Region(((line((0.0, 0.0), ends[0]), three_point_arc(ends[0], middle, ends[1]), line(ends[1], (0.0, 0.0))),))


def area(corners: np.ndarray) -> float:
    """Of triangles (n, 3, 3), mm2."""
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return float(np.linalg.norm(across, axis=1).sum() / 2)


def finely(region: Region, frame: Frame = FRAME) -> float:
    """Area of a plate's foot as the second opinion looks at it closely."""
    points, corners, _ = triangulate(prism(region, frame, 0.0, 1.0), FINE, swift=True)
    above = (points - frame.location) @ np.array(frame.z)
    return area(points[corners[(above[corners] == 0.0).all(axis=1)]])


def as_read(region: Region, frame: Frame = FRAME) -> float:
    """Area of the face as recognition looks at it."""
    (face,) = region_faces(region, frame, 0.0)
    return area(face_triangles(face, (face,))[0])


RADII = (12.5, 18.0, 21.5, 32.0, 43.5, 59.0, 64.0, 73.75, 74.5, 83.25, 87.0, 89.25)


@pytest.mark.parametrize("left", [True, False])
def test_quarters_of_discs_are_triangulated_without_harm(left: bool) -> None:
    shares = 1 - math.pi / 4 if left else math.pi / 4
    found = answer_of(lambda: [[finely(quarter(r, left)), as_read(quarter(r, left))] for r in RADII])
    for radius, (fine, coarse) in zip(RADII, found, strict=True):
        along = radius * math.pi / 2
        assert fine == pytest.approx(shares * radius**2, abs=FINE * along)
        assert coarse == pytest.approx(shares * radius**2, abs=MESH * along)


STRIP = 55.02890838568302, 0.5946751269242168
"""Length and width (mm) of a strip that leans by 60 degrees, notched at both ends as terraces leave it."""
NOTCHES = (
    (0.0, 0.0), (27.514454192841505, 47.65643260452802), (26.999450425926398, 47.95377016799013),
    (26.827782503621364, 47.65643260452802), (6.940000000000005, 13.20978285837645),
    (6.253328310779857, 12.020432604528018), (-7.105427357601002e-15, 1.1893502538484313),
    (-0.5150037669151075, 0.2973375634621078),
)  # fmt: skip
"""The strip's outline, to the last bit, with the points that its neighbours leave on one side."""


def strip_areas() -> list[list[float]]:
    """The strip's area with fine chords and as recognition looks at it, begun at each of its corners."""
    frame = Frame(location=(50.353567395471984, 94.56, 44.88), axis=(0, -1, 0), ref_direction=(0, 0, -1))
    rings = [(*NOTCHES[n:], *NOTCHES[: n + 1]) for n in range(len(NOTCHES))]
    strips = [Region((tuple(line(a, b) for a, b in pairwise(ring)),)) for ring in rings]
    return [[finely(strip, frame), as_read(strip, frame)] for strip in strips]


def test_strips_with_points_along_a_side_are_triangulated_without_harm() -> None:
    """Against length times width."""
    assert answer_of(strip_areas) == [[pytest.approx(math.prod(STRIP), rel=1e-9)] * 2] * len(NOTCHES)


def test_plane_faces_meet_round_ones_without_gaps() -> None:
    """A plate with 36 holes: by Gauss, its volume is the same from wherever it is summed only where the skin closes."""
    size, thick, radius, count = 48.0, 10.0, 1.5, 36
    holes = [cylinder((8 * i + 4, 8 * j + 4, -1), (8 * i + 4, 8 * j + 4, 11), 3) for i in range(6) for j in range(6)]
    points, corners, _ = triangulate(cut(box((0, 0, 0), (size, size, thick)), holes), FINE, swift=True)
    a, b, c = (points[corners] - points[0]).transpose(1, 0, 2)
    far = np.array([1000.0, -2000.0, 500.0])
    volume, moved = (float(np.sum((a + o) * np.cross(b + o, c + o)) / 6) for o in (np.zeros(3), far))
    assert moved == pytest.approx(volume, abs=1e-4)
    chords = count * 2 * math.pi * radius * thick * FINE
    assert volume == pytest.approx((size**2 - count * math.pi * radius**2) * thick, abs=chords)
