"""What one workingstep removes: one file an operation family.

``planes`` (faces and outside profiles), ``recesses`` (pockets, slots, steps), ``holes``, ``transitions`` (chamfers,
edge rounds), ``freeform``, ``undercuts`` (grooves, T-slots, dovetails). ``levels`` turns ground plans into solids,
``footprint`` and ``chains`` find them; ``positions`` and ``heads`` say where an undercutting cutter can stand.
"""

from __future__ import annotations

from collections.abc import Callable

from schemas.feature import HOLES, Feature
from schemas.tool import NEEDS_ANGLE
from worker.stage.model import ResolvedStep
from worker.stage.removal.crowns import clear_crown, goes_in_levels, is_crown, is_rounded_off, keeps_off
from worker.stage.removal.freeform import follow_faces
from worker.stage.removal.holes import make_hole
from worker.stage.removal.planes import clear_plane, clear_profile
from worker.stage.removal.recesses import clear_recess
from worker.stage.removal.scene import Scene, Sweep, merge_sweeps, nothing
from worker.stage.removal.transitions import break_edge
from worker.stage.removal.undercuts import clear_undercut, undercuts
from worker.stage.removal.vee_runs import clear_vee

Family = Callable[[Scene, ResolvedStep, Feature], Sweep]


def sweep_step(scene: Scene, job: ResolvedStep) -> Sweep:
    """What the step's tool passes through, for all of its features together."""
    if job.step.operation == "edge_breaking" or not job.features:
        return nothing(scene.metal.max[2])
    return merge_sweeps([_family(scene, job, feature)(scene, job, feature) for feature in job.features])


def _family(scene: Scene, job: ResolvedStep, feature: Feature) -> Family:
    if feature.class_ in HOLES:
        return make_hole
    if is_crown(scene.sky, feature):
        return clear_crown if goes_in_levels(job) else follow_faces
    if is_rounded_off(scene.sky, feature) and keeps_off(job):
        return clear_crown
    if job.step.operation == "freeform_operation" and _is_followed(scene, feature):
        return follow_faces
    if feature.class_ == "planar_face":
        return clear_plane
    if feature.class_ == "profile_feature":
        return clear_profile
    if feature.class_ == "boss":
        return _no_crown
    if feature.class_ in ("chamfer", "edge_round"):
        return break_edge
    if job.tool.type in NEEDS_ANGLE:
        return clear_vee
    if undercuts(scene.frame, job.tool, feature):
        return clear_undercut
    if feature.class_ == "region":
        return follow_faces
    return clear_recess


def _no_crown(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """Of a boss whose sides stand upright nothing is cut: its top is a face of its own."""
    return nothing(scene.heights(feature)[0], f"Nothing of {feature.id} leans or bulges towards the spindle.")


def _is_followed(scene: Scene, feature: Feature) -> bool:
    """Chamfers, and plane faces that lean and that nothing stands on: a flat cutter makes neither."""
    leans = all(scene.sky.shown[i].look == "up" and not scene.sky.shown[i].flat for i in feature.faces)
    return feature.class_ == "chamfer" or (feature.class_ == "planar_face" and leans and not feature.bosses)


__all__ = ["Scene", "Sweep", "sweep_step"]
