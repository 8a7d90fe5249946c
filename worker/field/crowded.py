"""Cutters whose flat finds no room on all of a floor between its fillets (setup's frame, mm).

A corner smaller than a fillet rolls up it only where the flat has been at its foot. A cutter is its flat grown by a
ball of its corner: grown by a ball of the fillet instead it is wider, and what that wider one takes with the fillet's
own corner the cutter takes as well. The rest it takes in passes: where its corner has turned so far up the fillet, and
at last from where the two end together on the wall.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from schemas.tool import Tool
from worker.field.clearing import Task, bounds_of, clear
from worker.field.fitted import Fit, radius_of
from worker.field.lines import Lines, intersect, subtract
from worker.field.plane import Disc, Minus, Region
from worker.field.scene import Scene
from worker.field.solids import Layers
from worker.field.tight import Nowhere, opened
from worker.stage.model import Cut

LEAST = 1e-3
"""Area (mm2) of floor that the flat may miss: borders that should be one differ by less."""
FINE, EVEN = 256, 4
"""Into so many parts a quarter round is divided to find where the flat gets in; passes divide it evenly into these."""
APART = 5e-3
"""Between the passes and the fillets (mm): part of what a cutter is taken to do, for no solid could touch them."""


@dataclass(frozen=True)
class _Foot:
    """A cutter before fillets: the radius of the widest, heights where they begin, and where the last one ends."""

    tool: Tool
    fillet: float
    begins: tuple[float, ...]
    ends: float

    def lifted(self, part: int) -> tuple[float, float]:
        """With the corner turned by so many parts up the fillet: how high the tip stands above its foot, and how much
        wider the cutter's way is to be than its own radius."""
        turned, arm = np.pi / 2 * part / FINE, self.fillet - self.tool.corner_radius
        return float(arm * (1 - np.cos(turned))), float(arm * (1 - np.sin(turned))) + APART


def settled(scene: Scene, cut: Cut, task: Task, fit_for: Callable[[Cut], Fit]) -> list[Layers]:
    """What the cutter takes of a ground; ``fit_for``: how the corner of another cutter fits the same faces."""
    foot = _foot(scene, cut.tool, task)
    if foot is None or not any(_crowded(scene, cut, replace(task, nominal=level)) for level in foot.begins):
        return clear(scene, cut, task)
    flat, corner = cut.tool.radius - cut.tool.corner_radius, cut.tool.corner_radius
    grown = {"type": "bullnose_endmill", "DC": 2 * (flat + foot.fillet), "RE": foot.fillet}
    wide = replace(cut, tool=cut.tool.model_copy(update=grown))
    found = clear(scene, wide, replace(task, fit=fit_for(wide)))
    for part in _parts(scene, foot, task) if np.ptp(foot.begins) <= LENGTH else ():
        up, beside = foot.lifted(part)
        tip, own = task.nominal + up, Fit(tighter=task.fit.passed)
        found += clear(scene, _at(cut, tip, beside), replace(task, nominal=tip, fit=own))
    tip = max(foot.ends - corner, task.nominal)
    return [*found, *clear(scene, _at(cut, tip), replace(task, nominal=tip, fit=replace(task.fit, onward=True)))]


def _at(cut: Cut, tip: float, beside: float = 0.0) -> Cut:
    """The step with its tip at a height, or its stated one if that is higher, and so far beside the walls."""
    stated = cut.step.bottom_z
    keys = {"bottom_z": stated if stated is None else max(stated, tip), "allowance_side": beside}
    return replace(cut, step=cut.step.model_copy(update=keys))


def _foot(scene: Scene, tool: Tool, task: Task) -> _Foot | None:
    """None where the corner is no smaller than the fillets, or there is no flat."""
    mine = [scene.part[scene.owner == face] for face in sorted(task.fit.followed)]
    widest = max((radius_of(one) for one in mine), default=0.0)
    if tool.radius - tool.corner_radius <= LENGTH or widest <= tool.corner_radius + LENGTH:
        return None
    heights = [one[:, :, 2] for one in mine]
    begins = sorted({task.nominal, *(float(z.min()) for z in heights)})
    return _Foot(tool, widest, tuple(begins), max(float(z.max()) for z in heights))


def _crowded(scene: Scene, cut: Cut, task: Task) -> bool:
    """Whether the whole cutter gets over floor that its flat does not."""
    level, tool = task.nominal + COINCIDENT, cut.tool
    walls = Minus(task.ground, scene.shadow(level, task.fit.passed))
    floor = Minus(task.ground, scene.shadow(level))
    room = bounds_of(scene, task.ground)
    whole, flat = opened(walls, tool.radius, room), opened(floor, tool.radius - tool.corner_radius, room)
    if isinstance(whole, Nowhere) and task.axis is not None:
        whole = Disc(*task.axis, tool.radius)  # of the hole's own size: no scan line finds where it stands
    over = intersect(_seen(scene, whole), _seen(scene, floor))
    return subtract(over, _seen(scene, flat)).total(np.gradient(scene.scan_lines[0])) > LEAST


def _parts(scene: Scene, foot: _Foot, task: Task) -> list[int]:
    """By how many parts the corner has turned in each pass: evenly, and where the flat gets in between walls that leave
    it room all at once."""
    walls = Minus(task.ground, scene.shadow(task.nominal + COINCIDENT, task.fit.passed))
    bounds, width = bounds_of(scene, task.ground), np.gradient(scene.scan_lines[0])

    @cache
    def room(part: int) -> float:
        radius = foot.tool.radius + foot.lifted(part)[1]
        return _seen(scene, opened(walls, radius, bounds)).total(width)

    least, most = room(0), room(FINE)
    below, above = 0, FINE
    while above - below > 1:
        half = (below + above) // 2
        if room(half) - least > (most - least) / 2:
            above = half
        else:
            below = half
    at_once = room(above) - room(below) > (most - least) / 2
    tried = {FINE * k // EVEN for k in range(1, EVEN)} | ({above} if at_once and above < FINE else set())
    return [part for part in sorted(tried) if room(part) - least > LEAST]


def _seen(scene: Scene, region: Region) -> Lines:
    """What scan lines along x see of a region within the metal's rectangle."""
    found, (low, high) = region.scan(0, scene.scan_lines[0]), (scene.room[0], scene.room[2])
    clipped = Lines(found.line, np.maximum(found.start, low), np.minimum(found.stop, high))
    return clipped.where(clipped.stop > clipped.start)
