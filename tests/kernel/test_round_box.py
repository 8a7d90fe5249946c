"""Boxes of patches of rings and balls: they hold every point and touch the extremes, against points sampled on them."""

from __future__ import annotations

import numpy as np
import pytest
from OCP.BRepAdaptor import BRepAdaptor_Surface

from bench.reencode import turned
from tests.recognise.parts import ring
from worker.kernel.boolean import common, cut
from worker.kernel.primitives import box, sphere
from worker.kernel.round_box import round_box
from worker.kernel.shape import Body, faces

STEPS = 60

BODIES = [
    ring((3.0, -2.0, 5.0), 20.0, 4.0),
    common(ring((0.0, 0.0, 0.0), 20.0, 4.0), [box((2.0, 1.0, -1.0), (30.0, 30.0, 30.0))]),
    sphere((1.0, 2.0, 3.0), 14.0),
    cut(
        sphere((0.0, 0.0, 0.0), 14.0),
        [box((-9.0, -9.0, 2.0), (9.0, 9.0, 9.0)), box((-9.0, 1.0, -9.0), (9.0, 9.0, 9.0))],
    ),
]


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("seed", [None, 1, 2])
def test_a_box_holds_a_patch_and_touches_it(body: Body, seed: int | None) -> None:
    """What lies between the parameter lines, point by point: a step of 1/60 of a turn misses an extreme by less than
    24 * (1 - cos(pi / 60)) = 0.033 mm."""
    placed = body if seed is None else turned(body, seed)[0]
    boxes = [(face, found) for face in faces(placed) if (found := round_box(face)) is not None]
    assert boxes
    for face, found in boxes:
        surface = BRepAdaptor_Surface(face, True)
        us = np.linspace(surface.FirstUParameter(), surface.LastUParameter(), STEPS)
        vs = np.linspace(surface.FirstVParameter(), surface.LastVParameter(), STEPS)
        points = np.array([surface.Value(u, v).Coord() for u in us for v in vs])
        low, high = np.array(found.CornerMin().Coord()), np.array(found.CornerMax().Coord())
        assert (points >= low - 1e-9).all() and (points <= high + 1e-9).all()
        assert points.min(axis=0) == pytest.approx(low, abs=0.04)
        assert points.max(axis=0) == pytest.approx(high, abs=0.04)


def test_other_surfaces_have_none() -> None:
    assert [round_box(face) for face in faces(box((0, 0, 0), (1, 2, 3)))] == [None] * 6
