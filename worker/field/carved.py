"""Levels that end on hollow faces which a cutter's round corner follows (setup's frame, mm).

Below such a face there is the part, at each height within its shadow; so a level's region is taken less that, and its
upright lines begin on the face.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.lines import Floats, subtract
from worker.field.outlines import Facets
from worker.field.plane import Known, Region, Shadow, sorted_lines
from worker.field.rounded import MISSED, Cleared, Floor, cells, coarseness
from worker.field.scene import Scene
from worker.field.solids import Layer
from worker.field.surface import crossings
from worker.field.triangles import CHORD


def carved(scene: Scene, floor: Floor, faces: Floats, of_hole: bool) -> Floor:
    """A level with its floor less what lies below triangles (n, 3, 3) that look up; ``of_hole``: faces of a hole."""
    high = float(faces[:, :, 2].max())
    heights, facets = scene.view.middles(scene.lattice, 2), Facets(faces)
    slices = [
        Layer(z - COINCIDENT, z + COINCIDENT, _less(scene, _at(floor.slices, z), Shadow(faces, z, facets)))
        for z in heights[(heights > floor.layers[0].low) & (heights < high)].tolist()
    ]
    over = [replace(s, low=max(s.low, high)) for s in floor.slices if s.high > high]
    columns = None if floor.columns is None else np.maximum(floor.columns, _on(scene, faces, floor))
    chords = 2 / 3 * CHORD * _area(faces) if of_hole else 0.0
    lost = floor.lost + _missed(scene, faces)
    return replace(floor, slices=(*slices, *over), columns=columns, lost=lost, chords=chords)


def sharp(scene: Scene, level: Cleared) -> Floor:
    """A level with a sharp floor."""
    low, covered = level.layer.low, level.covered
    ys, xs = scene.scan_lines
    columns = np.where(cells(covered.lines[0], xs, len(ys)), low, scene.top)
    return Floor(scene.view, (level.layer,), (Layer(low, scene.top, covered),), 0.0, (0, 0), columns)


def _at(slices: Sequence[Layer], z: float) -> Region:
    """The region at a height."""
    return next(s.region for s in slices if s.low <= z <= s.high)


def _less(scene: Scene, region: Region, shadow: Region) -> Known:
    at = scene.scan_lines
    x, y = (sorted_lines(subtract(region.scan(k, at[k]), shadow.scan(k, at[k]))) for k in (0, 1))
    return Known(at, (x, y))


def _on(scene: Scene, faces: Floats, floor: Floor) -> Floats:
    """The height of the faces over each of the floor's columns; far below where there are none."""
    assert floor.columns is not None
    ys, xs = scene.scan_lines
    (i, j), (n, m) = floor.corner, floor.columns.shape
    xs, ys = xs[i : i + n], ys[j : j + m]
    line, at, _ = crossings(faces, (0, 1, 2), xs, ys)
    found = np.full(n * m, -np.inf)
    np.maximum.at(found, line, at)
    return found.reshape(n, m)


def _missed(scene: Scene, faces: Floats) -> float:
    """What lines miss of faces that run along them, at the floor or at the wall (mm3)."""
    rise = max(float(np.ptp(faces[:, :, 2])), COINCIDENT)
    return float(MISSED * coarseness(scene) ** 1.5 * math.sqrt(2 * rise) * _area(faces) / rise)


def _area(faces: Floats) -> float:
    across = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    return float(np.linalg.norm(across, axis=1).sum()) / 2
