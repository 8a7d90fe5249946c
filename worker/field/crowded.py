"""Cutters whose flat finds no room on all of a floor between its fillets (setup's frame, mm).

A corner smaller than a fillet rolls up it only where the flat has been at its foot. A cutter is its flat grown by a
ball of its corner: grown by a ball of the fillet instead it is wider, and what that wider one takes with the fillet's
own corner the cutter takes as well. The rest it takes from where its corner ends with the fillet on the wall.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
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


def settled(scene: Scene, cut: Cut, task: Task, fit_for: Callable[[Cut], Fit]) -> list[Layers]:
    """What the cutter takes of a ground; ``fit_for``: how the corner of another cutter fits the same faces."""
    wide = _wider(scene, cut, task.fit)
    if wide is None or not _crowded(scene, cut, task):
        return clear(scene, cut, task)
    followed = np.isin(scene.owner, list(task.fit.followed))
    upper = float(scene.part[followed][:, :, 2].max()) - cut.tool.corner_radius
    rest = replace(task, nominal=max(upper, task.nominal), fit=replace(task.fit, onward=True))
    return [*clear(scene, wide, replace(task, fit=fit_for(wide))), *clear(scene, cut, rest)]


def _wider(scene: Scene, cut: Cut, fit: Fit) -> Cut | None:
    """The step with its flat grown by a ball of the widest fillet; None where the corner has that size, or no flat."""
    tool = cut.tool
    flat = tool.radius - tool.corner_radius
    widest = max((radius_of(scene.part[scene.owner == face]) for face in fit.followed), default=0.0)
    if flat <= LENGTH or widest <= tool.corner_radius + LENGTH:
        return None
    grown = {"type": "bullnose_endmill", "DC": 2 * (flat + widest), "RE": widest}
    return replace(cut, tool=tool.model_copy(update=grown))


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


def _seen(scene: Scene, region: Region) -> Lines:
    """What scan lines along x see of a region within the metal's rectangle."""
    found, (low, high) = region.scan(0, scene.scan_lines[0]), (scene.room[0], scene.room[2])
    clipped = Lines(found.line, np.maximum(found.start, low), np.minimum(found.stop, high))
    return clipped.where(clipped.stop > clipped.start)
