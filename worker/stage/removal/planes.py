"""Planes and outside profiles: all stock above a plane, all stock outside a silhouette."""

from __future__ import annotations

from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.planar import NOWHERE, Region, filled, grow, half_plane, intersect, subtract, union
from worker.stage.model import ResolvedStep
from worker.stage.removal.corners import FITS_NONE, Fit, fit_of, less_the_part, without_corner
from worker.stage.removal.crowded import settled
from worker.stage.removal.levels import Task, level_bodies, levels, spared, terraces, tip_height
from worker.stage.removal.own_size import along_trough
from worker.stage.removal.scene import Scene, Sweep, nothing


def clear_plane(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """All stock above the face's plane, also beyond the face, as far as the part lets the cutter."""
    flat = [i for i in feature.faces if scene.sky.shown[i].look == "up"]
    if not flat:
        return _beside(scene, job, feature)
    nominal = max(scene.sky.shown[i].high for i in flat)
    seed = union(scene.sky.region(i) for i in flat)
    fit = fit_of(scene, job, _feet(scene, feature, nominal))
    deep = job.step.bottom_z is not None and job.step.bottom_z < nominal - COINCIDENT
    ground = scene.domain(job.tool)

    def cleared(job: ResolvedStep, fit: Fit, low: float) -> Sweep:
        job = job if deep or low > nominal else without_corner(scene, job, fit, flat)
        return clear(scene, job, ground, low, seed=seed, fit=fit)

    return cleared(job, fit, nominal) if deep else settled(scene, job, fit, ground, nominal, cleared)


def _feet(scene: Scene, feature: Feature, level: float) -> list[int]:
    """Hollow faces at the feet of the bosses that stand on the face."""
    known = [scene.sky.shown[i] for id in feature.bosses for i in scene.part.feature(id).faces]
    return [s.index for s in known if s.look in ("up", "both") and abs(s.low - level) <= LENGTH]


def _beside(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """A face that stands upright is cut from its side: all stock beyond its plane, down to the face's lower end."""
    low = scene.foot_of_side(feature)
    if any(scene.sky.shown[i].look != "upright" for i in feature.faces):
        return nothing(low, f"{feature.id} does not look towards the spindle.")
    outward = scene.frame.direction_to_local(feature.placement.z)
    at = scene.frame.to_local(feature.placement.location)
    beyond = intersect(
        half_plane((at[0], at[1]), (outward[0], outward[1]), 8 * scene.metal.diagonal), scene.domain(job.tool)
    )
    return clear(scene, job, beyond, low, lowered=job.step.overcut_length)


def clear_profile(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """All stock outside the silhouette of what stands above the profile's bottom, from the top down to there."""
    nominal = scene.foot(feature)
    if any(scene.sky.shown[i].look != "upright" for i in feature.faces):
        return nothing(nominal, f"{feature.id} does not run round the setup's axis.")
    outside = subtract(scene.domain(job.tool), [filled(scene.sky.above(nominal))])
    return clear(scene, job, outside, nominal, lowered=job.step.overcut_length, outside=True)


def clear(
    scene: Scene,
    job: ResolvedStep,
    footprint: Region,
    nominal: float,
    *,
    seed: Region | None = None,
    lowered: float = 0.0,
    fit: Fit = FITS_NONE,
    sloping: float | None = None,
    outside: bool = False,
) -> Sweep:
    """The footprint cleared down to its bottom; ``lowered`` is how far a through feature is cut past it, ``sloping``
    the height at which a floor that slopes ends: it is left in terraces; ``outside``: from beside the metal alone."""
    step, tool = job.step, job.tool
    bottom, stated = tip_height(step, nominal, lowered)
    raised = 0.0 if stated else max(step.allowance_bottom, 0.0)
    if step.allowance_side < 0:  # the cutter goes past the walls by as much: the ground reaches into them
        footprint = grow(footprint, -step.allowance_side)
    passes = terraces(step, tool, bottom, sloping + raised) if sloping is not None else ()
    task = Task(
        footprint, bottom, nominal, step.allowance_side, raised, seed, fit, stated, passes, sloping is not None, outside
    )
    found = levels(scene, task, tool)
    plan = found[-1].covered if found else NOWHERE
    deep = bool(found) and bottom < nominal - COINCIDENT and scene.part_stands(bottom, nominal, plan)
    gouging = deep or step.allowance_side < 0
    own = None if gouging or stated else along_trough(scene, found, fit.trough, tool)
    bodies = own or level_bodies(scene, found, [fit.round_at(level.low, tool.corner_radius) for level in found])
    if fit.matched and not gouging and not own:
        tips = [level.low for level in found] if len(bodies) == len(found) else [bottom]
        bodies = less_the_part(scene, bodies, tips, fit)
    return Sweep(
        bodies=bodies,
        plan=plan,
        gouging=bodies if gouging else (),
        tip_z=found[0].low if found else bottom,
        full_diameter_z=found[0].low if found else bottom,
        nominal_z=nominal,
        spared=spared(scene, found, task.seed),
        column=found[0].low + tool.corner_radius if len(found) == 1 and found[0].high >= scene.top else None,
    )
