"""Pockets, slots and steps: faces that meet in concave edges, read from the direction that suits them best."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from schemas.base import Vec3, add, cross, dot, norm, scale, unit
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.bulges import mean_normal
from worker.recognise.extent import extent
from worker.recognise.patches import PartShape, Patch
from worker.recognise.transitions import line_of, straight

ASKEW = 1.0
"""What it costs to cut from a direction that no outer face looks in."""


@dataclass(frozen=True, eq=False)
class Recess:
    """Patches that are cut together, and the direction (out of the material) they are read from."""

    patches: tuple[int, ...]
    axis: Vec3
    floors: tuple[int, ...]
    seen: tuple[Vec3, ...]
    core: tuple[int, ...] = ()
    """What must be seen to cut it, where that is not all: passages that cross share walls."""
    shared: bool = False
    """True when its walls reach beyond its floor, to other floors."""
    bridged: tuple[int, ...] = ()
    """Patches beyond its open sides that only bound a gap inside it, where something else crosses."""


def components(shape: PartShape, free: Iterable[int]) -> list[tuple[int, ...]]:
    """Groups of free patches that hang together over concave edges and smooth fillets."""
    left = set(free)
    found = []
    for start in sorted(left):
        if start not in left:
            continue
        group, waiting = [], [start]
        left.discard(start)
        while waiting:
            index = waiting.pop()
            group.append(index)
            for other in joined_to(shape, index):
                if other in left:
                    left.discard(other)
                    waiting.append(other)
        found.append(tuple(sorted(group)))
    return found


def joined_to(shape: PartShape, index: int) -> tuple[int, ...]:
    """The neighbours that a patch is cut together with: over a concave edge, or smoothly through a hollow face."""
    patch = shape.patches[index]
    found = set(patch.concave)
    found.update(r.other for r in patch.rims if r.convexity == "mixed")
    for other in patch.smooth:
        if hollow(patch) or hollow(shape.patches[other]):
            found.add(other)
    return tuple(sorted(found))


def hollow(patch: Patch) -> bool:
    """True for a round face that the material surrounds."""
    return patch.surface.kind not in ("plane", "other") and patch.surface.hollow


def directions(shape: PartShape, sight: Sight, group: Iterable[int]) -> tuple[Vec3, ...]:
    """Directions worth trying: floors' and neighbours' normals, round walls' axes, lines along two walls."""
    own: list[Vec3] = []
    near: list[Vec3] = []
    axes: list[Vec3] = []
    members = tuple(group)
    for index in members:
        patch = shape.patches[index]
        if patch.surface.kind == "plane":
            own.append(patch.surface.axis)
        elif patch.surface.kind in ("cylinder", "cone", "torus"):
            axes += [patch.surface.axis, scale(patch.surface.axis, -1.0)]
        for other in patch.neighbours:
            beside = shape.patches[other].surface
            if other not in members and beside.kind == "plane":
                near.append(beside.axis)
    normals = sight.distinct(own)[:8]
    lines = [cross(a, b) for i, a in enumerate(normals) for b in normals[i + 1 :]]
    pairs = [d for line in lines if norm(line) > 0.05 for d in (unit(line), scale(unit(line), -1.0))]
    return sight.distinct([*normals, *near, *axes, *pairs])


def read(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> list[Recess]:
    """A group as recesses, each with the direction it is best cut from; what no direction sees has none."""
    tried = directions(shape, sight, group)
    seen = tuple(d for d in tried if sight.sees(group, d)) or _seen_squarely(shape, sight, group)
    if seen:
        return _by_floor(shape, sight, _read_from(shape, sight, group, seen))
    rings, rest = _crossing_rings(shape, sight, group, tried)
    if rings:
        return rings + [r for other in components(shape, rest) for r in read(shape, sight, other)]
    return _taken_apart(shape, sight, group, tried)


def _seen_squarely(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> tuple[Vec3, ...]:
    """The mean of the normals of round faces, where it sees them: out of a dish in a round face."""
    if any(shape.patches[p].surface.kind == "plane" for p in group):
        return ()
    middle = mean_normal(shape.patches[p] for p in group)
    return tuple(d for d in sight.distinct((middle,) if middle else ()) if sight.sees(group, d))


def _crossing_rings(
    shape: PartShape, sight: Sight, group: tuple[int, ...], tried: tuple[Vec3, ...]
) -> tuple[list[Recess], list[int]]:
    """Passages right through, as rings of walls; where passages cross, a wall may belong to several."""
    found: list[Recess] = []
    taken: set[int] = set()
    for axis in tried:
        if any(norm(cross(axis, r.axis)) < SQUARE for r in found):
            continue
        walls = [p for p in group if is_wall(shape.patches[p], axis)]
        for ring in _rings(shape, walls, axis):
            core = tuple(p for p in ring if p not in taken and sight.sees((p,), axis))
            facing = any(
                dot(shape.patches[a].surface.axis, shape.patches[b].surface.axis) < -0.5 for a in core for b in core
            )
            if len(core) >= 2 and facing:
                seen = tuple(d for d in (axis, sight.known(scale(axis, -1.0))) if sight.sees(core, d))
                found.append(Recess(ring, axis, (), seen, core))
                taken.update(core)
    shared = {p for r in found for p in r.patches}
    return found, [p for p in group if p not in shared]


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
    def order(d: Vec3) -> tuple[float, ...]:
        askew = 0.0 if sight.is_square(d) else ASKEW
        return (cost(shape, group, d) + askew, -_floor_area(shape, group, d), -d[2], -d[1], -d[0])

    axis = min(_fitting(shape, sight, group, seen), key=order)
    return Recess(group, axis, floors_of(shape, group, axis), seen)


def _fitting(shape: PartShape, sight: Sight, group: tuple[int, ...], seen: tuple[Vec3, ...]) -> tuple[Vec3, ...]:
    """Of two planes that meet, one square to the outside is the floor of a step; two slanted ones are a vee."""
    if len(group) != 2 or any(shape.patches[p].surface.kind != "plane" for p in group):
        return seen
    square = [d for d in seen if sight.is_square(d)]
    floored = [d for d in square if floors_of(shape, group, d)]
    return tuple(floored or square or seen)


def floors_of(shape: PartShape, group: Iterable[int], axis: Vec3) -> tuple[int, ...]:
    """The planes of a group that look straight along a direction."""
    return tuple(p for p in group if is_floor(shape.patches[p], axis))


def is_floor(patch: Patch, axis: Vec3) -> bool:
    """True for a plane square to the direction, looking along it."""
    return (
        patch.surface.kind == "plane"
        and norm(cross(patch.surface.axis, axis)) < SQUARE
        and (dot(patch.surface.axis, axis) > 0)
    )


def is_wall(patch: Patch, axis: Vec3) -> bool:
    """True for a plane or cylinder parallel to the direction."""
    if patch.surface.kind == "plane":
        return abs(dot(patch.surface.axis, axis)) < SQUARE
    return patch.surface.kind == "cylinder" and norm(cross(patch.surface.axis, axis)) < SQUARE


def _floor_area(shape: PartShape, group: tuple[int, ...], axis: Vec3) -> float:
    return round(sum(shape.patches[p].area for p in floors_of(shape, group, axis)), 3)


def cost(shape: PartShape, group: tuple[int, ...], axis: Vec3) -> float:
    """How ill a direction suits: inner edges no cutter makes, fillets a plain cutter does not make, and depth."""
    low, high = extent(shape, group, axis)
    total = math.log2(max(high - low, 1e-3))
    total += 3.0 * _sharp_corners(shape, group, axis)
    patches = [shape.patches[p] for p in group]
    if any(hollow(p) and p.surface.kind == "cylinder" and not is_wall(p, axis) for p in patches):
        total += 1.0
    return round(total, 3)


def _sharp_corners(shape: PartShape, group: tuple[int, ...], axis: Vec3) -> int:
    pairs = set()
    for index in group:
        for rim in straight(shape.patches[index].rims):
            if rim.convexity == "concave" and rim.other in group and norm(cross(line_of(rim), axis)) < SQUARE:
                pairs.add((min(index, rim.other), max(index, rim.other)))
    return len(pairs)


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
    found = _by_floor(shape, sight, Recess(part, axis, floors_of(shape, part, axis), seen))
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


def _by_floor(shape: PartShape, sight: Sight, recess: Recess) -> list[Recess]:
    """One recess per floor level; walls go to every floor they stand on."""
    levels = _levels(shape, recess)
    if len(levels) < 2:
        return [recess]
    shares = [set(level) for level in levels]
    floors = set(recess.floors)
    for share, level in zip(shares, levels, strict=True):
        share.update(_standing_on(shape, recess, level, floors))
    _share_out(shape, recess, shares)
    found = []
    for share, level in zip(shares, levels, strict=True):
        patches = tuple(sorted(share))
        seen = tuple(d for d in directions(shape, sight, patches) if sight.sees(patches, d))
        found.append(Recess(patches, recess.axis, tuple(level), seen or recess.seen, shared=True))
    return found


def _levels(shape: PartShape, recess: Recess) -> list[list[int]]:
    """Floors grouped: same height and a wall in common."""
    found: list[list[int]] = []
    for floor in recess.floors:
        height = dot(shape.patches[floor].surface.origin, recess.axis)
        near = _standing_on(shape, recess, [floor], set(recess.floors))
        for level in found:
            other = dot(shape.patches[level[0]].surface.origin, recess.axis)
            if abs(other - height) < 2e-3 and near & _standing_on(shape, recess, level, set(recess.floors)):
                level.append(floor)
                break
        else:
            found.append([floor])
    return found


def _standing_on(shape: PartShape, recess: Recess, level: Iterable[int], floors: set[int]) -> set[int]:
    """Walls next to a floor, directly or over a fillet."""
    found: set[int] = set()
    members = set(recess.patches)
    for floor in level:
        for other in joined_to(shape, floor):
            if other in members and other not in floors:
                found.add(other)
                if not is_wall(shape.patches[other], recess.axis):
                    found.update(o for o in joined_to(shape, other) if o in members and o not in floors)
    return found


def _share_out(shape: PartShape, recess: Recess, shares: list[set[int]]) -> None:
    """Patches that stand on no floor go where their neighbours went."""
    left = [p for p in recess.patches if not any(p in s for s in shares)]
    while left:
        moved = []
        for index in left:
            near = set(joined_to(shape, index))
            for share in shares:
                if near & share:
                    moved.append((index, share))
                    break
        if not moved:
            shares[0].update(left)
            return
        for index, share in moved:
            share.add(index)
            left.remove(index)


def long_direction(shape: PartShape, recess: Recess) -> Vec3:
    """The direction along the longest straight wall, square to the recess' axis (deterministic)."""
    lines: dict[Vec3, float] = {}
    for index in recess.patches:
        patch = shape.patches[index]
        if patch.surface.kind != "plane" or not abs(dot(patch.surface.axis, recess.axis)) < 0.999:
            continue
        line = _half(unit(cross(recess.axis, patch.surface.axis)))
        low, high = extent(shape, (index,), line)
        key = next((k for k in lines if norm(cross(k, line)) < SQUARE), line)
        lines[key] = max(lines.get(key, 0.0), round(high - low, 6))
    if not lines:
        frame_x = add(_cross_axis(recess.axis), recess.axis, -dot(_cross_axis(recess.axis), recess.axis))
        return unit(frame_x)
    return max(lines, key=lambda k: (lines[k], k))


def _cross_axis(axis: Vec3) -> Vec3:
    choices: tuple[Vec3, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    return min(choices, key=lambda c: round(abs(dot(c, axis)), 9))


def _half(line: Vec3) -> Vec3:
    """Of two opposite directions the one whose first large component is positive."""
    for component in line:
        if abs(component) > 1e-6:
            return line if component > 0 else scale(line, -1.0)
    return line
