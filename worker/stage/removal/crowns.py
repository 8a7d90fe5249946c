"""Contours that are looked at from their side, and bosses: of them a cutter makes from above what looks up."""

from __future__ import annotations

from schemas.feature import Feature
from schemas.plan import Workingstep
from schemas.tolerances import LENGTH
from worker.kernel.mesh import triangles_of
from worker.kernel.planar import boxes_meet, filled, overlap, subtract
from worker.kernel.shadow import Shown, Skyline, concave_radius, face_facts
from worker.stage.model import ResolvedStep
from worker.stage.removal.planes import clear
from worker.stage.removal.scene import Scene, Sweep

CROWNED = frozenset({"profile_feature", "boss"})
"""Classes that are made round their own axis, but whose faces may also look towards the spindle."""


def open_faces(sky: Skyline, feature: Feature) -> list[int]:
    """The faces of a feature that look up; of a contour those that nothing of the part stands over."""
    if feature.class_ not in CROWNED:
        return [i for i in feature.faces if sky.shown[i].look == "up"]
    return [i for i in feature.faces if _looks_up(sky, i) and not _is_covered(sky, sky.shown[i])]


def lowest(sky: Skyline, index: int) -> float:
    """The lowest height of what looks up of a face that is seen (setup's z)."""
    upper = sky.upper(index) if sky.shown[index].look == "both" else []
    if not upper:
        return sky.shown[index].low
    points, _, _ = triangles_of(upper)
    return float(((points - sky.frame.location) @ sky.frame.z).min())


def _looks_up(sky: Skyline, index: int) -> bool:
    """Whether it does, or bulges and does so in part."""
    look = sky.shown[index].look
    return look == "up" or (look == "both" and concave_radius(sky.body, index) is None and bool(sky.upper(index)))


def is_crown(sky: Skyline, feature: Feature) -> bool:
    """True for a contour or boss of which the spindle sees faces that are not level."""
    return feature.class_ in CROWNED and any(not sky.shown[i].flat for i in open_faces(sky, feature))


def is_rounded_off(sky: Skyline, feature: Feature) -> bool:
    """True for a region, as a dome on a round bar, of which all looks up and nothing is hollow or a free form."""
    if feature.class_ != "region" or any(sky.shown[i].look != "up" for i in feature.faces):
        return False
    simple = all(face_facts(sky.body)[i].kind != "other" for i in feature.faces)
    hollow = any(concave_radius(sky.body, i) is not None for i in feature.faces)
    return simple and not hollow and not all(sky.shown[i].flat for i in feature.faces)


def _is_covered(sky: Skyline, own: Shown) -> bool:
    higher = (s for s in sky.upward(own.low) if s.index != own.index and s.low >= own.low)
    near = (s for s in higher if boxes_meet(s.bounds, own.bounds))
    return any(overlap(sky.region(s.index), sky.region(own.index)) for s in near)


def goes_in_levels(job: ResolvedStep) -> bool:
    """Whether the step cuts such faces in levels: one that does not follow them, or cannot."""
    return job.step.operation != "freeform_operation" or keeps_off(job)


def keeps_off(job: ResolvedStep) -> bool:
    """Whether it leaves an allowance, or has a cutter without a round corner, which follows nothing that leans."""
    return max(job.step.allowance_side, job.step.allowance_bottom) > 0 or job.tool.corner_radius <= LENGTH


def raised(step: Workingstep) -> float:
    """How much higher (mm) a cutter follows faces for the larger of its allowances; lower for a negative one."""
    both = (step.allowance_side, step.allowance_bottom)
    return max(both) if max(both) > 0 else min(both)


def clear_crown(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """All stock above what looks up of it, in levels, each outside the silhouette of what stands above that level."""
    seen = open_faces(scene.sky, feature)
    low = min(lowest(scene.sky, i) for i in seen)
    top = max(scene.sky.shown[i].high for i in seen if not scene.sky.shown[i].flat)
    standing = scene.sky.above(low)
    ground = subtract(scene.domain(job.tool), [subtract(filled(standing), [standing])])
    return clear(scene, job, ground, low, sloping=top)
