"""Free-form work: a ball or bull-nose cutter follows faces, and what stands on them is gone."""

from __future__ import annotations

from schemas.feature import Feature
from schemas.tolerances import LENGTH
from worker.kernel.shadow import concave_radius
from worker.stage.model import ResolvedStep
from worker.stage.removal.bull_nose import gets_down
from worker.stage.removal.crowns import lowest, open_faces
from worker.stage.removal.foot import at_feet, less
from worker.stage.removal.off_faces import as_stated
from worker.stage.removal.scene import Scene, Sweep, nothing
from worker.stage.removal.transitions import followed, lifted, plan_of


def follow_faces(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """The columns on the faces that look up and that are nowhere tighter than the tool's corner."""
    low, high = scene.heights(feature)
    seen = open_faces(scene.sky, feature)
    fitting = [i for i in seen if _follows(scene, job, i)]
    free, kept, rides = at_feet(scene, job.tool, fitting)
    if not free:
        return nothing(low, f"The tool cannot follow {feature.id}.")
    notes = [] if len(fitting) == len(seen) else [f"Parts of {feature.id} are tighter than the tool's corner."]
    notes += [] if len(free) == len(fitting) else [f"What stands beside parts of {feature.id} bars the tool from them."]
    notes += [f"The tool's corner leaves its round at the foot of {feature.id}."] if kept else []
    bodies = less(lifted(scene, free, min(lowest(scene.sky, i) for i in free)), kept)
    return followed(as_stated(scene, job, free, bodies, rides), plan_of(scene, free), (low, high), *notes)


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
