"""Cutters that travel: a ground cleared from its bottom up, height by height, by a disc (setup's frame, mm)."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from schemas.tolerances import COINCIDENT
from schemas.tool import Tool
from worker.field.lines import subtract
from worker.field.plane import Grown, Join, Known, Minus, Region, Rooted, Shadow, known
from worker.field.scene import Scene
from worker.field.solids import Layer, Layers
from worker.field.tight import Box2, Nowhere, Opened, opened
from worker.stage.model import Cut

SAME = 1e-9
CORNER_SHARE = 0.05
CORNER = 0.02
"""Area (mm2) per mm of the cutter's radius that the points along the arcs of left corners can miss."""


@dataclass(frozen=True)
class Task:
    """A ground, the part's bottom there, where the cut must begin (None: anywhere), how far it is cut deeper.

    ``bounds``: a rectangle that holds the ground, where it has one; faces outside it bar nothing.
    """

    ground: Region
    nominal: float
    seed: Region | None = None
    lowered: float = 0.0
    bounds: Box2 | None = None


def clear(scene: Scene, cut: Cut, task: Task) -> Layers:
    """What the cutter takes: at each height the ground without the part and workholding above, as far as it fits."""
    step, tool = cut.step, cut.tool
    stated = step.bottom_z is not None
    bottom = step.bottom_z if step.bottom_z is not None else task.nominal + step.allowance_bottom - task.lowered
    raised = 0.0 if stated else max(step.allowance_bottom, 0.0)
    heights = _heights(scene, task, bottom, raised, step.allowance_side)
    layers: list[Layer] = []
    before = -1.0
    root = task.seed
    for low, high in zip(heights, [*heights[1:], scene.top], strict=True):
        free = _free(scene, task, max(low - raised, task.nominal), step.allowance_side, None if stated else low)
        first = free.scan(0, scene.scan_lines[0])
        size = float((first.stop - first.start).sum())
        if layers and abs(size - before) <= SAME * max(size, 1.0):
            layers[-1] = replace(layers[-1], high=high)
            continue
        scanned = Known(scene.scan_lines, (first, free.scan(1, scene.scan_lines[1])))
        covered = _covered(scene, free, scanned, tool, root)
        if covered is None:
            break
        layers.append(Layer(low, high, covered, _doubt(scene, scanned, covered, tool)))
        before, root = size, covered if task.seed is not None else None
    return Layers(scene.view, tuple(layers))


def _heights(scene: Scene, task: Task, bottom: float, raised: float, side: float) -> list[float]:
    """The bottom, and every height above it at which a face of the part or of the workholding begins or ends."""
    start = max(bottom, task.nominal + raised)
    near = [s for s in scene.steps_up if s[1] > task.nominal + COINCIDENT and _meet(s[2], task.bounds, side)]
    part = {z + raised for low, high, _ in near for z in (low, high)}
    held = {float(z) for z in np.unique(np.round(scene.held_up[:, :, 2], 6))} if len(scene.held_up) else set()
    above = sorted(z for z in part | held if start + COINCIDENT < z < scene.top)
    found = [bottom]
    for z in above:
        if z > found[-1] + COINCIDENT:
            found.append(z)
    return found


def _meet(a: Box2, b: Box2 | None, gap: float) -> bool:
    """True when two rectangles come within ``gap``; no rectangle meets all."""
    return b is None or all(a[k] < b[k + 2] + gap and b[k] < a[k + 2] + gap for k in (0, 1))


def _free(scene: Scene, task: Task, z: float, side: float, held_above: float | None) -> Region:
    level = z + COINCIDENT
    shadow: Region = Grown(scene.up, level, side) if side > COINCIDENT else Shadow(scene.up, level)
    if held_above is not None and len(scene.held_up):
        shadow = Join((shadow, Shadow(scene.held_up, held_above + COINCIDENT)))
    return Minus(task.ground, shadow)


def _doubt(scene: Scene, free: Known, covered: Known, tool: Tool) -> float:
    """Corners that a cutter leaves are known to a twentieth of their area, and to the points along their arcs."""
    ys = scene.scan_lines[0]
    left = subtract(free.lines[0], covered.lines[0])
    near = (left.stop > scene.room[0]) & (left.start < scene.room[2])
    size = float(((left.stop - left.start) * np.gradient(ys)[left.line])[near].sum())
    return CORNER_SHARE * size + CORNER * tool.radius if size > CORNER * tool.radius else 0.0


def _covered(scene: Scene, free: Region, scanned: Known, tool: Tool, root: Region | None) -> Known | None:
    """What the cutter covers, as far as it hangs together with the root; None when that is nothing."""
    covered = opened(free, tool.radius, scene.room)
    if isinstance(covered, Nowhere):
        return None
    at = scene.scan_lines
    found = known(replace(covered, region=scanned), at) if isinstance(covered, Opened) else scanned
    if root is not None:
        found = known(Rooted(found, root), at)
    return found if len(found.lines[0]) or len(found.lines[1]) else None
