"""Hand-made triangle bodies for tests of the writers: boxes, no kernel."""

from __future__ import annotations

from worker.present.meshes import Mesh, MeshBody, StageMesh, mesh

SIDES = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))
"""Corners of each side, counter-clockwise from outside; corner number = x + 2 y + 4 z (0 low, 1 high)."""


def box_mesh(low: tuple[float, float, float], high: tuple[float, float, float]) -> Mesh:
    """A box: two triangles a side, side number as face number."""
    ends = (low, high)
    corners = [[ends[i >> k & 1][k] for k in range(3)] for i in range(8)]
    triangles = [t for a, b, c, d in SIDES for t in ((a, b, c), (a, c, d))]
    return mesh(corners, triangles, [i // 2 for i in range(12)])


def part_mesh() -> Mesh:
    """The part of ``tests.support.documents``, without its holes."""
    return box_mesh((0, 0, 0), (100, 60, 30))


def stage_meshes() -> tuple[StageMesh, ...]:
    """Its two setups in a vise."""
    raw, after = box_mesh((-2, -2, -6), (102, 62, 32)), box_mesh((-2, -2, -6), (102, 62, 30))
    jaws = (
        MeshBody("workholding", box_mesh((-25, 62, -46), (125, 82, -1)), "fixed jaw", "jaw_fixed"),
        MeshBody("workholding", box_mesh((-25, -22, -46), (125, -2, -1)), "moving jaw", "jaw_moving"),
        MeshBody("workholding", box_mesh((-25, 56, -46), (125, 62, -6)), "parallel", "parallel"),
        MeshBody("workholding", box_mesh((-25, -2, -46), (125, 4, -6)), "parallel", "parallel"),
    )
    top = (
        MeshBody("as_is", raw),
        MeshBody("to_be", after),
        MeshBody("removal", box_mesh((-2, -2, 30), (102, 62, 32)), step="10"),
        MeshBody("removal", box_mesh((30, 18, 18), (70, 42, 30)), step="30"),
    )
    bottom = (
        MeshBody("as_is", after),
        MeshBody("to_be", box_mesh((-2, -2, 0), (102, 62, 30))),
        MeshBody("removal", box_mesh((-2, -2, -6), (102, 62, 0)), step="10"),
    )
    return (StageMesh("S1", top + jaws), StageMesh("S2", bottom))
