"""Free-form work: a ball or bull-nose cutter follows faces, and what stands on them is gone."""

from __future__ import annotations

from schemas.feature import Feature
from schemas.tolerances import LENGTH
from worker.kernel.shadow import concave_radius
from worker.stage.model import ResolvedStep
from worker.stage.removal.bull_nose import gets_down
from worker.stage.removal.scene import Scene, Sweep, nothing
from worker.stage.removal.transitions import lifted, plan_of


def follow_faces(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """The columns on the faces that look up and that are nowhere tighter than the tool's corner."""
    low, high = scene.heights(feature)
    seen = [i for i in feature.faces if scene.sky.shown[i].look == "up"]
    fitting = [i for i in seen if _follows(scene, job, i)]
    if not fitting:
        return nothing(low, f"The tool cannot follow {feature.id}.")
    notes = () if len(fitting) == len(seen) else (f"Parts of {feature.id} are tighter than the tool's corner.",)
    tip = min(scene.sky.shown[i].low for i in fitting)
    bodies, plan = lifted(scene, fitting, tip), plan_of(scene, fitting)
    return Sweep(bodies, plan, tip_z=tip, full_diameter_z=high, nominal_z=low, notes=notes)


def _follows(scene: Scene, job: ResolvedStep, index: int) -> bool:
    """Flat faces and hollows no tighter than the tool's corner, which its flat bottom does not bridge; a sharp tool
    follows planes square to it only."""
    corner, tool = job.tool.corner_radius, job.tool
    if scene.sky.shown[index].flat:
        return True
    hollow = concave_radius(scene.sky.body, index)
    if hollow is None or corner <= LENGTH or tool.radius - corner <= LENGTH:
        return corner > LENGTH and (hollow is None or hollow >= corner - LENGTH)
    return hollow >= corner - LENGTH and gets_down(scene.sky.body, index, scene.frame, tool)
