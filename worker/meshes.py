"""Bodies of a part and of its stages as the triangles that page, pictures and sheet show."""

from __future__ import annotations

from schemas.tolerances import MESH
from worker.kernel.measure import bounding_box
from worker.kernel.mesh import triangulate
from worker.kernel.shape import Body, is_empty
from worker.part import Part
from worker.present.meshes import BodyKind, Mesh, MeshBody, StageMesh, mesh
from worker.stage.model import Stage

SHARE = 4e-4
"""Chord deviation of a shown body as a share of its diagonal: below a pixel on any screen."""


def part_mesh(part: Part) -> Mesh:
    """The finished part, with the face of each triangle."""
    return mesh(*triangulate(part.body, _deflection(part.body)))


def stage_meshes(stage: Stage) -> StageMesh:
    """All that can be shown of a setup: stock before and after, each cut's removal, the workholding."""
    bodies = [_body("as_is", stage.as_is), _body("to_be", stage.to_be)]
    bodies += [_body("removal", cut.removal, step=cut.step.id) for cut in stage.cuts]
    bodies += [_body("workholding", b.body, name=b.name, role=b.role) for b in stage.holding.bodies]
    return StageMesh(stage.setup.id, tuple(b for b in bodies if b is not None))


def _body(kind: BodyKind, body: Body, *, name: str = "", role: str = "", step: str = "") -> MeshBody | None:
    if is_empty(body):
        return None
    vertices, triangles, _ = triangulate(body, _deflection(body))
    return MeshBody(kind, mesh(vertices, triangles), name, role, step)


def _deflection(body: Body) -> float:
    return max(MESH, SHARE * bounding_box(body).diagonal)
