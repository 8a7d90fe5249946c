"""Hollow faces whose lowest line or point lies within them: a flat bottom bridges such a trough however small the round
about it is, where a fillet beside a floor leaves it that floor to stand on (setup's frame, mm)."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import LAYER, LENGTH, SAME_LENGTH, SQUARE
from schemas.tool import Tool
from worker.kernel.graph_surface import Surface, surface_of
from worker.kernel.planar import Region, union
from worker.kernel.shadow import face_facts
from worker.stage.removal.scene import Scene

Floats = NDArray[np.float64]
STEEPEST = 0.5
"""A floor that falls to the fillet at its lower end is no steeper (sine): what rises more is a trough's other side."""


def bridged(scene: Scene, tool: Tool, hollow: Collection[int]) -> frozenset[int]:
    """Those of some hollow faces over whose bottom the flat between the tool's corners cannot get down."""
    return troughs(scene, hollow) if tool.radius - tool.corner_radius > LENGTH else frozenset()


def troughs(scene: Scene, hollow: Collection[int]) -> frozenset[int]:
    """Those of some hollow faces that have their lowest line or point within them."""
    return frozenset(i for group in _alike(scene, hollow) if _is_trough(scene, *group) for i in group[1])


def leaning(scene: Scene, hollow: Collection[int]) -> frozenset[int]:
    """Those that are fillets at the lower end of a floor that slopes: they rise to the one side a little alone."""
    return frozenset(i for surface, group in _alike(scene, hollow) if _leans(scene, surface, group) for i in group)


def _leans(scene: Scene, surface: Surface, members: Sequence[int]) -> bool:
    plan = union(scene.sky.region(i) for i in members)
    if not plan or surface.kind != "cylinder":
        return False
    offsets = _off_line(scene, surface, plan)
    return bool(min(-offsets.min(), offsets.max()) <= STEEPEST * surface.radius)


def _alike(scene: Scene, hollow: Collection[int]) -> Iterator[tuple[Surface, list[int]]]:
    """Faces by the surface that they lie on: a trough may come in halves that meet along its bottom."""
    found: list[tuple[Surface, list[int]]] = []
    for index in sorted(hollow):
        own = surface_of(face_facts(scene.sky.body)[index].face)[0]
        mates = next((members for other, members in found if _same(own, other)), None)
        if mates is None:
            found.append((own, [index]))
        else:
            mates.append(index)
    yield from found


def _same(a: Surface, b: Surface) -> bool:
    """Whether two round surfaces are one: about the same axis or middle, and as round."""
    if a.kind != b.kind or abs(a.radius - b.radius) + abs(a.minor - b.minor) > SAME_LENGTH:
        return False
    apart, axis = np.subtract(a.origin, b.origin), np.array(a.axis)
    if a.kind == "cylinder":
        apart = apart - (apart @ axis) * axis
    turned = a.kind != "sphere" and float(np.linalg.norm(np.cross(axis, b.axis))) > SQUARE
    return not turned and float(np.linalg.norm(apart)) < SAME_LENGTH


def _is_trough(scene: Scene, surface: Surface, members: Sequence[int]) -> bool:
    plan = union(scene.sky.region(i) for i in members)
    if not plan or surface.kind not in ("cylinder", "cone", "torus", "sphere"):
        return False
    x, y, _ = scene.frame.to_local(surface.origin)
    if surface.kind == "sphere":
        return float(plan.signed_distance(np.array([[x, y]]))[0]) > LAYER
    w = scene.frame.direction_to_local(surface.axis)[2]
    if surface.kind == "torus":
        return abs(w) > 1 - SQUARE and _both_sides(np.hypot(*(plan.points - (x, y)).T) - surface.radius)
    return abs(w) < 1 - SQUARE and _both_sides(_off_line(scene, surface, plan))


def _off_line(scene: Scene, surface: Surface, plan: Region) -> Floats:
    """How far points of a plan's border lie to the left of a round surface's axis, seen from above."""
    x, y, _ = scene.frame.to_local(surface.origin)
    u, v, _ = scene.frame.direction_to_local(surface.axis)
    return np.asarray(((plan.points - (x, y)) @ np.array([-v, u])) / np.hypot(u, v))


def _both_sides(offsets: Floats) -> bool:
    return bool(offsets.min() < -LAYER and offsets.max() > LAYER)
