"""Pockets, slots and steps: faces that meet in concave edges, read from the direction that suits them best."""

from __future__ import annotations

import math

import numpy as np

from schemas.base import Vec3, add, cross, dot, norm, scale, unit
from schemas.tolerances import OUTER, SQUARE
from worker.recognise.access import Sight
from worker.recognise.bulges import area_vector, mean_normal
from worker.recognise.closed_vees import out_of_closed_vee
from worker.recognise.crossing_rings import crossing_rings, one_of
from worker.recognise.doorways import with_doorways
from worker.recognise.extent import extent
from worker.recognise.grooves import in_trough
from worker.recognise.levels import by_floor
from worker.recognise.patches import PartShape
from worker.recognise.recesses import (
    Recess,
    components,
    directions,
    floors_of,
    hollow,
    is_wall,
)
from worker.recognise.run_ups import up_to_walls
from worker.recognise.shoulders import at_shoulder
from worker.recognise.strips import line_of, straight
from worker.recognise.two_sided import from_both_sides
from worker.recognise.ways_across import narrow_way

ASKEW = 1.0
"""What it costs to cut from a direction that no outer face looks in."""

SHARP = 3.0
"""What an inner edge costs that no cutter makes from a direction."""

SLIGHT = math.radians(8)
"""An inner edge that turns less is none to a cutter: one of radius R leaves R (1 / cos 4° - 1), R / 400, there."""

STEEP = math.cos(math.radians(30))
"""Inner edges nearer than this to a cutter's axis come out round, those that lean a little among them."""


def read(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> list[Recess]:
    """A group as recesses, each with the direction it is best cut from; what no direction sees has none."""
    if ended := at_shoulder(shape, sight, group, read):
        return ended
    if ended := up_to_walls(shape, sight, group, read):
        return ended
    if parted := with_doorways(shape, sight, group):
        return parted
    tried = directions(shape, sight, group)
    out = out_of_closed_vee(shape, group)
    tried = sight.distinct([*tried, *([out] if out else _into_vee(shape, sight, group, tried))])
    tried = sight.distinct([*tried, *_out_of_groove(shape, sight, group, tried)])
    seen = tuple(d for d in tried if sight.sees(group, d)) or _seen_squarely(shape, sight, group)
    if out and any(dot(d, out) > 1 - SQUARE**2 for d in seen):
        return [Recess(group, sight.known(out), (), seen)]
    if seen:
        return by_floor(shape, sight, _read_from(shape, sight, group, seen))
    both = from_both_sides(shape, sight, group, tried)
    if both:
        return both
    rings, rest = crossing_rings(shape, sight, group, tried)
    if rings:
        return rings + [r for other in components(shape, rest) for r in read(shape, sight, other)]
    return _taken_apart(shape, sight, group, tried)


def _into_vee(shape: PartShape, sight: Sight, group: tuple[int, ...], tried: tuple[Vec3, ...]) -> tuple[Vec3, ...]:
    """The ways in between two slanted planes, with or without a round bottom, that are square to the outside.

    No neighbour of a tooth looks so. Half way between the planes; any that they look both where none that was
    tried leads in between them. Where none does that is square to the outside, half way between them all the same: one
    of two planes without a round bottom hangs over, seen from there.
    """
    flat = [p for p in group if shape.patches[p].surface.kind == "plane"]
    normals = [shape.patches[p].surface.axis for p in flat]
    rest = [shape.patches[p] for p in group if p not in flat]
    if len(flat) != 2 or len(rest) > 1 or any(sight.is_square(n) for n in normals):
        return ()
    line, middle = cross(*normals), add(normals[0], normals[1])
    if norm(line) < SQUARE or any(not hollow(p) or norm(cross(p.surface.axis, line)) > SQUARE for p in rest):
        return ()
    between = [d for d in tried if _leads_in(d, normals) and not floors_of(shape, flat, d)]
    outer = [] if any(sight.sees(group, d) for d in between) else sorted(sight.outer - sight.chamfers)
    square = [d for p in outer for d in (shape.patches[p].surface.axis, scale(shape.patches[p].surface.axis, -1.0))]
    square = [d for d in square if _leads_in(d, normals)]
    leaning = not rest and not any(sight.sees(group, d) for d in (*between, *square))
    ways = [unit(middle)] if not rest and (leaning or sight.is_square(unit(middle))) else []
    return (*ways, *square)


def _leads_in(way: Vec3, normals: list[Vec3]) -> bool:
    """True for a way square to the line in which two planes meet, from which neither turns away."""
    return abs(dot(way, cross(*normals))) < SQUARE and all(dot(way, n) > -SQUARE for n in normals)


def _out_of_groove(shape: PartShape, sight: Sight, group: tuple[int, ...], tried: tuple[Vec3, ...]) -> tuple[Vec3, ...]:
    """The mean way that one round wall beside another looks: out of a groove in a bar, where no plane looks so."""
    walls = [shape.patches[p] for p in group]
    beside = [shape.patches[o].surface for w in walls for o in w.neighbours]
    if len({shape.carriers[p] for p in group}) != 1 or walls[0].surface.kind != "cylinder":
        return ()
    axis, area = walls[0].surface.axis, area_vector(walls)
    seen = any(abs(dot(d, axis)) < SQUARE and sight.sees(group, d) for d in tried)
    if seen or all(s.kind != "cylinder" for s in beside):
        return ()
    out = unit(cross(axis, narrow_way(shape, group, axis)))
    return (out if dot(out, area) > 0 else scale(out, -1.0),) if abs(dot(out, area)) > SQUARE * norm(area) else ()


def _seen_squarely(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> tuple[Vec3, ...]:
    """The mean of the normals of round faces, where it sees all: out of a dish or a key's seat in a round face.

    Of one cylinder, of which none looks along its axis, it is square to that: arcs are divided into any chords.
    """
    round_ = [shape.patches[p] for p in group if shape.patches[p].surface.kind != "plane"]
    middle = mean_normal(round_)
    if middle and len({shape.carriers[p.index] for p in round_}) == 1 and round_[0].surface.kind == "cylinder":
        middle = add(middle, round_[0].surface.axis, -dot(middle, round_[0].surface.axis))
    ways = sight.distinct((unit(middle),) if middle and norm(middle) > SQUARE else ())
    return tuple(d for d in ways if sight.sees(group, d))


def _read_from(shape: PartShape, sight: Sight, group: tuple[int, ...], seen: tuple[Vec3, ...]) -> Recess:
    def order(d: Vec3) -> tuple[float, float]:
        square = sight.is_square(d) and not sight.is_slanted(d)
        askew = 0.0 if square else ASKEW + SHARP * _leaning_corners(shape, group, d)
        return (cost(shape, group, d) + askew, -_floor_area(shape, group, d))

    orders = {d: order(d) for d in _fitting(shape, sight, group, seen)}
    axis = one_of(shape, group, [d for d in orders if orders[d] == min(orders.values())])
    return Recess(group, axis, floors_of(shape, group, axis), seen)


def _foot_of_post(shape: PartShape, group: tuple[int, ...]) -> Vec3 | None:
    """The way up from a floor on which one round outer wall stands and nothing else: what is left of a boss, however
    narrow the floor beside it; None for any other group."""
    patches = [shape.patches[p] for p in group]
    flat = [p.surface.axis for p in patches if p.surface.kind == "plane"]
    round_ = [p for p in patches if p.surface.kind == "cylinder" and not p.surface.hollow]
    return flat[0] if len(group) == 2 and flat and round_ and is_wall(round_[0], flat[0]) else None


def _fitting(shape: PartShape, sight: Sight, group: tuple[int, ...], seen: tuple[Vec3, ...]) -> tuple[Vec3, ...]:
    """Of two planes that meet, one square to the outside is the floor of a step; two slanted ones are a vee.

    No cutter makes the edge in which they meet from the end of it.
    """
    if foot := _foot_of_post(shape, group):
        return tuple(d for d in seen if dot(d, foot) > 1 - SQUARE**2) or seen
    if len(group) != 2 or any(shape.patches[p].surface.kind != "plane" for p in group):
        return seen
    line = cross(*(shape.patches[p].surface.axis for p in group))
    seen = tuple(d for d in seen if norm(cross(d, line)) > SQUARE * norm(line)) or seen
    square = [d for d in seen if sight.is_square(d) or _is_over_bar(shape, d)]
    square = [d for d in square if not (sight.is_square(d) and sight.is_slanted(d))] or square
    floored = [d for d in square if floors_of(shape, group, d)]
    return tuple(floored or square or seen)


def _floor_area(shape: PartShape, group: tuple[int, ...], axis: Vec3) -> float:
    return round(sum(shape.patches[p].area for p in floors_of(shape, group, axis)), 3)


def cost(shape: PartShape, group: tuple[int, ...], axis: Vec3) -> float:
    """How ill a direction suits: inner edges no cutter makes, rounds a plain cutter does not make, and depth."""
    low, high = extent(shape, in_trough(shape, group), axis)
    total = math.log2(max(high - low, 1e-3))
    total += SHARP * _sharp_corners(shape, group, axis)
    patches = [shape.patches[p] for p in group]
    if any(p.surface.kind == "cylinder" and not is_wall(p, axis) for p in patches):
        total += 1.0
    return round(total, 3)


def _sharp_corners(shape: PartShape, group: tuple[int, ...], axis: Vec3) -> int:
    pairs = set()
    for index in group:
        for rim in straight(shape.patches[index].rims):
            turns = rim.convexity == "concave" and abs(rim.angle) > SLIGHT
            if turns and rim.other in group and abs(dot(line_of(rim), axis)) > STEEP:
                pairs.add((min(index, rim.other), max(index, rim.other)))
    return len(pairs)


def _leaning_corners(shape: PartShape, group: tuple[int, ...], axis: Vec3) -> int:
    """Inner edges of a plane that is neither wall nor floor: from aside no end of a cutter makes them."""
    lean = {p for p in group if SQUARE < abs(dot(shape.patches[p].surface.axis, axis)) < 1 - SQUARE}
    flat = {p for p in lean if shape.patches[p].surface.kind == "plane"}
    return len({frozenset((p, o)) for p in flat for o in shape.patches[p].concave if o in group})


def _is_over_bar(shape: PartShape, direction: Vec3) -> bool:
    """True when what lies furthest out in a direction is the side of a round bar: a flat cut into it is a floor."""
    reach = float((shape.corners.reshape(-1, 3) @ np.array(direction)).max())
    bars = (p.surface for p in shape.patches if p.surface.kind == "cylinder" and not p.surface.hollow)
    return any(
        abs(dot(s.axis, direction)) < SQUARE and abs(dot(s.origin, direction) + s.radius - reach) < OUTER for s in bars
    )


def _taken_apart(shape: PartShape, sight: Sight, group: tuple[int, ...], tried: tuple[Vec3, ...]) -> list[Recess]:
    """Split a group that no single direction sees: the direction that sees most goes first, the rest is regrouped."""
    best: tuple[float, tuple[int, ...], Vec3] | None = None
    for axis in tried:
        part = tuple(p for p in group if sight.sees((p,), axis))
        floors = floors_of(shape, part, axis)
        if not floors:
            continue
        part = _around(shape, part, floors)
        share = round(sum(shape.patches[p].area for p in part), 3)
        if best is None or share > best[0]:
            best = (share, part, axis)
    if best is None:
        return [_unseen(shape, sight, group, tried)]
    part, axis = best[1], best[2]
    seen = tuple(d for d in tried if sight.sees(part, d))
    found = by_floor(shape, sight, Recess(part, axis, floors_of(shape, part, axis), seen))
    rest = [p for p in group if p not in part]
    for other in components(shape, rest):
        found += read(shape, sight, other)
    return found


def _unseen(shape: PartShape, sight: Sight, group: tuple[int, ...], tried: tuple[Vec3, ...]) -> Recess:
    """A group that no tool sees, read as if nothing stood in the way."""
    able = [d for d in tried if all(sight.faces_it(p, d) for p in group)] or list(tried) or [(0.0, 0.0, 1.0)]
    axis = max(able, key=lambda d: (_floor_area(shape, group, d), d))
    return Recess(group, axis, floors_of(shape, group, axis), ())


def _around(shape: PartShape, part: tuple[int, ...], floors: tuple[int, ...]) -> tuple[int, ...]:
    """The patches of a part that hang together with its floors."""
    keep = [c for c in components(shape, part) if set(c) & set(floors)]
    return tuple(sorted(p for c in keep for p in c))
