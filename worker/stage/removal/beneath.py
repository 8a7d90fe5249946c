"""Faces of what crosses a trough at less depth: a ball that follows the trough on through the gap passes over them
(setup's frame, mm).

A trough goes on where something crosses it, and what ends upwards beneath its round goes as little in the ball's way as
the round itself, though it stands higher than the trough's lowest line.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, add, dot, scale, sub
from schemas.tolerances import COINCIDENT, LAYER, SAME_LENGTH
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.graph_surface import Surface, surface_of
from worker.kernel.mesh import triangles_of
from worker.kernel.planar import Region
from worker.kernel.shadow import Shown, face_facts
from worker.kernel.shape import Body, pick
from worker.stage.removal.bridged import troughs
from worker.stage.removal.bull_nose import CHORD, in_pieces
from worker.stage.removal.corners import Fit
from worker.stage.removal.scene import CLEARANCE, Scene

Floats = NDArray[np.float64]
PIECES = 8
"""Faces are looked at in pieces no longer than such a part of a trough's radius."""
ABOVE = 2 * CHORD
"""So far (mm) chords of faces may stand within a trough that the faces themselves end at."""


def over_what_crosses(scene: Scene, fit: Fit, ground: Region) -> Fit:
    """The fit with the faces in a ground that nowhere reach above the one trough which is all that the corner follows,
    and with the metal that the trough would have below it in the gap: the ball takes no more there than beside it."""
    trough = _only_trough(scene, fit)
    if trough is None:
        return fit
    bottom = min(scene.sky.shown[i].low for i in fit.matched)
    standing = (s for s in scene.sky.upward(bottom, ground.bounds) if s.index not in fit.passed)
    lower = frozenset(s.index for s in standing if _is_beneath(scene, s, trough, ground))
    return replace(fit, trough=trough, beneath=lower, bed=_bed(scene, trough) if lower else None)


def _only_trough(scene: Scene, fit: Fit) -> Surface | None:
    """The lying cylinder that all the faces are which the corner follows."""
    found = [surface_of(face_facts(scene.sky.body)[i].face)[0] for i in sorted(fit.matched)]
    alike = all(one.kind == "cylinder" and _same_line(one, found[0]) for one in found)
    if not found or not alike or troughs(scene, fit.matched) < fit.matched:
        return None
    return found[0] if abs(scene.frame.direction_to_local(found[0].axis)[2]) <= COINCIDENT else None


def _bed(scene: Scene, trough: Surface) -> Body:
    """A block all along a lying trough, up to its axis, with the trough in it."""
    far, half, metal = scene.metal.diagonal, trough.radius + CLEARANCE, scene.frame.to_world(scene.metal.mid)
    middle = add(trough.origin, scale(trough.axis, dot(sub(metal, trough.origin), trough.axis)))
    along = scale(trough.axis, far)
    bore = solid.cylinder(sub(middle, along), add(middle, along), 2 * trough.radius)
    frame = Frame(location=middle, axis=scene.frame.z, ref_direction=trough.axis)
    return boolean.cut(solid.box((-far, -half, -half), (far, half, 0.0), frame), [bore])


def _same_line(one: Surface, other: Surface) -> bool:
    apart = np.cross(np.subtract(one.origin, other.origin), other.axis)
    return float(np.linalg.norm(apart)) < SAME_LENGTH and abs(one.radius - other.radius) < SAME_LENGTH


def _is_beneath(scene: Scene, shown: Shown, trough: Surface, ground: Region) -> bool:
    points = _points(scene, shown.index, trough.radius / PIECES)
    x, y, z = scene.frame.to_local(trough.origin)
    u, v, _ = scene.frame.direction_to_local(trough.axis)
    off = np.abs((points[:, :2] - (x, y)) @ np.array([-v, u]))
    within = (off < trough.radius - ABOVE) & ground.holds(points[:, :2])
    within[within] = ground.signed_distance(points[within, :2]) > LAYER  # the face beside it ends on its border
    if not within.any():
        return False
    away = np.hypot(off[within], np.maximum(z - points[within, 2], 0.0))
    return bool(np.all(away >= trough.radius - ABOVE))


def _points(scene: Scene, index: int, apart: float) -> Floats:
    """Points (n, 3) all over a face, in the setup's frame."""
    points, corners, _ = triangles_of(pick(scene.sky.body, [index]), CHORD)
    axes = np.array([scene.frame.x, scene.frame.y, scene.frame.z])
    placed = (points - np.array(scene.frame.location)) @ axes.T
    return in_pieces(placed[corners], apart).reshape(-1, 3)
