"""Which hollow round walls of one size are a bore, and which lie too far apart to be one."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, add, any_frame, cross, dot, norm, sub
from schemas.tolerances import COAXIAL, LEDGE, LENGTH, LIMIT, MESH, SIGHT_MARGIN
from worker.kernel.graph_surface import Surface, crossed
from worker.recognise.carriers import SOMEWHERE
from worker.recognise.extent import extent
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.turns import coaxial, turn_of, widest_gap

BORE = math.radians(200)
"""A hollow cylinder is a bore when its faces go round further than this; less is a corner or the end of a slot.

One cut open by the outside alone is a bore from ``HALF`` on: its axis lies in the metal, nothing but a tool along that
makes it. From less a ball cutter comes out sideways: that is a slot, but for one that ends in a drill's point."""
HALF = math.radians(181)
"""Half a turn, and so little more that a ball cutter across leaves less than a thousandth of its radius."""
POINTED = math.radians(90)
"""What a drill's point closes, or a counterbore's floor with its hole, is a bore when it goes round further than this.

Less is a bite, told as it is cut."""
SPLINES, APART = 3, math.radians(120)
"""So many pieces of a wall, with no gap as wide as this between them, are a bore: a plug would sit in it."""
HELD = math.radians(179)
"""... and two that something else shows to be a bore's, with no gap of half a turn."""
FACING = math.cos(math.radians(155))
"""Two walls whose directions have a cosine below this look at each other, as a slot's do: one open in the middle of a
part's side and one at its corner do not."""
FULL = math.radians(350)
FAR, FAR_IN_ROUND = 1.0, 2.0
"""Two walls are far apart when the gap is this many times as long as the bores on both sides of it together.

Where the same round wall ends both bores, a cross hole or a tube, the higher figure holds: holes that cross are drilled
through in one pass; in a ring they are drilled from outside one by one. Our choice; the gap is also longer than the
hole is wide, so that a groove cut across a wide hole never parts it."""
CELL = 0.5
"""Axes are looked for by their distance from a fixed point in steps of this (mm), far wider than any tolerance."""
ROUND = ("cylinder", "cone", "sphere", "torus")
PROBES = 6
"""So many lines beside the axis tell whether the way between two walls is free."""


@dataclass(frozen=True, eq=False)
class Bore:
    """The patches of one bore; ``whole``: with those of its size behind air, however far."""

    patches: tuple[int, ...]
    whole: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class _Run:
    """Patches of one size and axis without a gap along it, with their span over the origin of ``surface`` (mm)."""

    surface: Surface
    patches: list[Patch]
    low: float
    high: float


def bores(shape: PartShape) -> list[Bore]:
    """The bores of a part: cylinders first, then lone cones; each in the order of its first patch."""
    found = []
    for group in _of_one_size(shape, [p for p in shape.patches if _is_round_inside(p) and not opens_dish(shape, p)]):
        for whole in _free_ways(shape, _runs(group)):
            if _is_bore(shape, [p for run in whole for p in run.patches]):
                found += _near_ones(shape, whole)
    return sorted(found, key=lambda b: shape.patches[b.patches[0]].surface.kind == "cone")


def _is_bore(shape: PartShape, patches: list[Patch]) -> bool:
    surface = patches[0].surface
    turn = turn_of(patches, surface.origin, surface.axis)
    least = BORE if turn > BORE else _least_open(shape, patches)
    bore = turn > least or _is_held(shape, patches)
    return bore and not any(_is_other_wall(shape, p, turn) for p in patches) and not _is_filled(shape, patches)


def _is_held(shape: PartShape, patches: list[Patch]) -> bool:
    """True for what slots leave of a bore's wall all round it, as splines do: a plug would sit in it. Of a
    counterbore's head two pieces do, between which it is held."""
    surface = patches[0].surface
    rims = [r for p in patches for r in p.rims if r.curve == "line"]
    if len(patches) < 2 or surface.kind != "cylinder" or any(r.convexity != "convex" for r in rims):
        return False
    gap = widest_gap(patches, *_line(surface))
    if len(patches) >= SPLINES and gap < APART:
        return True
    return gap < HELD and _is_head(shape, surface, [shape.patches[o] for p in patches for o in p.concave])


def _is_filled(shape: PartShape, patches: list[Patch]) -> bool:
    """True for a wall over a roof with a round core in its middle: the outer wall of the neck of a T-slot in a ring."""
    surface = patches[0].surface
    beside = [shape.patches[o] for p in patches for o in p.convex]
    if not any(p.concave and p.surface.kind == "plane" and len(p.loops) > 1 for p in beside):
        return False
    low, high = extent(shape, (p.index for p in patches), surface.axis)
    cores = (p for p in shape.patches if p.surface.kind == "cylinder" and not p.surface.hollow)
    inside = (p for p in cores if p.surface.radius < surface.radius and coaxial(p, surface.origin, surface.axis))
    return any(p.span(surface.axis)[0] < high - LEDGE and p.span(surface.axis)[1] > low + LEDGE for p in inside)


def _least_open(shape: PartShape, patches: list[Patch]) -> float:
    """How far round a bore goes at least (rad): less far where others cut a cylinder open along its axis, in planes
    that do not look at each other, or where a drill's point or a counterbore's floor tells it.

    A slot's end goes on in walls that do, or runs into them smoothly.
    """
    surface = patches[0].surface
    rims = [
        r for p in patches for r in p.rims if r.curve == "line" and shape.carriers[r.other] != shape.carriers[p.index]
    ]
    beside = {shape.carriers[r.other]: shape.patches[r.other].surface for r in rims}.values()
    ways = [s.axis for s in beside if s.kind == "plane"]
    opened = bool(rims) and all(r.convexity == "convex" for r in rims)
    if surface.kind != "cylinder" or not opened or any(dot(a, b) < FACING for a in ways for b in ways):
        return BORE
    if _is_drilled(shape, patches):
        return POINTED
    return HALF if len(ways) == len(beside) else BORE


def _is_drilled(shape: PartShape, patches: list[Patch]) -> bool:
    """True for a round wall with a drill's point, or a counterbore's floor, at its end."""
    surface = patches[0].surface
    ends = [shape.patches[o] for p in patches for o in p.concave]
    cones = [e for e in ends if e.surface.kind == "cone" and e.surface.hollow]
    return any(coaxial(e, surface.origin, surface.axis) for e in cones) or _is_head(shape, surface, ends)


def _is_head(shape: PartShape, surface: Surface, ends: Iterable[Patch]) -> bool:
    """True for a round wall in whose floor, or below it in the open, a narrower bore begins on its axis: the rest of a
    counterbore's head."""
    flat = [e for e in ends if e.surface.kind == "plane" and norm(cross(e.surface.axis, surface.axis)) < COAXIAL]
    inner = [shape.patches[o] for e in flat for o in e.convex if _is_round_inside(shape.patches[o])]
    bored = [p for p in inner if p.surface.kind == "cylinder" and coaxial(p, surface.origin, surface.axis)]
    bored += [p for e in flat for p in _below(shape, surface, e)]
    return any(p.surface.radius < surface.radius - LEDGE and turn_of([p], *_line(p.surface)) > BORE for p in bored)


def _below(shape: PartShape, surface: Surface, floor: Patch) -> list[Patch]:
    """The round walls on an axis that begin below a floor, with nothing but air in between."""
    cell, up = cell_of(surface), floor.surface.axis
    level, zero = dot(floor.surface.origin, up), dot(surface.origin, up)
    near = [p for c in (cell - 1, cell, cell + 1) for p in _by_cell(shape).get(c, ())]
    found = [(p, p.span(up)[1]) for p in near if coaxial(p, *_line(surface))]
    found = [(p, top) for p, top in found if top < level - LENGTH]
    return [p for p, top in found if not crossings(shape, surface.origin, up, top - zero, level - zero)]


@lru_cache(maxsize=1)
def _by_cell(shape: PartShape) -> dict[int, list[Patch]]:
    """Hollow cylinders by the cells of their axes; kept for the part that was asked about last."""
    found: dict[int, list[Patch]] = {}
    for patch in shape.patches:
        if patch.surface.kind == "cylinder" and _is_round_inside(patch):
            found.setdefault(cell_of(patch.surface), []).append(patch)
    return found


def _line(surface: Surface) -> tuple[Vec3, Vec3]:
    return surface.origin, surface.axis


def _is_round_inside(patch: Patch) -> bool:
    return patch.surface.kind in ("cylinder", "cone") and patch.surface.hollow and len(patch.corners) > 0


def _is_other_wall(shape: PartShape, patch: Patch, turn: float) -> bool:
    return (
        _rings_island(shape, patch)
        or _rings_cone(shape, patch)
        or _runs_on(shape, patch, turn)
        or _has_flat(shape, patch)
    )


def _has_flat(shape: PartShape, patch: Patch) -> bool:
    """True for a wall that ends on both sides at one flat that cuts off its circle: a D, which no drill makes."""
    sides = [r for r in patch.rims if r.curve == "line" and r.convexity == "concave"]
    flats = {r.other for r in sides if shape.patches[r.other].surface.kind == "plane"}
    return any(sum(r.other == f for r in sides) > 1 for f in flats)


def _rings_island(shape: PartShape, patch: Patch) -> bool:
    """True for a round wall whose floor has something standing in it: a pocket or a groove, no hole."""
    axis = patch.surface.axis
    fillets = [o for o in patch.smooth if shape.patches[o].surface.kind == "torus" and shape.patches[o].surface.hollow]
    near = {*patch.concave, *(f for o in fillets for f in shape.patches[o].smooth)}
    floors = [p for p in (shape.patches[o] for o in sorted(near)) if p.surface.kind == "plane"]
    return any(
        _stands_up(shape, rim) and ((inside and _lies_within(loop, patch)) or _is_core(shape, rim, patch))
        for floor in floors
        if norm(cross(floor.surface.axis, axis)) < COAXIAL
        for inside, loop in enumerate(floor.loops)
        for rim in loop
    )


def _lies_within(loop: Iterable[Rim], wall: Patch) -> bool:
    """True for an outline within a round wall: a boss elsewhere on the floor that a hole breaks into is none in it."""
    origin, axis = _line(wall.surface)

    def off(point: Vec3) -> float:
        return norm(cross(sub(point, origin), axis))

    widest = max(off(point) for rim in wall.rims for point in rim.points)
    return all(off(point) < widest - LEDGE for rim in loop for point in rim.points)


def _rings_cone(shape: PartShape, patch: Patch) -> bool:
    """True for the outer flank of a V-groove round its axis: from its foot the inner one rises; one of both leans."""
    cores = [shape.patches[o] for o in patch.concave if coaxial(shape.patches[o], *_line(patch.surface))]
    return any("cone" in (patch.surface.kind, c.surface.kind) and not c.surface.hollow for c in cores)


def _is_core(shape: PartShape, rim: Rim, wall: Patch) -> bool:
    """True for a round outer wall about a hollow one's axis: what stands in a ring, however that is divided."""
    other = shape.patches[rim.other]
    core = other.surface.kind == "cylinder" and not other.surface.hollow
    return core and coaxial(other, wall.surface.origin, wall.surface.axis)


def _runs_on(shape: PartShape, patch: Patch, turn: float) -> bool:
    """True for a wall that does not close and runs on smoothly into a round end: the outer wall of a kidney slot."""
    ends = [shape.patches[r.other].surface for r in patch.rims if r.curve == "line" and r.convexity == "smooth"]
    return turn < FULL and any(s.kind == "cylinder" and s.hollow for s in ends)


def _stands_up(shape: PartShape, rim: Rim) -> bool:
    other = shape.patches[rim.other].surface
    return rim.convexity == "concave" or (rim.convexity == "smooth" and other.kind == "torus" and other.hollow)


def opens_dish(shape: PartShape, patch: Patch) -> bool:
    """True for a hollow cone that breaks the edge of a ball-shaped recess: no hole begins there."""
    over = [shape.patches[r.other].surface for r in patch.rims if r.convexity == "convex"]
    dish = any(s.kind in ("sphere", "torus") and s.hollow for s in over)
    return patch.surface.kind == "cone" and patch.surface.hollow and dish


def _of_one_size(shape: PartShape, patches: Iterable[Patch]) -> list[list[Patch]]:
    """Patches grouped by carrier; cylinders that differ by no more than a ledge are of one size."""
    groups: dict[int, list[Patch]] = {}
    for patch in patches:
        groups.setdefault(shape.carriers[patch.index], []).append(patch)
    found: list[list[Patch]] = []
    near: dict[int, list[list[Patch]]] = {}
    for group in sorted(groups.values(), key=lambda g: (g[0].surface.radius, g[0].index)):
        cell = cell_of(group[0].surface)
        beside = [g for c in (cell - 1, cell, cell + 1) for g in near.get(c, ())]
        home = next((g for g in beside if _hardly_differ(g[0], group[0])), None)
        if home is None:
            found.append(group)
            near.setdefault(cell, []).append(group)
        else:
            home += group
    return sorted(found, key=lambda g: min(p.index for p in g))


def cell_of(surface: Surface) -> int:
    """Number of an axis' distance from a fixed point: equal or neighbours for one axis."""
    gap = sub(surface.origin, SOMEWHERE)
    return round(norm(add(gap, surface.axis, -dot(gap, surface.axis))) / CELL)


def _hardly_differ(a: Patch, b: Patch) -> bool:
    alike = a.surface.kind == b.surface.kind == "cylinder" and abs(a.surface.radius - b.surface.radius) < LEDGE
    return alike and coaxial(b, *_line(a.surface))


def _runs(group: list[Patch]) -> list[_Run]:
    """One size's patches in pieces without a gap, upwards."""
    surface = group[0].surface
    zero = dot(surface.origin, surface.axis)
    spans = sorted(((p.span(surface.axis), p.index, p) for p in group), key=lambda s: s[:2])
    runs: list[_Run] = []
    for (low, high), _, patch in spans:
        if runs and low - zero <= runs[-1].high + LENGTH:
            last = runs.pop()
            runs.append(_Run(surface, [*last.patches, patch], last.low, max(last.high, high - zero)))
        else:
            runs.append(_Run(surface, [patch], low - zero, high - zero))
    return runs


def _free_ways(shape: PartShape, runs: list[_Run]) -> list[list[_Run]]:
    """The runs, parted where metal lies between them in the bore's own way."""
    wholes = [[runs[0]]]
    for run in runs[1:]:
        if _is_free(shape, wholes[-1][-1], run):
            wholes[-1].append(run)
        else:
            wholes.append([run])
    return wholes


def _is_free(shape: PartShape, a: _Run, b: _Run) -> bool:
    """True when a cylinder of the bore's size meets no metal between two runs; of cones the axis alone is asked."""
    surface = a.surface
    frame = any_frame(surface.origin, surface.axis)
    reach = max(surface.radius - SIGHT_MARGIN, 0.0) if surface.kind == "cylinder" else 0.0157
    low, high = a.high + LENGTH, b.low - LENGTH
    for k in range(PROBES):
        turn = 2 * math.pi * k / PROBES + 0.4567
        start = add(add(surface.origin, frame.x, reach * math.cos(turn)), frame.y, reach * math.sin(turn))
        ahead = crossings(shape, start, surface.axis, 0.5 * (low + high), math.inf)
        if len(ahead) % 2 == 1 or crossings(shape, start, surface.axis, low, high):
            return False
    return not crossings(shape, surface.origin, surface.axis, low, high)


def _near_ones(shape: PartShape, whole: list[_Run]) -> list[Bore]:
    """The runs of a whole as bores, parted where two that are each a bore lie far apart."""
    parts = [[whole[0]]]
    for run in whole[1:]:
        if _far_apart(shape, parts[-1][-1], run) and all(_is_bore(shape, r.patches) for r in (parts[-1][-1], run)):
            parts.append([run])
        else:
            parts[-1].append(run)
    everything = tuple(p.index for run in whole for p in run.patches)
    return [Bore(tuple(p.index for run in part for p in run.patches), everything) for part in parts]


def _far_apart(shape: PartShape, a: _Run, b: _Run) -> bool:
    if a.surface.kind != "cylinder" or b.low - a.high < 2 * a.surface.radius - 2 * MESH:
        return False
    spans = [extent(shape, (p.index for p in run.patches), a.surface.axis) for run in (a, b)]
    gap, metal = spans[1][0] - spans[0][1], sum(high - low for low, high in spans)
    factor = FAR_IN_ROUND if _end_in_one_round(shape, a, b) else FAR
    return gap > max(factor * metal, 2 * a.surface.radius) + LIMIT


def _end_in_one_round(shape: PartShape, a: _Run, b: _Run) -> bool:
    """True when one hollow round wall bounds both runs: what lies between them is a bore, a ball or a tube."""
    beside = [{shape.carriers[o] for p in run.patches for o in p.neighbours} for run in (a, b)]
    return any(
        shape.patches[c].surface.hollow and shape.patches[c].surface.kind in ROUND for c in beside[0] & beside[1]
    )


def crossings(shape: PartShape, origin: Vec3, axis: Vec3, low: float, high: float) -> list[float]:
    """Heights over ``origin`` between ``low`` and ``high`` at which the line through it meets the part."""
    start, line = np.array(origin), np.array(axis)
    reach = min(high, 2 * shape.diagonal + float(np.abs(start - shape.corners[0, 0]).sum()))
    ends = np.stack([start + low * line, start + reach * line])
    corners = shape.corners[_within(shape, ends.min(axis=0) - 1e-6, ends.max(axis=0) + 1e-6)]
    e1, e2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    h = crossed(line[None], e2)
    det = np.einsum("ij,ij->i", e1, h)
    safe = np.where(np.abs(det) > 1e-14, det, 1.0)
    s = start - corners[:, 0]
    u = np.einsum("ij,ij->i", s, h) / safe
    q = crossed(s, e1)
    v = (q @ line) / safe
    t = np.einsum("ij,ij->i", e2, q) / safe
    hit = (np.abs(det) > 1e-14) & (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9) & (t > low) & (t < high)
    return sorted(float(x) for x in t[hit])


def _within(shape: PartShape, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.intp]:
    """Triangles whose box meets a box: of those patches whose box does."""
    near = np.flatnonzero(_meets(shape.boxes, low, high))
    inside = np.concatenate([np.arange(shape.slices[p].start, shape.slices[p].stop) for p in near.tolist()] or [near])
    least, most = shape.bounds
    return np.asarray(inside[_meets((least[inside], most[inside]), low, high)])


def _meets(
    boxes: tuple[NDArray[np.float64], NDArray[np.float64]], low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.bool_]:
    return np.asarray(((boxes[0] <= high) & (boxes[1] >= low)).all(axis=1))
