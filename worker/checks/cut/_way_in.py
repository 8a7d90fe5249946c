"""Whether a cutter finds a place where it gets down to its floor in the air (mm; heights in the setup's frame)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from schemas.base import Vec3
from schemas.tolerances import COINCIDENT, OPENING_SLACK
from worker.checks.metal import place_of
from worker.kernel import measure
from worker.kernel.planar import (
    NOWHERE,
    Region,
    components,
    contains,
    grow,
    intersect,
    overlap,
    rectangle,
    subtract,
    union,
)
from worker.kernel.planar_edge import Point2
from worker.kernel.section import Sections
from worker.kernel.shadow import Skyline
from worker.kernel.shape import Body, is_empty, solids
from worker.reach.cover import inner_point
from worker.stage.model import Cut, Stage

ABOVE = 0.01
"""Sections are taken so far above a floor or its round."""


@dataclass(frozen=True)
class Shut:
    """A place that is closed in: which of the step's features lie there, how deep its metal is, a point of it."""

    features: tuple[str, ...]
    depth: float
    at: Vec3


def shut_in(stage: Stage, cut: Cut, core: float, deep: float) -> Iterator[Shut]:
    """The places of a step's floors at which no position of the axis is free of metal within ``core`` of it, from
    ``deep`` above the floor up."""
    if is_empty(cut.removal):
        return
    told = NOWHERE
    for body in sorted(solids(cut.swept), key=lambda one: measure.bounding_box(one, stage.frame).min[2]):
        box = measure.bounding_box(body, stage.frame)
        low = box.min[2]
        floor = Sections(body, stage.frame).at(min(low + cut.tool.corner_radius + ABOVE, (low + box.max[2]) / 2))
        for place in components(floor):
            stands = _stands(stage, cut, place, low)
            if overlap(place, told) or not _is_shut(stage, cut, place, stands, low + deep, core):
                continue
            told = union([told, place])
            yield _shut(stage, cut, place, inner_point(stands or place), low)


def _is_shut(stage: Stage, cut: Cut, place: Region, stands: Region, above: float, core: float) -> bool:
    box = measure.bounding_box(stage.as_is, stage.frame)
    past = rectangle(box.min[0] - core, box.min[1] - core, box.max[0] + core, box.max[1] + core)
    if subtract(stands, [past]):
        return False
    metal = _metal_above(stage, cut, above)
    return overlap(metal, place) and not subtract(stands, [grow(metal, core)])


def _stands(stage: Stage, cut: Cut, place: Region, low: float) -> Region:
    """Where the axis may stand over a floor, and past the open sides that it has."""
    x0, y0, x1, y1 = place.bounds
    out = 2.5 * cut.tool.diameter
    box = measure.bounding_box(stage.as_is, stage.frame)
    metal = rectangle(box.min[0], box.min[1], box.max[0], box.max[1])
    held = NOWHERE if is_empty(stage.holding.body) else _skyline(stage.holding.body, stage).above(low)
    outside = subtract(rectangle(x0 - out, y0 - out, x1 + out, y1 + out), [metal, held])
    radius = cut.tool.radius - 2 * OPENING_SLACK
    found = grow(union([place, *_touching(outside, place)]), -radius)
    return intersect(found, grow(place, 2 * radius))


def _touching(outside: Region, place: Region) -> Iterator[Region]:
    yield from (one for one in components(outside) if overlap(grow(one, 2 * COINCIDENT), place))


def _metal_above(stage: Stage, cut: Cut, z: float) -> Region:
    return union(_skyline(body, stage).above(z) for body in stage.metal_before(place_of(stage, cut)))


def _skyline(body: Body, stage: Stage) -> Skyline:
    return Skyline(body, stage.frame)


def _shut(stage: Stage, cut: Cut, place: Region, at: Point2, low: float) -> Shut:
    local = ((f, stage.frame.to_local(f.placement.location)) for f in cut.features)
    names = tuple(f.id for f, (u, v, _) in local if contains(place, (u, v)))
    return Shut(names, cut.entry_z - low, stage.frame.to_world((*at, cut.entry_z)))
