"""Pockets, slots and steps: faces that meet in concave edges, read from the direction that suits them best."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from schemas.base import Vec3, add, cross, dot, norm, scale, unit
from schemas.tolerances import OUTER, SQUARE
from worker.recognise.access import Sight
from worker.recognise.bulges import area_vector, mean_normal
from worker.recognise.extent import extent
from worker.recognise.grooves import in_trough
from worker.recognise.levels import by_floor
from worker.recognise.patches import PartShape
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess, components, directions, floors_of, hollow, is_wall, joined_to
from worker.recognise.strips import line_of, straight
from worker.recognise.two_sided import from_both_sides
from worker.recognise.ways_across import narrow_way

ASKEW = 1.0
"""What it costs to cut from a direction that no outer face looks in."""

SLIGHT = math.radians(8)
"""An inner edge that turns less is none to a cutter: one of radius R leaves R (1 / cos 4° - 1), R / 400, there."""

STEEP = math.cos(math.radians(30))
"""Inner edges nearer than this to a cutter's axis come out round, those that lean a little among them."""


def read(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> list[Recess]:
    """A group as recesses, each with the direction it is best cut from; what no direction sees has none."""
    tried = directions(shape, sight, group)
    tried = sight.distinct([*tried, *_into_vee(shape, sight, group, tried)])
    tried = sight.distinct([*tried, *_out_of_groove(shape, sight, group, tried)])
    seen = tuple(d for d in tried if sight.sees(group, d)) or _seen_squarely(shape, sight, group)
    if seen:
        return by_floor(shape, sight, _read_from(shape, sight, group, seen))
    both = from_both_sides(shape, sight, group, tried)
    if both:
        return both
    rings, rest = _crossing_rings(shape, sight, group, tried)
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


def _crossing_rings(
    shape: PartShape, sight: Sight, group: tuple[int, ...], tried: tuple[Vec3, ...]
) -> tuple[list[Recess], list[int]]:
    """Passages right through, as rings of walls; where passages cross, a wall may belong to several."""
    found = _floored_rings(shape, sight, group, tried)
    taken = {p for r in found for p in r.patches}
    below = frozenset(taken)
    for axis in tried:
        if any(norm(cross(axis, r.axis)) < SQUARE for r in found):
            continue
        walls = [p for p in group if is_wall(shape.patches[p], axis)]
        for ring in _rings(shape, walls, axis):
            core = tuple(p for p in ring if p not in taken and sight.sees((p,), axis))
            if len(core) >= 2 and _face_each_other(shape, core):
                seen = tuple(d for d in (axis, sight.known(scale(axis, -1.0))) if sight.sees(core, d))
                own = core if below.intersection(ring) else ()
                found.append(Recess(ring, axis, (), seen, core, own=own))
                taken.update(core)
    shared = {p for r in found for p in r.patches}
    return found, [p for p in group if p not in shared]


def _face_each_other(shape: PartShape, walls: Sequence[int]) -> bool:
    looks = [look for w in walls if norm(look := shape.patches[w].looks) > 0]
    return any(dot(unit(a), unit(b)) < -0.5 for a in looks for b in looks)


def _floored_rings(shape: PartShape, sight: Sight, group: tuple[int, ...], tried: tuple[Vec3, ...]) -> list[Recess]:
    """Pockets that a passage from aside runs flush with: rings of walls that all stand on one floor, which is seen.

    Their size is told by the walls that no other ring has: the others go on along the passage, as a floor does that
    is level with its sill. So is one told that something hides which stands on it.
    """
    rings = [(d, ring) for d in tried for ring in _rings(shape, [p for p in group if is_wall(shape.patches[p], d)], d)]
    found: list[Recess] = []
    for axis, ring in rings:
        walls = {shape.carriers[p] for p in ring}
        floors = [f for f in floors_of(shape, group, axis) if walls <= _round_floor(shape, group, f)]
        run_on = {p for d, other in rings if norm(cross(axis, d)) > SQUARE for p in other}
        if len(floors) != 1:
            continue
        run_on |= set() if sight.sees(tuple(floors), axis) else set(floors)
        own = tuple(sorted({*floors, *ring} - run_on))
        if not run_on.intersection({*ring, *floors}) or not sight.sees(own, axis):
            continue
        near = set(joined_to(shape, floors[0])).intersection(group) - run_on
        beside = [o for o in near if not is_wall(shape.patches[o], axis)]
        posts = _posts(shape, {*group} - {*ring, *floors, *beside}, floors[0]) if floors[0] in run_on else []
        patches = tuple(sorted({*ring, *floors, *beside, *posts}))
        found.append(Recess(patches, axis, tuple(floors), (axis,), own, shared=True, own=own))
    return found


def _posts(shape: PartShape, free: set[int], floor: int) -> list[int]:
    """What stands on a floor away from its edge: feet of a bridge, over which the floor goes on."""
    edge, *inner = ({r.other for r in loop} for loop in shape.patches[floor].loops)
    feet = {p for loop in inner for p in loop}
    return [p for part in components(shape, free) if feet & set(part) and not edge & set(part) for p in part]


def _round_floor(shape: PartShape, group: tuple[int, ...], floor: int) -> set[int]:
    """The carriers of what stands on a floor, over fillets too."""
    near = set(joined_to(shape, floor))
    fillets = [o for o in near if o in group and hollow(shape.patches[o])]
    return {shape.carriers[p] for p in near.union(*(joined_to(shape, o) for o in fillets))}


def _rings(shape: PartShape, walls: list[int], axis: Vec3) -> list[tuple[int, ...]]:
    """Walls that meet along the axis, all round: every one of them has a neighbour on both sides."""
    members = set(walls)
    meets = {w: {o for o in _along(shape, w, axis) if o in members} for w in walls}
    while True:
        loose = [w for w in meets if len(meets[w] & set(meets)) < 2]
        if not loose:
            break
        for w in loose:
            del meets[w]
    found = []
    left = set(meets)
    while left:
        ring, waiting = [], [min(left)]
        while waiting:
            index = waiting.pop()
            if index in left:
                left.discard(index)
                ring.append(index)
                waiting += [o for o in meets[index] if o in left]
        found.append(tuple(sorted(ring)))
    return found


def _along(shape: PartShape, index: int, axis: Vec3) -> set[int]:
    rims = [r for r in straight(shape.patches[index].rims) if r.convexity != "convex"]
    return {r.other for r in rims if norm(cross(line_of(r), axis)) < SQUARE}


def _read_from(shape: PartShape, sight: Sight, group: tuple[int, ...], seen: tuple[Vec3, ...]) -> Recess:
    def order(d: Vec3) -> tuple[float, float]:
        square = sight.is_square(d) and not sight.is_slanted(d)
        askew = 0.0 if square else ASKEW + 3.0 * _leaning_corners(shape, group, d)
        return (cost(shape, group, d) + askew, -_floor_area(shape, group, d))

    orders = {d: order(d) for d in _fitting(shape, sight, group, seen)}
    axis = _one_of(shape, group, [d for d in orders if orders[d] == min(orders.values())])
    return Recess(group, axis, floors_of(shape, group, axis), seen)


def _one_of(shape: PartShape, group: tuple[int, ...], ways: list[Vec3]) -> Vec3:
    """Of ways in that suit alike the one that is least deep, then by where its mouth is, and what faces it most.

    Which way the part lies comes last: it decides between ways that nothing else tells apart.
    """
    if len(ways) == 1:
        return ways[0]
    looks = area_vector(shape.patches[p] for p in group)

    def order(d: Vec3) -> tuple[float, ...]:
        low, high = extent(shape, group, d)
        top = top_of(shape, Recess(group, d, (), ()))
        return (round(high - low, 2), -round(top - low, 2), -round(dot(looks, d), 1), -d[2], -d[1], -d[0])

    return min(ways, key=order)


def _fitting(shape: PartShape, sight: Sight, group: tuple[int, ...], seen: tuple[Vec3, ...]) -> tuple[Vec3, ...]:
    """Of two planes that meet, one square to the outside is the floor of a step; two slanted ones are a vee.

    No cutter makes the edge in which they meet from the end of it.
    """
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
    total += 3.0 * _sharp_corners(shape, group, axis)
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
