"""Floors with a round border put together face by face, against closed forms (Pappus)."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from examples.shapes import volume
from schemas.base import Frame
from worker.kernel.planar import Region, disc, rectangle, union
from worker.kernel.planar_edge import arcs, line
from worker.kernel.sewn_corner import sewn
from worker.kernel.validity import is_sound

PIECES = 40
HIGH = 15.0
PI = math.pi


def _pocket(corner: float) -> Region:
    """60 x 40 with round corners, each of many short arcs and one far shorter than what is sewn."""
    edges = []
    for k, (x, y) in enumerate(((30 - corner, -20 + corner), (30 - corner, 20 - corner), (-30 + corner, 20 - corner),
                                (-30 + corner, -20 + corner))):  # fmt: skip
        start = (k - 1) * PI / 2
        stops = [start, start + 2e-5, *(start + PI / 2 * i / PIECES for i in range(1, PIECES + 1))]
        corners = [e for a, b in pairwise(stops) for e in arcs((x, y), corner, a, b - a)]
        edges += [line(edges[-1].b, corners[0].a), *corners] if edges else corners
    edges.append(line(edges[-1].b, edges[0].a))
    return Region((tuple(edges),))


def _left(radius: float, corner: float) -> float:
    """Metal between floor, wall and the cutter's corner, once round the pocket."""
    section = (1 - PI / 4) * radius**2
    centroid = radius * (10 - 3 * PI) / (12 - 3 * PI)
    return section * (2 * (60 - 2 * corner) + 2 * (40 - 2 * corner) + 2 * PI * (corner - centroid))


@pytest.mark.parametrize(("radius", "corner"), [(3.0, 6.0), (6.0, 6.0), (0.2, 1.0)], ids=["bull", "ball", "small"])
def test_a_border_of_many_short_arcs(radius: float, corner: float) -> None:
    frame = Frame(location=(1.0, 2.0, 3.0), axis=(1, 2, 2), ref_direction=(2, 1, -2))
    found = sewn(_pocket(corner), frame, -2.0, HIGH - 2.0, radius)
    assert found is not None and is_sound(found)
    exact = (60 * 40 - (4 - PI) * corner**2) * HIGH - _left(radius, corner)
    assert volume(found.wrapped) == pytest.approx(exact, rel=1e-9)


def test_a_ring_about_an_island() -> None:
    """Outer circle of 20, inner one of 8: the section turned about both (its centroid lies so far off the walls)."""
    ring = Region((*disc((0.0, 0.0), 20.0).loops, arcs((0.0, 0.0), 8.0, 0.0, -2 * PI)))
    found = sewn(ring, Frame(), 0.0, HIGH, 2.0)
    section, off = (1 - PI / 4) * 4, 2 * (10 - 3 * PI) / (12 - 3 * PI)
    exact = PI * (400 - 64) * HIGH - 2 * PI * section * ((20 - off) + (8 + off))
    assert found is not None and volume(found.wrapped) == pytest.approx(exact, rel=1e-9)


def test_a_border_with_corners_is_left_to_others() -> None:
    assert sewn(rectangle(0, 0, 30, 20), Frame(), 0.0, HIGH, 1.0) is None
    cross = union([rectangle(-20, -5, 20, 5), rectangle(-5, -20, 5, 20)])
    assert sewn(cross, Frame(), 0.0, HIGH, 1.0) is None
