"""The ground plan of a pocket, slot or step: its floor or the ring of its walls, and the ground past its open sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import pairwise

import numpy as np

from schemas.base import cross
from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.planar import Region, grow, inside_of, intersect, near, overlap, subtract, union
from worker.kernel.planar_edge import Edge, area_under, piece, point_at, reverse, tangent_at
from worker.kernel.planar_meet import Known, crossings
from worker.kernel.planar_trace import Loop
from worker.kernel.section import Sections
from worker.kernel.shadow import Shown, face_facts
from worker.stage.removal.bays import bays, circles_of
from worker.stage.removal.chains import chain_core, chain_side, extended, open_sides, wall_chains, with_level_ends
from worker.stage.removal.own import clipped, own_plan
from worker.stage.removal.scene import Scene

OUTSIDE = 20 * LENGTH
"""How far outside the border of a floor that slopes a wall is looked for (mm): past an edge from which the part falls
away by more than 3 degrees none stands as high as the floor."""


@dataclass(frozen=True)
class Footprint:
    """``core`` is the feature's own plan, ``ground`` the same with what lies past its open sides; heights of both.

    What is cleared hangs together with ``seed``: the floors, for a bore in what stands on them is another feature's; or
    what touches the core where the floor slopes, because a slope stands in its own plan and leaves free only the ground
    beside it.
    """

    core: Region
    ground: Region
    bottom: float
    top: float
    floors: tuple[int, ...]
    seed: Region | None


def footprint(scene: Scene, feature: Feature, domain: Region, *, roofed: bool = False) -> Footprint:
    """The feature's plan as the spindle sees it; an empty ground where it shows neither floor nor walls. ``roofed``:
    for a head that goes in beneath what stands over the floor, which walls in none of its sides."""
    bottom, top = scene.heights(feature)
    shown = [scene.sky.shown[i] for i in feature.faces]
    floors = tuple(s.index for s in shown if s.look in ("up", "both"))
    if not floors:
        if any(s.look == "down" for s in shown):  # a floor's back: no cutter gets in through the part
            return Footprint(Region(()), Region(()), bottom, top, (), None)
        walls = [s for s in shown if s.look == "upright"]
        alone = [s for s in walls if not scene.part.shared(feature, s.index)]
        core, ground = _from_walls(scene, walls, domain, len(alone) == len(walls))
        bottom, ends = scene.foot(feature), scene.open_ends(feature)
        if ends and feature.bottom == "through" and len(alone) < len(walls):
            bottom = min(*ends, *(s.low for s in alone))  # a pocket's floor that it is level with goes on beyond it
        if _is_bent(feature) and ground.area > core.area + LENGTH and (whole := own_plan(scene, feature)):
            ground = union([core, whole])
        return Footprint(core, ground, bottom, top, (), core or None)
    seen = union(scene.sky.region(i) for i in floors)
    low = min(scene.sky.rise(i)[0] for i in floors)
    core = _without_small_holes(scene, seen, low, top)
    beside = _in_holes(scene, feature, core, floors, roofed=roofed)
    core, seen = subtract(core, beside), subtract(seen, beside)
    ground = past_open_sides(scene, core, floors, domain, beside, roofed=roofed)
    if feature.open_sides == 0 and ground.area > core.area + LENGTH and (whole := own_plan(scene, feature)):
        ground = union([core, intersect(ground, whole)])  # walls stand all round, though something deeper took some
    own = own_plan(scene, feature) if any(scene.part.shared(feature, i) for i in floors) else None
    if own is not None:
        core, ground, seen = (clipped(scene.frame, feature, own, region) for region in (core, ground, seen))
    seed = seen if all(scene.sky.shown[i].flat for i in floors) else grow(core, LENGTH)
    return Footprint(core, ground, low, top, floors, seed or None)


def _is_bent(feature: Feature) -> bool:
    """Whether a slot runs in a circle with walls all round, though something wider may have taken an end of it."""
    return feature.class_ == "slot" and feature.course_of_travel == "circular" and feature.open_sides == 0


def _from_walls(scene: Scene, walls: Sequence[Shown], domain: Region, alone: bool) -> tuple[Region, Region]:
    """Without a floor the walls make the plan; where their ring is open, its chord is an open side. Walls that go round
    nothing by themselves, a slit's two, do so together: what all of them look upon. ``alone``: none of them is another
    feature's as well, where that may run on behind the ring."""
    cores, grounds = [], []
    bare: list[Region] = []
    edges = [e for wall in walls for e in _free_on_left(scene, wall)]
    for found in wall_chains(edges if alone and _alike(walls) else _at_the_foot(scene, walls, edges)):
        chain = with_level_ends(found)
        core, side = chain_core(chain), chain_side(chain)
        ground = extended(core, [side], domain) if side else core
        if core:
            cores.append(core)
            grounds.append(ground)
        else:
            bare.append(ground)
    return union(cores), union([*grounds, reduce(intersect, bare)] if bare else grounds)


def _alike(walls: Sequence[Shown]) -> bool:
    """True when all walls begin and end at one height."""
    ends = [[wall.low for wall in walls], [wall.high for wall in walls]]
    return all(max(some, default=0.0) - min(some, default=0.0) <= LENGTH for some in ends)


def _at_the_foot(scene: Scene, walls: Sequence[Shown], edges: Sequence[Edge]) -> list[Edge]:
    """What of walls' edges has nothing before it down to the foot: a wall that goes on above a ledge, which another
    feature has for a floor, is no part of the ring there."""
    standing = scene.sky.above(max(wall.low for wall in walls) + LENGTH)
    parts = [part for edge in edges for part in _split_by(edge, standing)]
    before = [(point_at(part, 0.5), tangent_at(part, 0.5)) for part in parts]
    taken = standing.holds(np.array([(x - LENGTH * ty, y + LENGTH * tx) for (x, y), (tx, ty) in before]))
    return [part for part, held in zip(parts, taken, strict=True) if not held]


def _free_on_left(scene: Scene, wall: Shown) -> list[Edge]:
    """The wall's projected edges, each run so that the free side lies on its left."""
    facts = face_facts(scene.sky.body)[wall.index]
    normals = np.array([scene.frame.direction_to_local(n)[:2] for n in facts.normals])
    found = []
    for edge in scene.sky.border(wall.index):
        tx, ty = tangent_at(edge, 0.5)
        if facts.kind == "cylinder" and edge.centre is not None:
            bulges = _points_outward(scene, wall.index)
            found.append(edge if (edge.sweep < 0) == bulges else reverse(edge))
        else:
            found.append(edge if float((normals @ np.array([-ty, tx])).sum()) > 0 else reverse(edge))
    return found


def _points_outward(scene: Scene, index: int) -> bool:
    """True when an upright cylinder's outward normal points away from its axis (metal inside)."""
    facts = face_facts(scene.sky.body)[index]
    cylinder = facts.adaptor.Cylinder()
    first, other = facts.adaptor.FirstUParameter(), facts.adaptor.FirstVParameter()
    point, centre = facts.adaptor.Value(first, other), cylinder.Location()
    out = (point.X() - centre.X(), point.Y() - centre.Y(), point.Z() - centre.Z())
    axis = cylinder.Axis().Direction()
    flat = cross((axis.X(), axis.Y(), axis.Z()), cross(out, (axis.X(), axis.Y(), axis.Z())))
    return sum(a * b for a, b in zip(flat, facts.normals[0], strict=True)) > 0


def _without_small_holes(scene: Scene, seen: Region, low: float, top: float) -> Region:
    """The plan with its holes closed, but for islands that stand as high as the feature itself."""
    kept: list[Loop] = []
    for loop in seen.loops:
        if area_under(loop) > 0 or _stands(scene, loop, low, top):
            kept.append(loop)
    return Region(tuple(kept))


def _stands(scene: Scene, hole: Loop, low: float, top: float) -> bool:
    """True when what rises in a hole of the floor reaches the feature's top; in one without any width nothing does."""
    inside = inside_of(hole)
    if not inside:
        return False
    present = [s for s in scene.sky.upward(low + COINCIDENT, inside.bounds) if s.high > top - LENGTH]
    return any(overlap(scene.sky.region(s.index), inside) for s in present)


def past_open_sides(
    scene: Scene,
    core: Region,
    floors: Sequence[int],
    domain: Region,
    beside: Sequence[Region] = (),
    *,
    roofed: bool = False,
) -> Region:
    """The core and the ground past the border at which no wall stands, nor one that a hole took: ``beside``."""
    standing, outside = _standing_round(scene, core, floors, roofed)
    walls = union([standing, *beside])
    grounds = []
    for loop in core.loops:
        if area_under(loop) > 0:
            grounds.append(_open_ground(Region((loop,)), walls, outside, domain))
    return _minus_islands(union(grounds), core)


def _standing_round(scene: Scene, core: Region, floors: Sequence[int], roofed: bool) -> tuple[Region, float]:
    """The part's plan above some floors near the core, or just over them, and how far outside its border that is looked
    for (mm)."""
    rises = [scene.sky.rise(i) for i in floors]
    lowest, highest = min(low for low, _ in rises), max(high for _, high in rises)
    slopes = highest - lowest > 2 * LENGTH
    level, outside = (highest - LENGTH, OUTSIDE) if slopes else (highest + LENGTH, LENGTH)
    metal = Sections(scene.part.body, scene.frame).at(level) if roofed and not slopes else scene.sky.above(level)
    return near(metal, core, outside), outside


def _in_holes(scene: Scene, feature: Feature, core: Region, floors: Sequence[int], *, roofed: bool) -> list[Region]:
    """What holes as deep as the feature took of its walls."""
    holes = circles_of(scene.frame, scene.part.level_with(feature))
    if not holes:
        return []
    walls, outside = _standing_round(scene, core, floors, roofed)
    borders = (_walled(Region((loop,)).edges, walls, outside) for loop in core.loops)
    return [found for border in borders for found in bays(border, holes, onward=feature.class_ == "slot")]


def _open_ground(outline: Region, walls: Region, outside: float, domain: Region) -> Region:
    sides = open_sides(_walled(outline.edges, walls, outside))
    return domain if sides is None else extended(outline, sides, domain)


def _walled(border: Sequence[Edge], walls: Region, outside: float) -> list[tuple[Edge, bool]]:
    """The border split where walls begin and end, each piece with whether metal stands right outside it.

    At a corner metal that stands right outside the next edge lies outside the last of this one too: a piece that short
    is told as the rest of its edge.
    """
    pieces = [part for edge in border for part in _split_by(edge, walls, 2 * outside)]
    beside = []
    for part in pieces:
        (x, y), (tx, ty) = point_at(part, 0.5), tangent_at(part, 0.5)
        beside.append((x + outside * ty, y - outside * tx))
    flags = walls.holds(np.array(beside)) if walls else np.zeros(len(pieces), bool)
    return [(part, bool(flag)) for part, flag in zip(pieces, flags, strict=True)]


def _split_by(edge: Edge, walls: Region, from_ends: float = 0.0) -> list[Edge]:
    """The edge parted where walls begin and end, no nearer than that (mm) to its own ends."""
    stops, own = {0.0: edge.a, 1.0: edge.b}, Known(edge)
    least = max(1e-6, from_ends / own.long)
    for other in walls.known:
        for p in crossings(own, other, COINCIDENT):
            t = own.fraction(p)
            if least < t < 1 - least and all(abs(t - known) > 1e-6 for known in stops):
                stops[t] = p
    placed = sorted(stops.items())
    return [piece(edge, t0, t1, a, b) for (t0, a), (t1, b) in pairwise(placed)]


def _minus_islands(ground: Region, core: Region) -> Region:
    """Islands that stand as high as the feature are no part of its ground."""
    return subtract(ground, [inside_of(loop) for loop in core.loops if area_under(loop) <= 0])
