"""Triangles read as flat faces: as many faces, edges and points as the solid has, by Euler's formula and by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from schemas.tolerances import FACETS, LAYER
from worker.kernel import boolean, measure, primitives
from worker.kernel.errors import KernelError
from worker.kernel.faceted import solid_of
from worker.kernel.flats import Flats, flats_of
from worker.kernel.meshes import Piece, mesh_of, pieces, split_by, standing_on
from worker.kernel.shape import Body, edges, faces, vertices
from worker.residual import TOLD

BOX = primitives.box((0, 0, 0), (60, 40, 20))


def piece_of(*tools: Body) -> Piece:
    (piece,) = pieces(split_by(mesh_of(BOX, FACETS), tools, FACETS)[1].solid)
    return piece


def counts(flats: Flats) -> tuple[int, int, int]:
    """Faces, edges and points in use."""
    loops = [loop for face in flats.faces for loop in face.loops]
    used = {point for loop in loops for point in loop}
    return len(flats.faces), sum(map(len, loops)) // 2, len(used)


def test_a_block_has_six_faces_twelve_edges_eight_corners() -> None:
    assert counts(flats_of(piece_of(primitives.box((80, 0, 0), (81, 1, 1))))) == (6, 12, 8)


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        ((10, 10, 10), (30, 30, 21), (11, 24, 16)),  # a pocket: five faces more, its mouth a loop in the top
        ((10, -1, 10), (30, 41, 21), (10, 24, 16)),  # a slot through: its ends notch two faces, the top is in two
        ((10, 10, -1), (30, 30, 21), (10, 24, 16)),  # a hole: loops in top and bottom
        ((50, 30, 10), (61, 41, 21), (9, 21, 14)),  # a notch at a corner
    ],
    ids=["pocket", "slot", "hole", "corner"],
)
def test_a_block_with_one_cut(low: tuple[int, int, int], high: tuple[int, int, int], expected: tuple[int, ...]) -> None:
    flats = flats_of(piece_of(primitives.box(low, high)))
    assert counts(flats) == expected
    made = solid_of(piece_of(primitives.box(low, high)))
    assert (len(faces(made)), len(edges(made.wrapped)), len(vertices(made.wrapped))) == expected


def test_faces_of_different_tools_in_one_plane_are_one() -> None:
    """Two pockets that overlap, with one floor: 6 + a floor + walls of a region with eight corners."""
    tools = [primitives.box((10, 10, 10), (30, 20, 21)), primitives.box((20, 15, 10), (40, 30, 21))]
    assert counts(flats_of(piece_of(*tools)))[0] == 6 + 1 + 8


def test_pockets_that_touch_at_an_edge() -> None:
    """Four faces meet at that edge; the metal on its two sides is joined below."""
    tools = [primitives.box((10, 10, 10), (20, 20, 21)), primitives.box((20, 20, 10), (30, 30, 21))]
    made = solid_of(piece_of(*tools))
    assert measure.volume(made) == pytest.approx(60 * 40 * 20 - 2 * 10 * 10 * 10, rel=1e-12)


def test_pockets_that_overlap_by_a_hair_are_one() -> None:
    """Two tools that share a strip of 2e-6 mm leave no face of its own there, and no hole."""
    piece = piece_of(primitives.box((10, 10, 10), (30, 30, 21)), primitives.box((30 - 2e-6, 10, 10), (40, 30, 21)))
    assert counts(flats_of(piece))[0] == 11


def test_triangles_that_do_not_close_are_refused() -> None:
    piece = piece_of(primitives.box((10, 10, 10), (30, 30, 21)))
    fewer = [np.delete(a, 3, axis=0) for a in (piece.corners, piece.source, piece.face, piece.skin)]
    with pytest.raises(KernelError, match="close"):
        flats_of(Piece(piece.points, fewer[0], fewer[1], fewer[2], fewer[3], piece.volume))


def test_a_thin_crescent_becomes_a_solid() -> None:
    """Metal 3 um thick in a bore askew, less a layer of 2 um: its flats lie within the kernel's tolerance of the mesh,
    which is two millionths of its volume. By hand a ring of radii 1.152 and 1.153 through 6 mm, by chords of 1 um."""
    block, axis = primitives.box((0, 0, 0), (6, 6, 6)), ((3, -1, 1), (3.1, 7.2, 1))
    part, stock = (mesh_of(boolean.cut(block, [primitives.cylinder(*axis, d)]), FACETS) for d in (2.31, 2.304))
    (piece,) = standing_on(part, stock, LAYER)
    ring = math.pi * (1.153**2 - 1.152**2) * 6
    assert measure.volume(solid_of(piece)) == pytest.approx(ring, rel=0.02)


def test_a_solid_that_only_tells_may_differ_from_its_mesh_a_little() -> None:
    """A mesh that says it weighs 3 parts in 100,000 more than its flats enclose: no stock, but good enough to tell."""
    piece = piece_of(primitives.box((10, 10, 10), (30, 30, 21)))
    heavier = replace(piece, volume=piece.volume * (1 + 3e-5))
    with pytest.raises(KernelError, match="volume"):
        solid_of(heavier)
    assert measure.volume(solid_of(heavier, TOLD)) == pytest.approx(60 * 40 * 20 - 20 * 20 * 10, rel=1e-12)
