"""Triangles of faces held to the faces' outlines: on slivers the kernel's triangulators go astray, and elsewhere.

A crescent of a micrometre comes back as the disc beside it, or a plane with such a horn as a scrap of itself; either
would stand in the way of lines of sight, or leave a face out. Whatever a face's shape, the area vectors of its
triangles add up to that of its outline (Stokes).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from OCP.TopoDS import TopoDS_Face

from schemas.base import Vec3
from schemas.tolerances import COINCIDENT
from worker.kernel.graph_mesh import Corners, face_triangles, redrawn
from worker.kernel.graph_surface import crossed

SHARE, ROUNDING, LEAST = 0.02, 0.05, 0.05
"""Areas agree within this share, this share of what round edges cut off (chords), and this many mm2."""
COARSE = math.cos(math.radians(30.0))
"""Mean cosine between an edge's chords: a circle's sixteen turn by 22.5 degrees each."""
Vector = NDArray[np.float64]
Uses = Sequence[tuple[tuple[int, int], Sequence[Vec3] | Corners]]
"""For each edge its two faces, the one that has it forward first, and points along it."""


def mended(
    shapes: Sequence[TopoDS_Face], flat: Sequence[bool], corners: Sequence[Corners], uses: Uses
) -> tuple[list[Corners], tuple[int, ...]]:
    """The triangles of all faces, those made anew that do not fill the outline; and the curved faces that none fill.

    Those of ``flat`` faces come with triangles without area along the edges, since horns of a hair's width are left
    out; where no triangulator fills the outline, these are all.
    """
    found, doubtful = list(corners), []
    outlines, rounding = _outlines(uses, len(found))
    filled = _filled(corners, outlines, rounding, np.array(flat, bool))
    for face in np.flatnonzero(~filled).tolist():
        if flat[face] and not len(corners[face]):
            continue
        own = outlines[face : face + 1], rounding[face : face + 1], np.array([flat[face]])
        tried = _anew(shapes[face], flat[face])
        sound = [again for again in tried if len(again) and _filled([again], *own)[0]][:1]
        if flat[face]:
            found[face] = np.concatenate([*sound, _edges_of(uses, face)])
        elif sound:
            found[face] = sound[0]
        else:
            doubtful.append(face)
    return found, tuple(doubtful)


def _filled(
    corners: Sequence[Corners], outlines: Vector, rounding: Vector, flat: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which faces' triangles have the area (curved faces': its vector) of the outline, but for chords."""
    owner = np.repeat(np.arange(len(corners)), [len(c) for c in corners])
    every = np.concatenate(corners)
    vectors = crossed(every[:, 1] - every[:, 0], every[:, 2] - every[:, 0]) / 2
    weights = (np.linalg.norm(vectors, axis=1), *vectors.T)
    area, *vector = (np.bincount(owner, weights=w, minlength=len(corners)) for w in weights)
    enclosed = np.linalg.norm(outlines, axis=1)
    off = np.where(flat, np.abs(area - enclosed), np.linalg.norm(np.stack(vector, axis=1) - outlines, axis=1))
    return np.asarray(off < LEAST + SHARE * np.where(flat, enclosed, area) + ROUNDING * rounding)


def _anew(shape: TopoDS_Face, flat: bool) -> list[Corners]:
    """A face's triangles by the kernel's usual triangulator; of a curved one also with its edges' curves drawn anew."""
    usual = face_triangles(shape, (shape,), swift=False)[0]
    return [usual] if flat else [usual, redrawn(shape)]


def _outlines(uses: Uses, count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """For each face the area vector that its edges enclose, and the area between its edges and their chords."""
    total, rounding = np.zeros((count, 3)), np.zeros(count)
    if not uses:
        return total, rounding
    sizes = np.array([len(points) for _, points in uses])
    points = _all_points([line for _, line in uses], sizes)
    ends = np.cumsum(sizes)
    inner = np.ones(len(points), bool)
    inner[ends - 1] = False
    edge = np.repeat(np.arange(len(uses)), sizes)[inner]
    start = points[ends - sizes]
    a, b = points[inner], np.roll(points, -1, axis=0)[inner]
    bulge = _per_edge(edge, crossed(a - start[edge], b - start[edge]), len(uses))
    swept = bulge + crossed(start - points[0], points[ends - 1] - points[0]) / 2
    faces = np.array([pair for pair, _ in uses])
    np.add.at(total, faces[:, 0], swept)
    np.subtract.at(total, faces[:, 1], swept)
    doubt = np.where(_is_coarse(edge, b - a, len(uses)), np.inf, np.linalg.norm(bulge, axis=1))
    for side in (0, 1):
        np.add.at(rounding, faces[:, side], doubt)
    return total, rounding


def _all_points(lines: Sequence[Sequence[Vec3] | Corners], sizes: NDArray[np.intp]) -> Corners:
    """The points of all lines one after the other, (n, 3); those known as arrays need no asking point by point."""
    known = [isinstance(line, np.ndarray) for line in lines]
    points, of_known = np.empty((int(sizes.sum()), 3)), np.repeat(known, sizes)
    points[~of_known] = np.array(
        [p for line, array in zip(lines, known, strict=True) if not array for p in line]
    ).reshape(-1, 3)
    points[of_known] = np.concatenate(
        [np.empty((0, 3)), *(line for line, array in zip(lines, known, strict=True) if array)]
    )
    return points


def _is_coarse(edge: NDArray[np.intp], chords: NDArray[np.float64], count: int) -> NDArray[np.bool_]:
    """Edges whose chords turn too far from one to the next to tell an area: a thread's, many turns long."""
    size = np.maximum(np.linalg.norm(chords, axis=1), COINCIDENT)
    along = np.einsum("ij,ij->i", chords[1:], chords[:-1]) / (size[1:] * size[:-1])
    same = edge[1:] == edge[:-1]
    steps = np.bincount(edge[1:][same], minlength=count)
    mean = np.bincount(edge[1:][same], weights=along[same], minlength=count) / np.maximum(steps, 1)
    return np.asarray((steps > 0) & (mean < COARSE))


def _per_edge(edge: NDArray[np.intp], doubled: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    found = np.zeros((count, 3))
    np.add.at(found, edge, doubled / 2)
    return found


def _edges_of(uses: Uses, face: int) -> Corners:
    lines = [(a, b, b) for pair, points in uses if face in pair for a, b in pairwise(points)]
    return np.array(lines)
