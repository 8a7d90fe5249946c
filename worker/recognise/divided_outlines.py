"""The walls round a floor put end to end where something deeper took stretches or corners of it; their length."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import LEDGE, SAME_LENGTH, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.floor_outline import wall_behind
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, is_wall


@dataclass(frozen=True)
class Ring:
    """Walls all round, each once where it stands; ``length`` (mm) of their foot, None where that is not told."""

    walls: tuple[int, ...]
    length: float | None
    whole: bool


@dataclass(frozen=True, eq=False)
class _Chain:
    """Walls in a row with the floor on their left, and the edges at its foot where it begins and ends."""

    walls: tuple[int, ...]
    first: Rim
    last: Rim
    closed: bool
    taken: tuple[int, ...] = ()
    """Positions of walls after which a stretch of the outline is missing."""


@dataclass(frozen=True)
class _Bend:
    """From where to where the outline turns between two flat walls (mm), and how long it is there."""

    start: Vec3
    end: Vec3
    length: float


def rings_of(shape: PartShape, recess: Recess, sunk: frozenset[int]) -> list[Ring]:
    """The walls round the floors as rings; none where a chain of them leads nowhere or the part ends there.

    ``sunk``: the patches of all holes and recesses, which may take stretches of it.
    """
    loops = [loop for floor in recess.floors for loop in shape.patches[floor].loops]
    chains = [chain for loop in loops for chain in _chains(shape, recess, loop)]
    free = {r.other for loop in loops for r in loop if not _is_walled(recess, r)}
    if not free <= sunk or not all(is_wall(shape.patches[w], recess.axis) for c in chains for w in c.walls):
        return []
    rings = _closed(shape, recess, chains)
    if not all(ring.closed for ring in rings):
        return []
    return [Ring(ring.walls, _length(shape, recess, ring), not ring.taken) for ring in rings]


def _is_walled(recess: Recess, rim: Rim) -> bool:
    return rim.other in recess.patches and rim.convexity != "convex"


def _chains(shape: PartShape, recess: Recess, loop: tuple[Rim, ...]) -> list[_Chain]:
    walled = [_is_walled(recess, r) for r in loop]
    start = next((i for i, here in enumerate(walled) if here and not walled[i - 1]), 0)
    turned = [(loop[k % len(loop)], walled[k % len(loop)]) for k in range(start, start + len(loop))]
    stretches = [[r for r, _ in group] for here, group in groupby(turned, key=lambda t: t[1]) if here]
    return [_chain(shape, recess, rims, all(walled)) for rims in stretches]


def _chain(shape: PartShape, recess: Recess, rims: Sequence[Rim], closed: bool) -> _Chain:
    walls = [wall_behind(shape, recess, r.other) for r in rims]
    found = [w for i, w in enumerate(walls) if i == 0 or w != walls[i - 1]]
    if closed and len(found) > 1 and found[0] == found[-1]:
        found.pop()
    return _Chain(tuple(found), rims[0], rims[-1], closed)


def _closed(shape: PartShape, recess: Recess, chains: Iterable[_Chain]) -> list[_Chain]:
    """Chains put end to end, the nearest ends first, until all are closed or no more fit."""
    chains = list(chains)
    while True:
        ends = [c for c in chains if not c.closed]
        pairs = [(a, b) for a in ends for b in ends if _goes_on(shape, recess, a, b)]
        if not pairs:
            return chains
        a, b = min(pairs, key=lambda pair: norm(sub(pair[1].first.points[0], pair[0].last.points[-1])))
        chains = [c for c in chains if c not in (a, b)] + [_linked(shape, a, b)]


def _linked(shape: PartShape, a: _Chain, b: _Chain) -> _Chain:
    taken = (*a.taken, len(a.walls) - 1)
    if a is b:
        return replace(a, closed=True, taken=taken)
    more = tuple(k + len(a.walls) for k in b.taken)
    return _Chain((*a.walls, *b.walls), a.first, b.last, False, (*taken, *more))


def _goes_on(shape: PartShape, recess: Recess, before: _Chain, after: _Chain) -> bool:
    """True where the wall that ends one chain goes on, turns a corner, or runs smoothly into the first of another."""
    a, b = before.walls[-1], after.walls[0]
    p, q = shape.patches[a].surface, shape.patches[b].surface
    if p.kind != "plane" or q.kind != "plane":
        return shape.carriers[a] == shape.carriers[b] or _touches(p, q) or _touches(q, p)
    gap = sub(after.first.points[0], before.last.points[-1])
    lines = _travel(p, recess), _travel(q, recess)
    if shape.carriers[a] == shape.carriers[b]:
        return dot(gap, lines[0]) > -SAME_LENGTH and (before is not after or len(before.walls) > 1)
    turn = dot(cross(*lines), recess.axis)
    if abs(turn) < SQUARE:
        return False
    along = dot(cross(gap, lines[1]), recess.axis) / turn, dot(cross(lines[0], gap), recess.axis) / turn
    return min(along) > -LEDGE


def _travel(wall: Surface, recess: Recess) -> Vec3:
    """The way along a flat wall with the floor on the left."""
    return unit(cross(wall.axis, recess.axis))


def _touches(corner: Surface, wall: Surface) -> bool:
    """True for a round wall into which a flat one runs smoothly."""
    if corner.kind != "cylinder" or wall.kind != "plane":
        return False
    off = dot(sub(corner.origin, wall.origin), wall.axis)
    return abs(off - (corner.radius if corner.hollow else -corner.radius)) < SAME_LENGTH


def _length(shape: PartShape, recess: Recess, ring: _Chain) -> float | None:
    """How long the foot of all walls is (mm); None for other shapes than flat walls with round or sharp corners."""
    walls = [shape.patches[w].surface for w in _merged(shape, ring)]
    flat = [i for i, s in enumerate(walls) if s.kind == "plane"]
    if len(flat) < 2:
        return None
    bends = []
    for i, k in zip(flat, [*flat[1:], flat[0] + len(walls)], strict=True):
        between = [walls[j % len(walls)] for j in range(i + 1, k)]
        p, q = walls[i], walls[k % len(walls)]
        bends.append(_bend(recess, p, q, between[0] if between else _like_others(recess, (p, q), walls, ring)))
    if any(bend is None for bend in bends) or any(k - i > 2 for i, k in pairwise(flat)):
        return None
    known = [bend for bend in bends if bend]
    runs = [dot(sub(known[n].start, known[n - 1].end), _travel(walls[i], recess)) for n, i in enumerate(flat)]
    return sum(runs) + sum(bend.length for bend in known) if min(runs) > -SAME_LENGTH else None


def _merged(shape: PartShape, ring: _Chain) -> list[int]:
    """The walls of a ring, those that go on across what divides them once."""
    found = [w for i, w in enumerate(ring.walls) if i == 0 or shape.carriers[w] != shape.carriers[ring.walls[i - 1]]]
    if len(found) > 1 and shape.carriers[found[0]] == shape.carriers[found[-1]]:
        found.pop()
    return found


def _like_others(recess: Recess, walls: tuple[Surface, Surface], ring: Sequence[Surface], chain: _Chain) -> float:
    """The radius of a corner between two flat walls: that of all others that turn alike where it was taken; else 0."""
    turn = dot(cross(*(_travel(w, recess) for w in walls)), recess.axis)
    radii = [s.radius for s in ring if s.kind == "cylinder" and s.hollow == (turn > 0)]
    alike = bool(chain.taken) and bool(radii) and max(radii) - min(radii) < SAME_LENGTH
    return radii[0] if alike else 0.0


def _bend(recess: Recess, p: Surface, q: Surface, corner: Surface | float) -> _Bend | None:
    """Where the outline turns from one flat wall to the next: over a round wall, a radius (mm), or at once."""
    lines = _travel(p, recess), _travel(q, recess)
    angle = math.atan2(dot(cross(*lines), recess.axis), dot(*lines))
    if isinstance(corner, Surface):
        if not _touches(corner, p) or not _touches(corner, q):
            return None
        side = -corner.radius if corner.hollow else corner.radius
        turn = (angle if corner.hollow else -angle) % math.tau
        return _Bend(add(corner.origin, p.axis, side), add(corner.origin, q.axis, side), corner.radius * turn)
    if abs(math.sin(angle)) < SQUARE:
        return None
    gap = sub(q.origin, p.origin)
    place = add(p.origin, lines[0], dot(cross(gap, lines[1]), recess.axis) / dot(cross(*lines), recess.axis))
    back = corner * math.tan(abs(angle) / 2)
    return _Bend(add(place, scale(lines[0], -back)), add(place, lines[1], back), corner * abs(angle))
