"""Triangles of flat faces held to the faces' outlines: on slivers the kernel's triangulators go astray.

A crescent of a micrometre comes back as the disc beside it, or a plane with such a horn as a scrap of itself; either
would stand in the way of lines of sight, or leave a face out.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from OCP.TopoDS import TopoDS_Face

from schemas.base import Vec3
from worker.kernel.graph_mesh import Corners, face_triangles

SHARE, ROUNDING, LEAST = 0.02, 0.05, 0.05
"""Areas agree within this share, this share of what round edges cut off (chords), and this many mm2."""
Uses = Sequence[tuple[tuple[int, int], tuple[Vec3, ...]]]
"""For each edge its two faces, the one that has it forward first, and points along it."""


def mended(
    shapes: Sequence[TopoDS_Face], flat: Sequence[bool], corners: Sequence[Corners], uses: Uses
) -> list[Corners]:
    """The triangles of all faces; those of ``flat`` faces that do not fill the outline are made anew.

    They come with triangles without area along the edges, since horns of a hair's width are left out; where no
    triangulator fills the outline, these are all.
    """
    found = list(corners)
    outlines, rounding = _outlines(uses, len(found))
    for face, triangles in enumerate(corners):
        outline, slack = outlines[face], LEAST + SHARE * outlines[face] + ROUNDING * rounding[face]
        if not flat[face] or not len(triangles) or abs(_area(triangles) - outline) < slack:
            continue
        again = face_triangles(shapes[face], (shapes[face],), swift=False)[0]
        sound = [again] if abs(_area(again) - outline) < slack else []
        found[face] = np.concatenate([*sound, _edges_of(uses, face)])
    return found


def _area(corners: Corners) -> float:
    return (
        float(np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum()) / 2
    )


def _outlines(uses: Uses, count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """For each face the area that its edges enclose, if it is flat, and the area between its edges and their chords."""
    total, rounding = np.zeros((count, 3)), np.zeros(count)
    if not uses:
        return total[:, 0], rounding
    sizes = np.array([len(points) for _, points in uses])
    points = np.array([p for _, line in uses for p in line])
    ends = np.cumsum(sizes)
    inner = np.ones(len(points), bool)
    inner[ends - 1] = False
    edge = np.repeat(np.arange(len(uses)), sizes)[inner]
    start = points[ends - sizes]
    a, b = points[inner], np.roll(points, -1, axis=0)[inner]
    bulge = _per_edge(edge, np.cross(a - start[edge], b - start[edge]), len(uses))
    swept = bulge + np.cross(start - points[0], points[ends - 1] - points[0]) / 2
    faces = np.array([pair for pair, _ in uses])
    np.add.at(total, faces[:, 0], swept)
    np.subtract.at(total, faces[:, 1], swept)
    for side in (0, 1):
        np.add.at(rounding, faces[:, side], np.linalg.norm(bulge, axis=1))
    return np.linalg.norm(total, axis=1), rounding


def _per_edge(edge: NDArray[np.intp], doubled: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    found = np.zeros((count, 3))
    np.add.at(found, edge, doubled / 2)
    return found


def _edges_of(uses: Uses, face: int) -> Corners:
    lines = [(a, b, b) for pair, points in uses if face in pair for a, b in pairwise(points)]
    return np.array(lines)
