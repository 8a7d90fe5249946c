"""A stage as one glTF 2.0 binary file (ISO/IEC 12113): stock before and after, removals, workholding, by name."""

from __future__ import annotations

from typing import Any

import numpy as np
import trimesh
import trimesh.visual.material

from worker.present.meshes import MeshBody, StageMesh
from worker.present.palette import MODEL, rgb

METRES = 1e-3
"""glTF lengths are metres."""
Z_UP_TO_Y_UP = np.array([[1, 0, 0, 0], [0, 0, 1, 0], [0, -1, 0, 0], [0, 0, 0, 1]], float)
"""glTF's up is +Y; the part's frame keeps its +Z up in the viewer."""

COLOURS = {"as_is": "stock", "to_be": "stock", "removal": "removal", "workholding": "workholding"}


def stage_glb(stage: StageMesh) -> bytes:
    """The stage's bodies as GLB, each a node of its own; the same bytes for the same stage."""
    scene: Any = trimesh.Scene()
    for number, body in enumerate(stage.bodies):
        if body.mesh.triangle_count:
            name = _name(number, body)
            scene.add_geometry(_shown(body), node_name=name, geom_name=name)
    scene.apply_transform(Z_UP_TO_Y_UP)
    return bytes(scene.export(file_type="glb"))


def _shown(body: MeshBody) -> Any:
    visual: Any = trimesh.visual
    colour = [*(c / 255 for c in rgb(MODEL[COLOURS[body.kind]])), 1.0]
    paint = visual.material.PBRMaterial(baseColorFactor=colour, metallicFactor=0.0)
    return trimesh.Trimesh(*_arrays(body), visual=visual.TextureVisuals(material=paint), process=False)


def _arrays(body: MeshBody) -> tuple[np.ndarray, np.ndarray]:
    vertices = np.frombuffer(body.mesh.vertices, "<f4").reshape(-1, 3).astype(float) * METRES
    return vertices, np.frombuffer(body.mesh.triangles, "<u4").reshape(-1, 3)


def _name(number: int, body: MeshBody) -> str:
    words = [body.kind, body.name or body.step]
    return f"{number:02d} " + " ".join(word for word in words if word)
