"""Triangles of flat faces against the areas of their outlines (closed forms: crescents, discs, rectangles)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.recognise.parts import block, drill, obround
from worker.kernel.boolean import cut
from worker.kernel.graph import FaceGraph, face_graph

HAIRS = [sign * size for size in (1e-6, 1e-5, 1e-4, 1e-3, 2.5e-3, 1e-2) for sign in (1, -1)]


def level(graph: FaceGraph, z: float) -> list[np.ndarray]:
    """The triangles of the flat faces at a height, face by face."""
    flat = [f.triangles for f in graph.faces if f.surface.kind == "plane" and abs(f.surface.axis[2]) > 0.999]
    return [t for t in flat if np.abs(t[..., 2] - z).max() < 1e-6]


def filled(triangles: np.ndarray) -> float:
    square = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return float(np.linalg.norm(square, axis=1).sum()) / 2


@pytest.mark.parametrize("hair", HAIRS)
def test_a_crescent_of_a_hairs_width_is_no_disc(hair: float) -> None:
    """A bore above a slot's round end: between them half a ring, pi / 2 (R^2 - r^2), beside the slot's own roof."""
    graph = face_graph(cut(block(), [obround(30, 60, 30, -1, 8, 8), drill(60, 30, 8, 21, 8 + 2 * hair)]))
    crescent = math.pi / 2 * abs((4 + hair) ** 2 - 16)
    roof = 30 * 8 + math.pi * 16 / 2 - math.pi * (4 + hair) ** 2 / 2
    wanted = [roof, crescent] if hair > 0 else [roof + crescent]
    found = sorted(map(filled, level(graph, 8)), reverse=True)
    assert found[0] == pytest.approx(wanted[0], abs=0.6)  # chords of 0.02 mm along four half circles
    assert sum(found[1:]) < 0.4 + crescent


@pytest.mark.parametrize("hair", HAIRS)
def test_a_crescent_keeps_its_place(hair: float) -> None:
    graph = face_graph(cut(block(), [obround(30, 60, 30, -1, 8, 8), drill(60, 30, 8, 21, 8 + 2 * hair)]))
    corners = np.concatenate(level(graph, 8)).reshape(-1, 3)
    assert corners[:, 0].max() == pytest.approx(64, abs=0.02)


def test_sound_triangles_stay_as_they_were() -> None:
    plate = cut(block(), [drill(x, y, -1, 21, 6) for x in (20, 40, 60, 80) for y in (15, 30, 45)])
    (top,) = level(face_graph(plate), 20)
    assert filled(top) == pytest.approx(6000 - 12 * math.pi * 9, rel=0.005)
