"""Contours that lie across, and bosses: what looks up of them is followed or cut in levels (setup's frame, mm)."""

from __future__ import annotations

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import COINCIDENT
from worker.field.clearing import Task, clear
from worker.field.field import Solid
from worker.field.foothold import form_of
from worker.field.plane import Everywhere, Filled, Minus
from worker.field.scene import UPRIGHT, Scene
from worker.field.stated import keeps_off
from worker.stage.model import Cut

FOLLOW = "freeform_operation"
FAR = 1e5
"""Past all metal (mm): a form that turns down has the height of its turn there."""


def goes_in_levels(cut: Cut) -> bool:
    """Whether the cutter clears such faces in passes: told to, or since it follows none."""
    return cut.step.operation != FOLLOW or keeps_off(cut)


def is_rounded_off(scene: Scene, feature: Feature) -> bool:
    """True for a region that looks up, of faces of simple form that do not hollow it, and not all level."""
    if feature.class_ != "region" or not all(looks_up(scene, face) for face in feature.faces):
        return False
    each = [scene.up_of([face]) for face in feature.faces]
    bent = any(len(own) and np.ptp(own[:, :, 2]) > COINCIDENT for own in each)
    return bent and all(len(own) and form_of(own) is not None for own in each)


def is_crown(scene: Scene, feature: Feature) -> bool:
    """True when some of the feature's faces look up that are neither level nor upright."""
    seen = [face for face in feature.faces if looks_up(scene, face) or is_rolled(scene, face)]
    return any(np.ptp(scene.up_of([face])[:, :, 2]) > COINCIDENT for face in seen if len(scene.up_of([face])))


def in_levels(scene: Scene, cut: Cut, feature: Feature) -> list[Solid]:
    """All above what looks up of a contour or boss, in passes."""
    seen = [face for face in feature.faces if looks_up(scene, face) and len(scene.up_of([face]))]
    rolled = [face for face in feature.faces if is_rolled(scene, face)]
    faces = scene.up_of([*seen, *rolled])
    bent = faces[np.ptp(faces[:, :, 2], axis=1) > COINCIDENT]
    lows = [float(scene.up_of([face])[:, :, 2].min()) for face in seen]
    low, top = min([*lows, *(_turning(scene, face) for face in rolled)]), float(bent[:, :, 2].max())
    standing = scene.shadow(low + COINCIDENT)
    outside = Minus(Everywhere(), Minus(Filled(standing), standing))
    return [*clear(scene, cut, Task(outside, low, sloping=top))]


def looks_up(scene: Scene, face: int) -> bool:
    """Whether nothing of a face looks down, but for triangles that only its border's bend makes."""
    return not np.any((scene.looks < -UPRIGHT) & (scene.owner == face) & ~scene.slivers)


def is_rolled(scene: Scene, face: int) -> bool:
    """True for a face that bulges and looks both up and down."""
    looks = scene.looks[scene.owner == face]
    both = bool(np.any(looks > UPRIGHT) and np.any(looks < -UPRIGHT))
    return both and form_of(scene.up_of([face])) is not None


def _turning(scene: Scene, face: int) -> float:
    """The height at which such a face stands upright."""
    form = form_of(scene.up_of([face]))
    assert form is not None
    return float(form(np.full((1, 2), FAR))[0][0])
