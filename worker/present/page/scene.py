"""What the page's viewer needs beside the text: meshes packed into one block, places in mm of the part's frame."""

from __future__ import annotations

import base64
import json
import zlib
from collections.abc import Sequence
from typing import Any

from worker.present.meshes import Mesh, StageMesh
from worker.present.palette import MODEL
from worker.present.words import Document, symbol

MM_PER_UNIT = {"mm": 1.0, "inch": 25.4}
CELLS = 65535
"""Steps of the grid that vertices are rounded to, along each axis of the box of all bodies."""


def scene_of(document: Document, part: Mesh | None, stages: Sequence[StageMesh]) -> tuple[dict[str, Any], str]:
    """The scene as JSON values, and the packed meshes as base64 text (deflated)."""
    numbers = _numbered(part, stages)
    grid, entries, block = _pack(list(numbers))
    scale = MM_PER_UNIT[document["units"]]
    scene = {
        "unit": symbol(document),
        "scale": scale,
        "colours": MODEL,
        "grid": grid,
        "meshes": entries,
        "part": None if part is None or not part.triangle_count else numbers[part],
        "features": {f["id"]: _feature(f, scale) for f in document["features"]},
        "setups": [_setup(document, stage, numbers, scale) for stage in stages],
        "findings": [_finding(i, f, scale) for i, f in enumerate(document["findings"])],
    }
    return scene, base64.b64encode(zlib.compress(block, 9)).decode()


def embedded(value: Any) -> str:
    """JSON that cannot end the script element it stands in."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def _numbered(part: Mesh | None, stages: Sequence[StageMesh]) -> dict[Mesh, int]:
    """Each different mesh once: what a setup leaves is what the next one starts from."""
    found: dict[Mesh, int] = {}
    bodies = [body.mesh for stage in stages for body in stage.bodies]
    for mesh in ([part] if part else []) + bodies:
        if mesh.triangle_count:
            found.setdefault(mesh, len(found))
    return found


def _pack(meshes: list[Mesh]) -> tuple[dict[str, Any], list[dict[str, Any]], bytes]:
    """The grid, where each mesh lies in the block, and the block: grid coordinates, vertex numbers, face numbers."""
    import numpy as np

    corners = [np.frombuffer(m.vertices, "<f4").reshape(-1, 3).astype(float) for m in meshes]
    low = np.min([c.min(axis=0) for c in corners], axis=0) if corners else np.zeros(3)
    high = np.max([c.max(axis=0) for c in corners], axis=0) if corners else np.ones(3)
    step = np.maximum(high - low, 1e-6) / CELLS
    block, entries = bytearray(), []
    for mesh, at in zip(meshes, corners, strict=True):
        entry: dict[str, Any] = {"v": [len(block), mesh.vertex_count]}
        block += np.rint((at - low) / step).astype("<u2").tobytes()
        block += bytes(-len(block) % 4)
        entry["t"] = [len(block), mesh.triangle_count]
        block += mesh.triangles
        if mesh.faces:
            entry["f"] = len(block)
            block += mesh.faces
        entries.append(entry)
    grid = {"origin": [round(float(v), 6) for v in low], "step": [float(f"{v:.9g}") for v in step]}
    return grid, entries, bytes(block)


def _feature(feature: Document, scale: float) -> dict[str, Any]:
    found = {"faces": feature["faces"], "at": _mm(feature["placement"]["location"], scale)}
    return {**found, "setup": feature["finished_in"]} if "finished_in" in feature else found


def _setup(document: Document, stage: StageMesh, numbers: dict[Mesh, int], scale: float) -> dict[str, Any]:
    setup = next(s for s in document["setups"] if s["id"] == stage.setup)
    origin = {**setup["origin"], "location": _mm(setup["origin"]["location"], scale)}
    bodies = [
        {"kind": b.kind, "name": b.name, "role": b.role, "step": b.step, "mesh": numbers[b.mesh]}
        for b in stage.bodies
        if b.mesh in numbers
    ]
    return {"id": stage.setup, "origin": origin, "bodies": bodies}


def _finding(index: int, finding: Document, scale: float) -> dict[str, Any]:
    at = finding.get("at", {}).get("part")
    return {
        "index": index,
        "code": finding["code"],
        "level": finding["level"],
        "setup": finding.get("setup"),
        "features": finding.get("features", []),
        "at": _mm(at, scale) if at else None,
    }


def _mm(point: Sequence[float], scale: float) -> list[float]:
    return [round(c * scale, 6) for c in point]
