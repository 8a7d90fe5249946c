"""Tools that work on an axis: how deep they go and what they turn out of the metal (setup's frame, mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from schemas.feature import Feature, is_pit
from schemas.plan import Workingstep
from schemas.tolerances import LENGTH
from schemas.tool import Tool
from worker.field.lines import Floats
from worker.field.open_ends import open_ends, runs_along
from worker.field.scene import UPRIGHT, Scene
from worker.field.solids import Turned
from worker.stage.model import Cut

POINTED = frozenset({"spotdrill", "countersink", "chamfer_mill"})
BELOW = 1e3
"""How far below the metal a tool that cuts from behind begins (mm)."""
CHORDS = 64
"""Chords of a tool's round corner: within corner / 13,000 of the arc."""


@dataclass(frozen=True, eq=False)
class Hole:
    """One cylindrical or conical element: axis, ends, diameters, and the corners of its faces' triangles.

    ``face`` is the height of the face it opens in, above ``entry`` where its edge is chamfered, as ``bottom`` is below
    the wall where that of its far end is.
    """

    feature: Feature
    x: float
    y: float
    entry: float
    bottom: float
    diameter: float
    tapered: bool
    corners: Floats
    face: float

    @property
    def through(self) -> bool:
        """Open at its lower end."""
        return self.feature.bottom == "through"


def holes_of(scene: Scene, feature: Feature, elements: Sequence[Feature]) -> list[Hole]:
    """The elements of a hole, or the hole itself, from the spindle's side down; empty where the axis is another."""
    found = [_hole(scene, f) for f in (elements or [feature]) if runs_along(scene, f)]
    if len(found) == 1:  # nothing else to go into: a taper alone is entered like a bore
        found = [replace(found[0], tapered=False)]
    return sorted(found, key=lambda h: (-h.entry, -h.diameter))


def _hole(scene: Scene, feature: Feature) -> Hole:
    x, y, _ = scene.view.to_setup(np.array(feature.placement.location)).tolist()
    mine = scene.of(feature)
    walls = mine & (np.abs(scene.looks) < UPRIGHT)
    zs = scene.part[walls if walls.any() else mine][:, :, 2]
    corners = scene.part[mine].reshape(-1, 3)
    widest = max(feature.diameter or 0.0, feature.top_diameter or 0.0)
    tapered = not walls.any() or (feature.top_diameter or 0.0) > (feature.diameter or widest) + LENGTH
    entry, mouths = float(zs.max()), open_ends(scene, feature)
    lowest = corners[:, 2] if feature.bottom == "flat_with_radius" else zs
    bottom = entry if is_pit(feature) else min([float(lowest.min()), *mouths])
    return Hole(feature, x, y, entry, bottom, widest, tapered, corners, max([entry, *mouths]))


def turned(scene: Scene, cut: Cut, found: list[Hole]) -> Turned | None:
    """What the tool takes out of a hole; None for a tap in a hole that is modelled at its minor diameter."""
    step, tool = cut.step, cut.tool
    if step.operation == "tapping":
        return _tapped(scene, step, tool, found)
    if step.operation == "back_boring":
        return _from_behind(scene, step, tool, found)
    if tool.type in POINTED or step.operation == "center_drilling":
        tip = _sunk_to(step, tool, found)
        return _tool_body(scene, tool, found[0], tip + tool.point_length)
    hole = _deepest_fitting(found, tool)
    return _tool_body(scene, tool, hole, _full_diameter(step, hole, tool.point_length))


def _tool_body(scene: Scene, tool: Tool, hole: Hole, full: float) -> Turned:
    """Point or round corner, and the full diameter from the height ``full`` up."""
    tip, blunt = full - tool.point_length, (tool.tip_diameter or 0.0) / 2
    corner = tool.corner_radius if tool.point_length <= 0 else 0.0
    top = max(scene.top, full + corner + 1.0)
    if corner > LENGTH:
        turn = np.linspace(0.0, math.pi / 2, CHORDS + 1)
        heights, radii = full + corner * (1 - np.cos(turn)), tool.radius - corner * (1 - np.sin(turn))
        return Turned(scene.view, hole.x, hole.y, (*heights.tolist(), top), (*radii.tolist(), tool.radius))
    if tool.point_length <= 0:
        return Turned(scene.view, hole.x, hole.y, (full, top), (tool.radius, tool.radius))
    return Turned(scene.view, hole.x, hole.y, (tip, full, top), (blunt, tool.radius, tool.radius))


def _deepest_fitting(found: list[Hole], tool: Tool) -> Hole:
    fitting = [h for h in found if not h.tapered and h.diameter >= tool.diameter - LENGTH]
    if fitting:
        return min(fitting, key=lambda h: h.bottom)
    return max(found, key=lambda h: (h.feature.diameter or h.diameter, -h.bottom))


def _full_diameter(step: Workingstep, hole: Hole, point: float) -> float:
    """Lowest height of the full diameter: as stated, or at the bottom with allowance and overcut."""
    if step.bottom_z is not None:
        return step.bottom_z + point
    if step.cutting_depth is not None:
        return hole.face - step.cutting_depth
    over = step.overcut_length if hole.through else 0.0
    rest = point if hole.feature.bottom in ("flat", "flat_with_radius") else 0.0
    return hole.bottom + step.allowance_bottom + rest - over


def _sunk_to(step: Workingstep, tool: Tool, found: list[Hole]) -> float:
    """The tip of a spot or sink: as stated, or as deep as its cone goes without entering the part's edges."""
    if step.bottom_z is not None:
        return step.bottom_z
    if step.cutting_depth is not None:
        whole = step.operation == "center_drilling"
        return found[0].face - step.cutting_depth - (0.0 if whole else tool.point_length)
    slope = math.tan(math.radians(tool.flank_half_angle or 90.0))
    stops = [found[0].entry - tool.point_length]
    for hole in found:
        away = np.hypot(hole.corners[:, 0] - hole.x, hole.corners[:, 1] - hole.y)
        near = away < tool.radius - LENGTH
        rise = np.maximum(away[near] - (tool.tip_diameter or 0.0) / 2, 0.0) / slope
        stops += [float((hole.corners[near, 2] - rise).max())] if near.any() else []
        stops += [hole.bottom] if hole.feature.bottom in ("flat", "flat_with_radius") else []
    return max(stops) + step.allowance_bottom


def _tapped(scene: Scene, step: Workingstep, tool: Tool, found: list[Hole]) -> Turned | None:
    hole = min(found, key=lambda h: (abs(h.diameter - tool.diameter), h.bottom))
    if abs(hole.diameter - tool.diameter) > LENGTH:
        return None
    full = _full_diameter(step, hole, 0.0)
    return Turned(scene.view, hole.x, hole.y, (full, scene.top), (hole.diameter / 2, hole.diameter / 2))


def _from_behind(scene: Scene, step: Workingstep, tool: Tool, found: list[Hole]) -> Turned:
    hole = min(found, key=lambda h: h.entry)
    ledge = hole.entry if step.bottom_z is None else step.bottom_z
    return Turned(scene.view, hole.x, hole.y, (ledge - BELOW, ledge), (tool.radius, tool.radius))
