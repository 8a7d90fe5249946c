"""Flats of cutters that are too wide for a floor between its fillets: with a corner smaller than a fillet a cutter
rolls up it only from where its flat has been (setup's frame, mm).

A cutter of radius R with a corner r is a disc of R - r grown by a ball of r. Of a fillet f it takes all that the same
disc grown by a ball of f takes: the floor that the disc covers, with a fillet f about it. Where the disc covers all of
the floor that is the whole fillet, and nothing need be asked. Where it does not, the wider cutter's way is taken, and
above it passes of the cutter itself: its corner touches the fillet at an angle a off its foot where its tip stands
(f - r) (1 - cos a) over the floor and its flat ends f - (f - r) sin a off the wall.
"""

from __future__ import annotations

import math
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
STEPS, COARSE = 256, 64
"""Parts of a quarter turn up a fillet among which the one is looked for where the flat finds room, and every how many
of them a pass is run."""
CLEAR = 5e-3
"""So far (mm) passes keep off the fillets that they would touch along a line: no solid could touch them."""
Cleared = Callable[[ResolvedStep, Fit, float], Sweep]
"""What a step clears with a fit, from a height of its tip up."""


def settled(scene: Scene, job: ResolvedStep, fit: Fit, ground: Region, bottom: float, cleared: Cleared) -> Sweep:
    """What the step clears, whose corner follows fillets beside its floor as ``fit`` says, as far as its flat does."""
    widest = max((concave_radius(scene.sky.body, i) or 0.0 for i in fit.matched), default=0.0)
    corner, flat = job.tool.corner_radius, job.tool.radius - job.tool.corner_radius
    feet = sorted({bottom, *(scene.sky.shown[i].low for i in fit.matched)})
    if flat <= LENGTH or widest <= corner + LENGTH:
        return cleared(job, fit, bottom)
    if not any(_crowded(scene, job.tool, fit, ground, foot) for foot in feet):
        return cleared(job, fit, bottom)
    alike = replace(job, tool=_grown(job.tool, widest))
    found = [cleared(alike, fit_of(scene, alike, fit.passed), bottom)]
    if feet[-1] - feet[0] <= LENGTH:
        free = subtract(ground, [scene.shadow(bottom + COINCIDENT, ground.bounds, fit.passed)])
        for turn in _turns(scene, job.tool, free, widest):
            up, off = _touching(turn, widest, corner)
            found.append(cleared(_raised(job, up + bottom, off - corner + CLEAR), Fit(tighter=fit.passed), up + bottom))
    upper = max(scene.sky.shown[i].high for i in fit.matched) - corner
    found.append(cleared(_raised(job, max(upper, bottom)), fit, max(upper, bottom)))
    return merge_sweeps([one for one in found if one.bodies] or found[-1:])


def _grown(tool: Tool, corner: float) -> Tool:
    """The flat of a cutter grown by a ball of another radius."""
    size = 2 * (tool.radius - tool.corner_radius + corner)
    return tool.model_copy(update={"type": "bullnose_endmill", "DC": size, "RE": corner})


def _raised(job: ResolvedStep, tip: float, side: float = 0.0) -> ResolvedStep:
    """The same step with its tip at a height, or at its stated one where that is higher, so far off the walls."""
    stated = job.step.bottom_z
    height = None if stated is None else max(stated, tip)
    return replace(job, step=job.step.model_copy(update={"bottom_z": height, "allowance_side": side}))


def _crowded(scene: Scene, tool: Tool, fit: Fit, ground: Region, foot: float) -> bool:
    """Whether the cutter gets over floor, as its whole width goes, that its flat does not."""
    level = foot + COINCIDENT
    walls = subtract(ground, [scene.shadow(level, ground.bounds, fit.passed)])
    floor = subtract(ground, [scene.sky.above(level)])
    over = intersect(intersect(open_by_disc(walls, tool.radius), floor), scene.reach(tool))
    return subtract(over, [open_by_disc(floor, tool.radius - tool.corner_radius)]).area > LEAST


def _touching(turn: int, fillet: float, corner: float) -> tuple[float, float]:
    """How far the tip stands over the floor and the flat's end off the wall, so many parts of a quarter up a fillet."""
    angle = math.pi / 2 * turn / STEPS
    return (fillet - corner) * (1 - math.cos(angle)), fillet - (fillet - corner) * math.sin(angle)


def _turns(scene: Scene, tool: Tool, free: Region, fillet: float) -> list[int]:
    """At which parts of the quarter passes are run: where the flat finds room for the first time, between walls that
    run along each other all at once, and at even distances above that."""
    flat = tool.radius - tool.corner_radius

    def room(turn: int) -> float:
        off = _touching(turn, fillet, tool.corner_radius)[1]
        return intersect(open_by_disc(free, flat + off + CLEAR), scene.reach(tool)).area

    none, whole = room(0), room(STEPS)
    low, high = 0, STEPS
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if room(middle) > (none + whole) / 2 else (middle, high)
    sudden = {high} if room(high) - room(low) > (whole - none) / 2 else set()
    every = sorted({*range(COARSE, STEPS, COARSE), *sudden} - {STEPS})
    return [turn for turn in every if room(turn) - none > LEAST]
