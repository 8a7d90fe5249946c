"""Pockets, slots and steps: their own volume, up to the surface and out past their open sides."""

from __future__ import annotations

import math

from schemas.feature import Feature
from schemas.tolerances import COINCIDENT
from worker.kernel import measure
from worker.kernel.shadow import concave_radius, face_facts
from worker.part import RECESSES
from worker.stage.model import ResolvedStep
from worker.stage.removal.beneath import over_what_crosses
from worker.stage.removal.bridged import troughs
from worker.stage.removal.corners import FITS_NONE, Fit, fit_of, on_slopes, without_corner
from worker.stage.removal.crowded import settled
from worker.stage.removal.footprint import Footprint, footprint
from worker.stage.removal.freeform import follow_faces
from worker.stage.removal.planes import clear
from worker.stage.removal.ramps import along_floor, follows_slopes
from worker.stage.removal.scene import Scene, Sweep, nothing
from worker.stage.removal.shallow import along_shallow

FLATTISH = math.cos(math.radians(47.0))
"""Share of its own area that a floor shows the spindle at least: one at 45 degrees is a floor, a quarter of a round
(2 / pi) is none."""


def clear_recess(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """The recess as far as the cutter gets into it."""
    plan = footprint(scene, feature, scene.domain(job.tool))
    if not plan.ground:
        return nothing(plan.bottom, f"{feature.id} shows the spindle neither a floor nor walls.")
    crossing = _crossing(scene, feature)
    fit = over_what_crosses(scene, fit_of(scene, job, {*plan.floors, *crossing}), plan.ground)
    shallow = along_shallow(scene, job, fit, plan)
    if shallow is not None:
        return shallow
    slopes = _top_of_slopes(scene, feature, plan, fit.passed)
    if slopes is None and fit.barred:
        fit = FITS_NONE
        slopes = _top_of_slopes(scene, feature, plan, fit.passed)
    if slopes is not None and fit.passed:
        fit = on_slopes(scene, job, fit, plan.floors)
        slopes = _top_of_slopes(scene, feature, plan, fit.passed)
    if slopes is not None and follows_slopes(job):
        along = along_floor(scene, job, feature, plan.floors, plan.ground, plan.seed)
        if along is not None:
            return along
    lowered = job.step.overcut_length if not plan.floors else 0.0
    deep = job.step.bottom_z is not None and job.step.bottom_z < plan.bottom - COINCIDENT
    bent = any(not scene.sky.shown[i].flat for i in crossing)  # the floor goes on, where no face ends it

    def cleared(job: ResolvedStep, fit: Fit, low: float) -> Sweep:
        own_round = deep or bent or slopes is not None or low > plan.bottom
        job = job if own_round else without_corner(scene, job, fit, plan.floors)
        return clear(scene, job, plan.ground, low, seed=plan.seed, lowered=lowered, fit=fit, sloping=slopes)

    follows = slopes is None and not deep
    sweep = settled(scene, job, fit, plan.ground, plan.bottom, cleared) if follows else cleared(job, fit, plan.bottom)
    if not sweep.bodies and not any(scene.sky.shown[i].look == "upright" for i in feature.faces):
        return follow_faces(scene, job, feature)  # a hollow without walls: nothing holds the cutter off sideways
    return sweep


def _top_of_slopes(scene: Scene, feature: Feature, plan: Footprint, passed: frozenset[int]) -> float | None:
    """Where floors end that are neither level nor walls: they look more upwards than aside on the whole, or are round
    bottoms."""
    bent = [i for i in plan.floors if i not in passed and not scene.sky.shown[i].flat]
    hollow = [i for i in bent if feature.class_ in RECESSES and concave_radius(scene.sky.body, i) is not None]
    round_ = troughs(scene, hollow)
    tops = (scene.sky.rise(i)[1] for i in bent if i in round_ or _looks_up(scene, i))
    return max(tops, default=None)


def _looks_up(scene: Scene, index: int) -> bool:
    return scene.sky.region(index).area > FLATTISH * measure.area(face_facts(scene.sky.body)[index].face)


def _crossing(scene: Scene, feature: Feature) -> tuple[int, ...]:
    """Faces of the recesses that share a floor with it, as far as the spindle sees them: where they cross, the fillets
    of one stand in the other's corners, and neither cutter would take what stands over them."""
    mates = {id for i in feature.faces if scene.part.shared(feature, i) for id in scene.part.feature_of_face(i)} - {
        feature.id
    }
    found = {i for id in mates if scene.part.feature(id).class_ in RECESSES for i in scene.part.feature(id).faces}
    return tuple(sorted(i for i in found if scene.sky.shown[i].look in ("up", "both")))
