"""Flats of cutters that are too wide for a floor between its fillets: with a corner smaller than a fillet a cutter
rolls up it only from where its flat has been (setup's frame, mm).

A cutter of radius R with a corner r is a disc of R - r grown by a ball of r. Of a fillet f it takes all that the same
disc grown by a ball of f takes: the floor that the disc covers, with a fillet f about it. Where the disc covers all of
the floor that is the whole fillet, and nothing need be asked. Where it does not, the wider cutter's way is taken, and
above it that of the cutter itself, whose corner ends with the fillet on the wall.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from schemas.tolerances import COINCIDENT, LENGTH
from schemas.tool import Tool
from worker.kernel.planar import Region, intersect, open_by_disc, subtract
from worker.kernel.shadow import concave_radius
from worker.stage.model import ResolvedStep
from worker.stage.removal.corners import Fit, fit_of
from worker.stage.removal.scene import Scene, Sweep, merge_sweeps

LEAST = 1e-3
"""Area (mm2) of floor that the flat may miss: less is what borders that should be one differ by."""
Cleared = Callable[[ResolvedStep, Fit, float], Sweep]
"""What a step clears with a fit, from a height of its tip up."""


def settled(scene: Scene, job: ResolvedStep, fit: Fit, ground: Region, bottom: float, cleared: Cleared) -> Sweep:
    """What the step clears, whose corner follows fillets beside its floor as ``fit`` says, as far as its flat does."""
    wide = _wider(scene, job.tool, fit)
    if wide is None or not _crowded(scene, job.tool, fit, ground, bottom):
        return cleared(job, fit, bottom)
    alike = replace(job, tool=wide)
    wider = cleared(alike, fit_of(scene, alike, fit.passed), bottom)
    upper = max(scene.sky.shown[i].high for i in fit.matched) - job.tool.corner_radius
    rest = cleared(job, fit, max(upper, bottom))
    return merge_sweeps([one for one in (wider, rest) if one.bodies] or [rest])


def _wider(scene: Scene, tool: Tool, fit: Fit) -> Tool | None:
    """The flat grown by a ball of the widest fillet; None for a cutter without a flat, or with that very corner."""
    flat = tool.radius - tool.corner_radius
    widest = max((concave_radius(scene.sky.body, i) or 0.0 for i in fit.matched), default=0.0)
    if flat <= LENGTH or widest <= tool.corner_radius + LENGTH:
        return None
    return tool.model_copy(update={"type": "bullnose_endmill", "DC": 2 * (flat + widest), "RE": widest})


def _crowded(scene: Scene, tool: Tool, fit: Fit, ground: Region, bottom: float) -> bool:
    """Whether the cutter gets over floor, as its whole width goes, that its flat does not."""
    level = bottom + COINCIDENT
    walls = subtract(ground, [scene.shadow(level, ground.bounds, fit.passed)])
    floor = subtract(ground, [scene.sky.above(level)])
    over = intersect(intersect(open_by_disc(walls, tool.radius), floor), scene.reach(tool))
    return subtract(over, [open_by_disc(floor, tool.radius - tool.corner_radius)]).area > LEAST
