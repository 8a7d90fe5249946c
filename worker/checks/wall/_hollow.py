"""Walls over a hollow that the jaws bend, where too little metal stands straight between them to carry their force."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.base import Box, Frame, Vec3
from schemas.finding import Remedy
from schemas.tolerances import LENGTH, TOUCH, VOLUME_NOTHING
from worker.checks.api import Context, Draft
from worker.checks.hold._contacts import jaw_direction, square_to_jaws, vise_of
from worker.estimate.strength import YIELD, wall_share
from worker.kernel import boolean, measure, primitives
from worker.kernel.between import between, boxes_within
from worker.kernel.contact import Patch, patches
from worker.kernel.planar import Region, contains
from worker.kernel.planar_edge import Point2
from worker.kernel.section import Sections
from worker.kernel.shadow import Skyline
from worker.kernel.shape import Body, is_empty, solids
from worker.stage.model import Cut, Jaws, Stage

LEAST_FORCE = 500.0
"""N: to clamp with less is no advice (common practice)."""
SLICE = 0.1
"""How thick a slice is taken at a hollow's end, mm."""
BESIDE = 0.01
"""How far beside round shares of a hollow a section is taken, mm."""
CELLS = 32
"""Into how many cells along each side the contact is parted for a quick look."""


@dataclass(frozen=True)
class Hollow:
    """A hollow between the jaws: its thinner wall (mm), its shadow on a jaw (mm2), the share of the yield stress that
    the wall bears as pressure there, a point in that wall; points a quarter, half and three quarters of the way through
    the hollow from jaw to jaw."""

    thickness: float
    area: float
    share: float
    at: Vec3
    through: tuple[Vec3, ...]


@dataclass(frozen=True)
class Bearing:
    """Area (mm2) that carries as much as metal straight between the jaws, walls in bending included; the hollows.
    Where one opens to all sides, the area of the neck that it leaves, and where that is."""

    area: float
    hollows: tuple[Hollow, ...]
    neck: Vec3 | None = None


def crushed(context: Context, stage: Stage) -> Iterator[Draft]:
    """Of the stock as it is clamped, and as the setup's steps hollow it out while it is."""
    vise, material = vise_of(stage), context.plan.workpiece.material
    group = material.iso513_group if material else None
    if vise is None or vise.clamping_force is None or group is None:
        return
    least = vise.clamping_force / YIELD[group]
    found = None if _is_full(stage, least) else bearing(stage, stage.to_be, least)
    if found is not None and found.hollows and found.area < least:
        yield _draft(context, stage, _hollowed_by(stage, least), found, vise.clamping_force, YIELD[group])


def _is_full(stage: Stage, least: float) -> bool:
    """True where ``least`` mm2 carry straight for sure: cells of the jaws' faces past which no face of the stock comes,
    with metal behind them. In doubt False."""
    room = _room(stage)
    if room is None:
        return False
    k = 1 if stage.holding.jaws is not None and stage.holding.jaws.axis == "X" else 0
    free = np.ones((CELLS, CELLS), dtype=bool)
    for box in boxes_within(stage.to_be, room, stage.frame):
        spans = [(_cell(box.min[n], room, n), _cell(box.max[n], room, n) + 1) for n in (k, 2)]
        free[slice(*spans[0]), slice(*spans[1])] = False
    found, cell = 0.0, room.size[k] * room.size[2] / CELLS**2
    for group in sorted(_groups(free), key=len, reverse=True):
        at, (row, column) = [*room.mid], group[0]
        at[k], at[2] = (room.min[n] + (c + 0.5) * room.size[n] / CELLS for n, c in ((k, row), (2, column)))
        if measure.contains(stage.to_be, stage.frame.to_world((at[0], at[1], at[2]))) == "in":
            found += len(group) * cell
        if found >= least:
            return True
    return False


def _room(stage: Stage) -> Box | None:
    """Between the jaw faces, as long and as high as jaws and stock both are."""
    jaws, box = stage.holding.jaws, measure.bounding_box(stage.to_be, stage.frame)
    if jaws is None:
        return None
    i, k = (0, 1) if jaws.axis == "X" else (1, 0)
    low, high = [*box.min], [*box.max]
    low[i], high[i] = jaws.low + TOUCH, jaws.high - TOUCH
    low[k], high[k] = max(low[k], jaws.centre - jaws.width / 2), min(high[k], jaws.centre + jaws.width / 2)
    high[2] = min(high[2], jaws.top_z)
    if any(b - a <= TOUCH for a, b in zip(low, high, strict=True)):
        return None
    return Box(min=(low[0], low[1], low[2]), max=(high[0], high[1], high[2]))


def _cell(at: float, room: Box, n: int) -> int:
    return int(min(max((at - room.min[n]) / room.size[n], 0.0) * CELLS, CELLS - 1))


def _groups(free: NDArray[np.bool_]) -> list[list[tuple[int, int]]]:
    """Free cells that hang together by their sides: either all or none of them have metal behind."""
    left, found = {(int(i), int(j)) for i, j in np.argwhere(free)}, []
    for start in sorted(left):
        queue = [start] if start in left else []
        left.discard(start)
        for i, j in queue:
            near = {(i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1)} & left
            left -= near
            queue += sorted(near)
        found += [queue] if queue else []
    return found


def _hollowed_by(stage: Stage, least: float) -> Cut | None:
    """The step after which less than ``least`` mm2 bear; None where they do not even before the first."""
    for number in range(len(stage.cuts) + 1):
        found = bearing(stage, stage.stock_before(number), least)
        if found is not None and found.area < least:
            return stage.cuts[number - 1] if number else None
    return None


def bearing(stage: Stage, stock: Body, least: float) -> Bearing | None:
    """What bears between the jaws; None without two jaws on flats, where straight metal alone comes to ``least`` mm2,
    or where what the jaws meet does not even without a hollow. Where a hollow opens to all sides, nobody knows what
    holds its walls; but all of the force goes through the section that it leaves."""
    jaws = stage.holding.jaws
    if jaws is None:
        return None
    fixed, moving = (_met(stage, stock, role) for role in ("jaw_fixed", "jaw_moving"))
    column = between(fixed, moving, jaw_direction(stage, jaws))
    if is_empty(column) or is_empty(empty := boolean.cut(column, [stock], merge=False)):
        return None
    across = Frame(location=stage.frame.location, axis=jaw_direction(stage, jaws), ref_direction=stage.frame.z)
    met = measure.volume(column) / jaws.opening
    solid = met - _shadow(empty, across)
    if solid >= least:
        return None
    hollows = [_hollow(stage, jaws, across, void, column) for void in _voids(stage, jaws, stock)]
    known = [one for one in hollows if one is not None]
    if any(math.isinf(one.share) for one in known):
        neck = _necked(stage, stock, across, known)
        return neck if neck.area < met else None
    return None if met < least else Bearing(solid + sum(one.area * one.share for one in known), tuple(known))


def _necked(stage: Stage, stock: Body, across: Frame, hollows: Sequence[Hollow]) -> Bearing:
    """What the least of the stock's sections through hollows that open to all sides carries."""
    sections, found = Sections(stock, across), []
    for at in (at for one in hollows if math.isinf(one.share) for at in one.through):
        x, y, z = across.to_local(at)
        metal = sections.at(z)
        found.append((metal.area, across.to_world((*_inside(metal, (x, y)), z))))
    area, neck = min(found)
    return Bearing(area, tuple(hollows), neck)


def _inside(region: Region, point: Point2) -> Point2:
    """The point where a region holds it or is empty, else the middle of the region's box."""
    if not region or contains(region, point):
        return point
    x0, y0, x1, y1 = region.bounds
    return (x0 + x1) / 2, (y0 + y1) / 2


def _met(stage: Stage, stock: Body, role: str) -> tuple[Patch, ...]:
    return square_to_jaws(stage, (p for b in stage.holding.of(role) for p in patches(stock, b.body, TOUCH)))


def _shadow(body: Body, along: Frame) -> float:
    """Area that a body covers, seen along a frame's axis."""
    return Skyline(body, along).above(measure.bounding_box(body, along).min[2] - 1.0).area


def _voids(stage: Stage, jaws: Jaws, stock: Body) -> tuple[Body, ...]:
    """All that is no metal between the planes of the jaw faces, over the stock's whole length and height."""
    box, i = measure.bounding_box(stock, stage.frame), 0 if jaws.axis == "X" else 1
    low, high = [*box.min], [*box.max]
    low[i], high[i] = jaws.low, jaws.high
    block = primitives.box((low[0], low[1], low[2]), (high[0], high[1], high[2]), stage.frame)
    return solids(boolean.cut(block, [stock], merge=False))


def _hollow(stage: Stage, jaws: Jaws, across: Frame, void: Body, column: Body) -> Hollow | None:
    """The part of a void that lies straight between the jaws; an infinite share where all its sides are open."""
    part = boolean.common(void, [column], merge=False)
    if is_empty(part) or measure.volume(part) <= VOLUME_NOTHING:
        return None
    i, other = (0, 1) if jaws.axis == "X" else (1, 0)
    here = measure.bounding_box(part, stage.frame)
    walls = (here.min[i] - jaws.low, jaws.high - here.max[i])
    thin, low = min(walls), walls[0] <= walls[1]
    ways = [_way(stage, void, here, k) for k in (other, 2)]
    share = max(wall_share(thin, span, ends) for ends, span in ways)
    point = [*here.mid]
    point[i] = (jaws.low + here.min[i]) / 2 if low else (jaws.high + here.max[i]) / 2
    known = any(ends for ends, _ in ways)
    at = stage.frame.to_world((point[0], point[1], point[2]))
    return Hollow(thin, _shadow(part, across), share if known else math.inf, at, _through(stage, here, i))


def _through(stage: Stage, here: Box, i: int) -> tuple[Vec3, ...]:
    """Points on the way through a box along a coordinate, a little beside where faces would be."""
    found = []
    for share in (0.25, 0.5, 0.75):
        at = [*here.mid]
        at[i] = here.min[i] + share * here.size[i] + BESIDE
        found.append(stage.frame.to_world((at[0], at[1], at[2])))
    return tuple(found)


def _way(stage: Stage, void: Body, here: Box, k: int) -> tuple[int, float]:
    """At how many of its ends along a coordinate a void is closed, but for holes, and how far it reaches (mm)."""
    box, stock = measure.bounding_box(void, stage.frame), measure.bounding_box(stage.as_is, stage.frame)
    section = measure.volume(void) / box.size[k]
    span = max(measure.volume(void) / math.prod(box.size[n] for n in range(3) if n != k), here.size[k])
    ends = (abs(box.min[k] - stock.min[k]) > LENGTH, abs(box.max[k] - stock.max[k]) > LENGTH)
    closed = [gone or _at_the_end(stage, void, box, k, high) < section / 2 for high, gone in enumerate(ends)]
    return sum(closed), span


def _at_the_end(stage: Stage, void: Body, box: Box, k: int, high: int) -> float:
    """Area of a void at its low (0) or high (1) end along a coordinate (mm2)."""
    low, top = [c - 1.0 for c in box.min], [c + 1.0 for c in box.max]
    low[k], top[k] = (box.max[k] - SLICE, box.max[k]) if high else (box.min[k], box.min[k] + SLICE)
    slab = primitives.box((low[0], low[1], low[2]), (top[0], top[1], top[2]), stage.frame)
    return measure.volume(boolean.common(void, [slab], merge=False)) / SLICE


def _draft(context: Context, stage: Stage, cut: Cut | None, found: Bearing, force: float, stress: float) -> Draft:
    weak = min(found.hollows, key=lambda one: one.thickness)
    holds = found.area * stress
    what = f"{_on_what(context, weak)} straight between the jaws bear"
    if found.neck is not None:
        neck = context.units.area_text(found.area)
        what = f"stock of which a hollow open all round leaves {neck} between them, which bear"
    when = f"after step {cut.step.id} the" if cut is not None else "the"
    return Draft(
        message=f"Estimate: {when} jaws press with {force:.0f} N on {what} {holds:.0f} N at {stress:g} N/mm2.",
        measured=round(force, 1),
        limit=round(holds, 1),
        unit="N",
        at=found.neck or weak.at,
        remedy=_remedy(context, stage, holds),
        cut=cut,
    )


def _on_what(context: Context, weak: Hollow) -> str:
    """The weakest wall over a hollow; a hollow that opens to a jaw has none."""
    if weak.thickness <= LENGTH:
        return "stock with a hollow that opens to a jaw; the metal"
    return f"a wall {context.text(weak.thickness)} thick over a hollow; it and the metal"


def _remedy(context: Context, stage: Stage, holds: float) -> Remedy:
    text = "fill the hollow, or grip where metal stands between the jaws"
    if holds < LEAST_FORCE:
        return Remedy(text=f"{text.capitalize()}.", pointer=context.of_setup(stage, "workholding"))
    pointer = context.of_setup(stage, "workholding", "clamping_force")
    value = math.floor(holds)
    return Remedy(text=f"Clamp with {value} N at most, or {text}.", pointer=pointer, value=value, unit="N")
