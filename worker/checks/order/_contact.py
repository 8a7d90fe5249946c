"""What a drill meets first: how much of its circle is in metal there."""

from __future__ import annotations

import math

from schemas.base import Vec3
from worker.checks.api import Context
from worker.checks.metal import column_before
from worker.kernel import boolean, measure
from worker.kernel.primitives import cylinder
from worker.kernel.shape import Body, is_empty
from worker.stage.model import Plunge, Stage

SLICE = 0.02
"""Thickness of the slice that is looked at (mm)."""
INSIDE = 0.999
"""The circle is taken this much smaller, so that it does not lie in the wall of a hole of its own size."""


def share_met(context: Context, stage: Stage, before: int, plunge: Plunge, slope: float) -> tuple[float, Vec3]:
    """Share of the drill's circle in metal, ``DC tan(slope)`` below the first contact, and that contact's place.

    ``before`` is the step's position. 1.0 where the drill meets no metal or goes down a hole that is there already.
    """
    x, y, _ = stage.frame.to_local(plunge.centre)
    top = measure.bounding_box(stage.as_is, stage.frame).max[2]
    column = column_at(stage, plunge.centre, plunge.diameter, plunge.tip_z, max(top, plunge.tip_z) + 1.0)
    met = column_before(context, stage, before, column)
    if is_empty(met):
        return 1.0, plunge.centre
    first = measure.bounding_box(met, stage.frame).max[2]
    level = first - max(plunge.diameter * math.tan(math.radians(slope)), SLICE)
    disc = column_at(stage, plunge.centre, plunge.diameter, level - SLICE, level)
    share = measure.volume(boolean.common(met, [disc], merge=False)) / measure.volume(disc)
    if _is_ring(stage, met, (x, y), plunge.diameter, level - SLICE / 2):
        share = 1.0
    return share, stage.frame.to_world((x, y, first))


def column_at(stage: Stage, centre: Vec3, diameter: float, low: float, high: float) -> Body:
    """A round column on an axis of the setup's Z between two heights of its frame (mm)."""
    x, y, _ = stage.frame.to_local(centre)
    to_world = stage.frame.to_world
    return cylinder(to_world((x, y, low)), to_world((x, y, high)), diameter * INSIDE)


def _is_ring(stage: Stage, met: Body, centre: tuple[float, float], diameter: float, level: float) -> bool:
    """A hole is there already: air on the axis and metal all round the drill's edge."""
    if measure.contains(met, stage.frame.to_world((*centre, level))) != "out":
        return False
    rim = [(math.cos(a) * 0.49 * diameter, math.sin(a) * 0.49 * diameter) for a in (k * math.pi / 4 for k in range(8))]
    points = (stage.frame.to_world((centre[0] + u, centre[1] + v, level)) for u, v in rim)
    return all(measure.contains(met, p) != "out" for p in points)
