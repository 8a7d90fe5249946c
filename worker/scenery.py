"""Triangles of everything that page, sheet and pictures show, from the cut stages."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.tolerances import MESH
from worker.kernel.measure import bounding_box
from worker.kernel.mesh import triangulate
from worker.kernel.shape import Body, is_empty
from worker.part import Part
from worker.present.meshes import Mesh, MeshBody, StageMesh, mesh
from worker.stage.model import Stage

SHARE = 4e-4
"""Chord deviation as a share of a body's diagonal: below a pixel on any screen."""


def part_mesh(part: Part) -> Mesh:
    """The finished part, each triangle with the index of its face."""
    return _mesh(part.body)


def stage_mesh(stage: Stage) -> StageMesh:
    """The stock before and after, what each step removes, and what holds it."""
    return StageMesh(stage.setup.id, tuple(_bodies(stage)))


def _bodies(stage: Stage) -> Iterator[MeshBody]:
    yield MeshBody("as_is", _mesh(stage.as_is))
    yield MeshBody("to_be", _mesh(stage.to_be))
    for cut in stage.cuts:
        if not is_empty(cut.removal):
            yield MeshBody("removal", _mesh(cut.removal), step=cut.step.id)
    for held in stage.holding.bodies:
        yield MeshBody("workholding", _mesh(held.body), name=held.name, role=held.role)


def _mesh(body: Body) -> Mesh:
    return mesh(*triangulate(body, _deflection(body)))


def _deflection(body: Body) -> float:
    return MESH if is_empty(body) else max(MESH, SHARE * bounding_box(body).diagonal)
