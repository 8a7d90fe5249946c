"""Faces that end upwards beneath a trough which the cutter's corner follows, where something crosses it at less depth
(setup's frame, mm).

The ball goes on along the trough through the gap. What it passes over is told on the lattice's upright lines: where
they meet a face, they do so no higher than the circle that all of the trough's corners lie on, seen along it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.bridged import bridged
from worker.field.fitted import Fit, cylinder_through, slanting
from worker.field.lines import Floats
from worker.field.plane import Region
from worker.field.rounded import cells
from worker.field.scene import Scene
from worker.field.surface import crossings

ABOVE = 0.02
"""So far (mm) triangles of a face may stand within the round that the face itself ends at."""
SAGITTA = 5e-4
"""Deflection (mm) of the triangles of a trough that goes on."""
LEVEL = 1e-4
"""A trough lies where its direction rises by no more (sine): corners where it is crossed lie so much off it."""


def over_what_crosses(scene: Scene, fit: Fit, ground: Region) -> Fit:
    """The fit with the faces of the part in a ground that nowhere reach above the one trough that the corner follows:
    there it takes no more than along the trough, whose triangles go on all through the metal."""
    hollow = dict(slanting(scene, fit.followed))
    mine = [hollow[face] for face in sorted(bridged(hollow))]
    trough = cylinder_through(np.concatenate(mine)) if mine else None
    if trough is None or abs(trough[0][2]) > LEVEL:
        return fit
    ys, xs = scene.scan_lines
    asked = cells(ground.scan(0, ys), xs, len(ys))
    off = _off(*trough[:2], xs, ys)
    inside = (asked & (off < trough[2] - ABOVE)).ravel()
    bottom = float(np.concatenate(mine)[:, :, 2].min())
    found = set()
    for _, high, _, face in scene.steps_up:
        if face not in fit.passed and high > bottom + COINCIDENT:
            line, at, _ = crossings(scene.up_of([face]), (0, 1, 2), xs, ys)
            line, under = line[inside[line]], trough[1][2] - at[inside[line]]
            away = np.hypot(off.ravel()[line], np.maximum(under, 0.0))
            found |= {face} if len(line) and np.all(away >= trough[2] - ABOVE) else set()
    return replace(fit, beneath=frozenset(found), bed=_bed(scene, *trough)) if found else fit


def _off(axis: Floats, middle: Floats, xs: Floats, ys: Floats) -> Floats:
    """How far each place (x, y) lies off a line that lies."""
    return np.asarray(np.abs((ys[None, :] - middle[1]) * axis[0] - (xs[:, None] - middle[0]) * axis[1]))


def _bed(scene: Scene, axis: Floats, middle: Floats, radius: float) -> Floats:
    """Triangles (n, 3, 3) of the lower half of a lying cylinder, looking up."""
    far = float(np.linalg.norm(np.ptp(scene.part, axis=(0, 1)))) + radius
    count = int(np.ceil(np.pi / (2 * np.arccos(1 - SAGITTA / radius))))
    turn = np.linspace(-np.pi / 2, np.pi / 2, count + 1)
    side = np.cross((0.0, 0.0, 1.0), axis)
    round_ = middle + radius * (np.sin(turn)[:, None] * side - np.cos(turn)[:, None] * np.array((0.0, 0.0, 1.0)))
    (a, b), (c, d) = ((ends[:-1], ends[1:]) for ends in (round_ - far * axis, round_ + far * axis))
    return np.concatenate((np.stack((a, c, d), axis=1), np.stack((a, d, b), axis=1)))
