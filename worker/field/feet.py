"""Where walls stand on a level floor: with a fillet at their feet, or without one (setup's frame, mm)."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from worker.field.lines import Floats, Mask
from worker.field.scene import UPRIGHT, Scene

BESIDE = 0.01
"""So far (mm) in front of a wall's foot the floor is looked for."""
LEVEL = 1 - UPRIGHT


def feet(scene: Scene, faces: Iterable[int], level: float) -> list[int]:
    """Faces that look up, are not level and begin at a level."""
    found = []
    for face in faces:
        mine = scene.owner == face
        heights = scene.part[mine][:, :, 2]
        if np.any(scene.looks[mine] > UPRIGHT) and np.ptp(heights) > COINCIDENT:
            found += [face] if abs(float(heights.min()) - level) <= LENGTH else []
    return found


def sharp_foot(scene: Scene, faces: Collection[int], passed: Collection[int]) -> bool:
    """Whether something of the part rises at once from the level faces: neither level nor one of the faces passed."""
    floor = scene.part[np.isin(scene.owner, list(faces)) & (scene.looks > LEVEL)]
    rising = scene.part[~np.isin(scene.owner, list(passed)) & (np.abs(scene.looks) < LEVEL)]
    if not len(floor) or not len(rising):
        return False
    return any(_stands_on(rising, floor[floor[:, 0, 2] == z], float(z)) for z in np.unique(floor[:, 0, 2]))


def _stands_on(rising: Floats, floor: Floats, z: float) -> bool:
    """Whether a triangle rises from the level with one side on it, with floor in front of that side."""
    low = np.abs(rising[:, :, 2] - z) <= COINCIDENT
    up = rising[:, :, 2].max(axis=1) > z + COINCIDENT
    mine, low = rising[(low.sum(axis=1) == 2) & up], low[(low.sum(axis=1) == 2) & up]
    if not len(mine):
        return False
    middle = np.einsum("ij,ijk->ik", low / 2.0, mine)[:, :2]
    across = np.cross(mine[:, 1] - mine[:, 0], mine[:, 2] - mine[:, 0])[:, :2]
    size = np.hypot(across[:, 0], across[:, 1])
    ahead = middle + BESIDE * across / np.maximum(size, COINCIDENT)[:, None]
    return bool(np.any(_within(ahead[size > COINCIDENT], floor[:, :, :2])))


def _within(points: Floats, triangles: Floats) -> Mask:
    """Which of some points (n, 2) lie in any of some triangles (m, 3, 2), wound to the left."""
    found = np.ones((len(points), len(triangles)), bool)
    for k in range(3):
        a, b = triangles[:, k], triangles[:, (k + 1) % 3]
        side = b - a
        found &= (
            side[:, 0] * (points[:, 1, None] - a[:, 1]) - side[:, 1] * (points[:, 0, None] - a[:, 0]) >= -COINCIDENT
        )
    return np.asarray(found.any(axis=1))
