"""How far off faces that it follows a step stays, and how deep it goes, read from triangles (setup's frame, mm).

Of planes an allowance is left square to them, no higher over their upper end than it is itself; of bent faces straight
up. A tip that is stated touches a plane r (1 - n) higher, n the height of the unit normal.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from schemas.tolerances import CANONICAL, COINCIDENT
from worker.field.lines import Floats
from worker.field.outlines import lowered, raised
from worker.field.scene import Scene
from worker.field.stated import lift_of
from worker.stage.model import Cut


def off_faces(scene: Scene, cut: Cut, each: Mapping[int, Floats]) -> Floats:
    """The triangles (n, 3, 3) above which all is taken; ``each``: faces with what stays at their feet, by number."""
    found = [_off(cut, scene.up_of([face]), triangles) for face, triangles in each.items()]
    return np.concatenate([np.zeros((0, 3, 3)), *found])


def _off(cut: Cut, own: Floats, triangles: Floats) -> Floats:
    lift, n = lift_of(cut), rise_of(own)
    if n is None:
        return np.asarray(triangles + np.array((0.0, 0.0, lift)))
    found: Floats = triangles + np.array((0.0, 0.0, lift / n))
    if lift > 0 and n < 1.0 - COINCIDENT:
        found = lowered(found, float(own[:, :, 2].max()) + lift)
    tip = cut.step.bottom_z
    return found if tip is None else raised(found, tip + cut.tool.corner_radius * (1.0 - n))


def rise_of(triangles: Floats) -> float | None:
    """Height of the unit normal of triangles in one plane; None where they bend."""
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    sizes = np.linalg.norm(across, axis=1)
    if not len(sizes) or not sizes.max() > 0:
        return None
    largest = int(np.argmax(sizes))
    normal = across[largest] / sizes[largest]
    off = (triangles - triangles[largest, 0]) @ normal
    return abs(float(normal[2])) if np.abs(off).max() <= 2 * CANONICAL else None
