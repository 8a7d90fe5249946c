"""A ball in a trough of its own size: it runs along the trough's own axis, to where a wall or the metal ends it.

What it sweeps is the trough itself, ended by quarters of the ball. Taken as a floor with a round border less the part
it would be two cylinders a micrometre apart, which no boolean can tell from each other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from schemas.base import Frame, Vec3, add, dot, scale, sub
from schemas.tolerances import COINCIDENT, LENGTH, OPENING_SLACK
from schemas.tool import Tool
from worker.kernel import boolean, measure
from worker.kernel import primitives as solid
from worker.kernel.graph_surface import Surface
from worker.kernel.planar import Region, components
from worker.kernel.shape import Body
from worker.stage.removal.levels import Level
from worker.stage.removal.scene import Scene

LOST = 1e-6
"""Share of its volume by which a body may be off what its sizes say."""


def along_trough(scene: Scene, found: Sequence[Level], trough: Surface | None, tool: Tool) -> tuple[Body, ...] | None:
    """What a ball takes along a trough of its own size; None where that is not all that it covers, at one level."""
    if trough is None or len(found) != 1 or abs(tool.corner_radius - trough.radius) > LENGTH:
        return None
    axis = scene.frame.to_local(trough.origin)
    if tool.radius - tool.corner_radius > COINCIDENT or abs(axis[2] - trough.radius - found[0].low) > COINCIDENT:
        return None
    made = [_run(scene, part, trough, found[0].high) for part in components(found[0].covered)]
    bodies = [body for body in made if body is not None]
    return tuple(bodies) if len(bodies) == len(made) else None


def _run(scene: Scene, covered: Region, trough: Surface, high: float) -> Body | None:
    """The ball's way over a part of what it covers; None where that is no strip with straight or round ends."""
    u, v, _ = scene.frame.direction_to_local(trough.axis)
    x, y, z = scene.frame.to_local(trough.origin)
    along, r = (covered.points - (x, y)) @ np.array([u, v]), trough.radius
    low, far = float(along.min()), float(along.max())
    ends = [_is_walled(scene, (x + at * u, y + at * v)) for at in (low, far)]
    first, last = (at + walled * r * way for at, walled, way in zip((low, far), ends, (1, -1), strict=True))
    expected = 2 * r * (last - first) + sum(ends) * math.pi * r**2 / 2
    if last - first < LENGTH or abs(expected - covered.area) > 8 * r * OPENING_SLACK:
        return None
    begin, end = (add(trough.origin, scale(trough.axis, at)) for at in (first, last))
    height = max(high - z, 2 * r)
    body = boolean.fuse(_pieces(scene, trough, (begin, end), ends, height))
    volume = expected * height + math.pi * r**2 / 2 * (last - first) + sum(ends) * math.pi * r**3 / 3
    return body if abs(measure.volume(body) - volume) <= LOST * volume else None


def _is_walled(scene: Scene, at: tuple[float, float]) -> bool:
    """Whether an end of the way lies over the metal."""
    x0, y0, x1, y1 = scene.plan
    return x0 < at[0] < x1 and y0 < at[1] < y1


def _pieces(
    scene: Scene, trough: Surface, ends: tuple[Vec3, Vec3], walled: Sequence[bool], height: float
) -> list[Body]:
    size, up = 2 * trough.radius, scale(scene.frame.z, height)
    frame, length = Frame(location=ends[0], axis=scene.frame.z, ref_direction=trough.axis), sub(ends[1], ends[0])
    far = dot(length, trough.axis)
    found = [solid.box((0.0, -size / 2, 0.0), (far, size / 2, height), frame), solid.cylinder(*ends, size)]
    for at, closed in zip(ends, walled, strict=True):
        found += [solid.sphere(at, size), solid.cylinder(at, add(at, up), size)] if closed else []
    return found
