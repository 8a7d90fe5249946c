"""Round bottoms at the heights at which they are cut flat (setup's frame, mm).

A chord across a trough lies above it: at a height the triangles leave less room between both sides than the trough
does, and a cutter that is just as wide would not get in. There they are parted along the trough's own lines.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.fitted import cylinder_through, hollow_radius, slanting
from worker.field.lines import Floats
from worker.field.scene import NO_AREA, Scene

LEVEL = 1e-4
"""A trough lies where its direction rises by no more (sine)."""


def parted_at(scene: Scene, faces: Iterable[int], heights: Sequence[float]) -> Scene:
    """The same with those of some faces that are troughs which lie parted at heights."""
    found = [(face, _parted(mine, heights)) for face, mine in slanting(scene, faces) if _is_hollow(mine)]
    if not found:
        return scene
    kept = ~scene.of_faces(face for face, _ in found)
    owner = [np.full(len(mine), face, scene.owner.dtype) for face, mine in found]
    part = np.concatenate((scene.part[kept], *(mine for _, mine in found)))
    return replace(scene, part=part, owner=np.concatenate((scene.owner[kept], *owner)))


def _is_hollow(triangles: Floats) -> bool:
    return (hollow_radius(triangles) or math.inf) < math.inf


def _parted(triangles: Floats, heights: Sequence[float]) -> Floats:
    found = cylinder_through(triangles)
    if found is None or abs(found[0][2]) > LEVEL:
        return triangles
    axis, middle, radius = found
    way = np.array((-axis[1], axis[0])) / math.hypot(axis[0], axis[1])
    for z in heights:
        under = middle[2] - z
        if 0 < under < radius:
            half = math.sqrt(radius**2 - under**2)
            for side in (half, -half):
                triangles = _split(triangles, (triangles[:, :, :2] - middle[:2]) @ way - side, z)
    return triangles


def _split(triangles: Floats, off: Floats, z: float) -> Floats:
    """Triangles (n, 3, 3) parted along the line off which their corners lie so far (n, 3), at its height ``z``."""
    across = (off.min(axis=1) < -COINCIDENT) & (off.max(axis=1) > COINCIDENT)
    some, far = triangles[across], off[across]
    over = far > 0
    alone = np.argmax(over == (over.sum(axis=1) == 1)[:, None], axis=1)
    order = (alone[:, None] + np.arange(3)) % 3
    a, b, c = np.take_along_axis(some, order[:, :, None], axis=1).transpose(1, 0, 2)
    u, v, w = np.take_along_axis(far, order, axis=1).T[:, :, None]
    p, q = a + u / (u - v) * (b - a), a + u / (u - w) * (c - a)
    p[:, 2] = q[:, 2] = z
    pieces = np.concatenate([np.stack(three, axis=1) for three in ((a, p, q), (p, b, c), (p, c, q))])
    size = np.linalg.norm(np.cross(pieces[:, 1] - pieces[:, 0], pieces[:, 2] - pieces[:, 0]), axis=1)
    return np.concatenate((triangles[~across], pieces[size > NO_AREA]))
