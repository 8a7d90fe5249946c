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
WELD = 6
"""Decimals (mm) to which corners of triangles of two faces are the same."""


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


def across_hollow(scene: Scene, faces: Iterable[int]) -> bool:
    """Whether an upright wall rises at once from a hollow face, from less than half its height: across a trough's end.
    The walls that a fillet rises into begin at its upper border."""
    upright = np.abs(scene.looks) <= UPRIGHT
    tops = np.full(int(scene.owner.max(initial=-1)) + 1, -np.inf)
    np.maximum.at(tops, scene.owner, scene.part[:, :, 2].max(axis=1))
    walls, ends = scene.part[upright], tops[scene.owner[upright]]
    return any(_cuts_across(walls, ends, scene.part[scene.owner == face]) for face in faces)


def _cuts_across(walls: Floats, ends: Floats, hollow: Floats) -> bool:
    """``ends``: how high the face of each wall's triangle rises."""
    low, high = hollow[:, :, 2].min(), hollow[:, :, 2].max()
    corners = np.unique(np.round(hollow.reshape(-1, 3), WELD), axis=0)
    near = np.all((walls.max(axis=1) >= corners.min(axis=0)) & (walls.min(axis=1) <= corners.max(axis=0)), axis=1)
    mine = walls[near]
    known = {tuple(corner) for corner in corners[corners[:, 2] < (low + high) / 2].tolist()}
    rounded = np.round(mine, WELD).reshape(-1, 3).tolist()
    on = np.array([tuple(corner) in known for corner in rounded], bool).reshape(-1, 3)
    foot = np.where(on, mine[:, :, 2], -np.inf).max(axis=1)
    rising = (
        (on.sum(axis=1) >= 2) & ((mine[:, :, 2].max(axis=1) > foot) | on.all(axis=1)) & (ends[near] > high - LENGTH)
    )
    return bool(np.any(within(_ahead(mine[rising], on[rising]), hollow[:, :, :2])))


def _ahead(walls: Floats, on: Mask) -> Floats:
    """Points (n, 2) a little in front of what of each triangle's corners is marked."""
    middle = np.einsum("ij,ijk->ik", on / on.sum(axis=1, keepdims=True), walls)[:, :2]
    across = np.cross(walls[:, 1] - walls[:, 0], walls[:, 2] - walls[:, 0])[:, :2]
    size = np.hypot(across[:, 0], across[:, 1])
    return np.asarray((middle + BESIDE * across / np.maximum(size, COINCIDENT)[:, None])[size > COINCIDENT])


def _stands_on(rising: Floats, floor: Floats, z: float) -> bool:
    """Whether a triangle rises from the level with one side on it, with floor in front of that side."""
    low = np.abs(rising[:, :, 2] - z) <= COINCIDENT
    up = rising[:, :, 2].max(axis=1) > z + COINCIDENT
    mine, low = rising[(low.sum(axis=1) == 2) & up], low[(low.sum(axis=1) == 2) & up]
    if not len(mine):
        return False
    return bool(np.any(within(_ahead(mine, low), floor[:, :, :2])))


def within(points: Floats, triangles: Floats) -> Mask:
    """Which of some points (n, 2) lie in any of some triangles (m, 3, 2), wound to the left."""
    found = np.ones((len(points), len(triangles)), bool)
    for k in range(3):
        a, b = triangles[:, k], triangles[:, (k + 1) % 3]
        side = b - a
        found &= (
            side[:, 0] * (points[:, 1, None] - a[:, 1]) - side[:, 1] * (points[:, 0, None] - a[:, 0]) >= -COINCIDENT
        )
    return np.asarray(found.any(axis=1))
