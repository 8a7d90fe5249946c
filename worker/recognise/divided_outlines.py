"""The walls round a floor put end to end where something deeper took stretches or corners of it; their length."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import LEDGE, SAME_LENGTH, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.corners_apart import turned_at_one_wall
from worker.recognise.floor_outline import wall_behind
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, is_wall


@dataclass(frozen=True)
class Ring:
    """Walls all round, each once where it stands; ``length`` (mm) of their foot, None where that is not told."""

    walls: tuple[int, ...]
    length: float | None
    whole: bool
    bends: tuple[Bend, ...] = ()
    """Where its outline turns, if that is told."""
    gone: tuple[Surface, ...] = ()
    """Flat walls of which nothing is left but the rounds that touched them."""

    def reach(self, way: Vec3) -> tuple[float, float]:
        """From where to where it lies along a direction, what is gone of it too (mm)."""
        back = scale(way, -1.0)
        return -max(bend.farthest(back) for bend in self.bends), max(bend.farthest(way) for bend in self.bends)


@dataclass(frozen=True, eq=False)
class Chain:
    """Walls in a row with the floor on their left, and the edges at its foot where it begins and ends."""

    walls: tuple[int, ...]
    first: Rim
    last: Rim
    closed: bool
    taken: tuple[int, ...] = ()
    """Positions of walls after which a stretch of the outline is missing."""
    gaps: tuple[tuple[Vec3, Vec3], ...] = ()
    """From where to where one is missing."""


@dataclass(frozen=True)
class Bend:
    """From where to where the outline turns between two flat walls (mm), and how long it is there.

    ``top``: the way that the middle of a hollow round looks out, whose radius (mm) and turn (rad) are given.
    """

    start: Vec3
    end: Vec3
    length: float
    top: Vec3 | None = None
    radius: float = 0.0
    turn: float = 0.0

    def farthest(self, way: Vec3) -> float:
        """How far it reaches along a direction square to the axis (mm)."""
        ends = max(dot(self.start, way), dot(self.end, way))
        if not self.top or dot(self.top, way) < math.cos(self.turn / 2):
            return ends
        centre = add(scale(add(self.start, self.end), 0.5), self.top, -self.radius * math.cos(self.turn / 2))
        return dot(centre, way) + self.radius


def rings_of(shape: PartShape, recess: Recess, sunk: frozenset[int]) -> list[Ring]:
    """The walls round the floors as rings; none where a chain of them leads nowhere or the part ends there.

    ``sunk``: the patches of all holes and recesses, which may take stretches of it.
    """
    chains = chains_of(shape, recess, sunk)
    rings = closed(shape, recess, chains)
    if not all(ring.closed for ring in rings):
        return []
    return [_ring(shape, recess, ring) for ring in rings]


def chains_of(shape: PartShape, recess: Recess, sunk: frozenset[int]) -> list[Chain]:
    """The upright walls round the floors, as far as they go without a gap; none where the part ends at one."""
    loops = [loop for floor in recess.floors for loop in shape.patches[floor].loops]
    chains = chains_round(shape, recess)
    free = {r.other for loop in loops for r in loop if not _is_walled(recess, r)}
    upright = all(is_wall(shape.patches[w], recess.axis) for c in chains for w in c.walls)
    inside = sunk.union(recess.bridged) if recess.core else sunk  # a floor that others share ends where they do
    return chains if upright and free <= inside else []


def chains_round(shape: PartShape, recess: Recess) -> list[Chain]:
    """The walls round the floors, as far as they go without a gap."""
    loops = [loop for floor in recess.floors for loop in shape.patches[floor].loops]
    return [chain for loop in loops for chain in _chains(shape, recess, loop)]


def _ring(shape: PartShape, recess: Recess, chain: Chain) -> Ring:
    bends = _bends(shape, recess, chain)
    known = [shape.patches[w].surface for w in chain.walls]
    gone = tuple(wall for wall in _with_gone(shape, recess, chain) if all(wall is not w for w in known))
    return Ring(chain.walls, _length(shape, recess, chain, bends), not chain.taken, bends, gone)


def _is_walled(recess: Recess, rim: Rim) -> bool:
    return rim.other in recess.patches and rim.convexity != "convex"


def _chains(shape: PartShape, recess: Recess, loop: tuple[Rim, ...]) -> list[Chain]:
    walled = [_is_walled(recess, r) for r in loop]
    start = next((i for i, here in enumerate(walled) if here and not walled[i - 1]), 0)
    turned = [(loop[k % len(loop)], walled[k % len(loop)]) for k in range(start, start + len(loop))]
    stretches = [[r for r, _ in group] for here, group in groupby(turned, key=lambda t: t[1]) if here]
    return [_chain(shape, recess, rims, all(walled)) for rims in stretches]


def _chain(shape: PartShape, recess: Recess, rims: Sequence[Rim], closed: bool) -> Chain:
    walls = [wall_behind(shape, recess, r.other) for r in rims]
    found = [w for i, w in enumerate(walls) if i == 0 or w != walls[i - 1]]
    if closed and len(found) > 1 and found[0] == found[-1]:
        found.pop()
    return Chain(tuple(found), rims[0], rims[-1], closed)


def closed(shape: PartShape, recess: Recess, chains: Iterable[Chain]) -> list[Chain]:
    """Chains put end to end, the nearest ends first, until all are closed or no more fit."""
    found = list(chains)
    ends = [c for c in found if not c.closed]
    pairs = [(a, b) for a in ends for b in ends if _goes_on(shape, recess, a, b)]
    for before, after in sorted(pairs, key=lambda pair: norm(sub(pair[1].first.points[0], pair[0].last.points[-1]))):
        a = next((c for c in found if not c.closed and c.last is before.last), None)
        b = next((c for c in found if not c.closed and c.first is after.first), None)
        if a and b:
            found = [c for c in found if c not in (a, b)] + [_linked(a, b)]
    return found


def _linked(a: Chain, b: Chain) -> Chain:
    gap = (a.last.points[-1], b.first.points[0])
    taken, gaps = (*a.taken, len(a.walls) - 1), (*a.gaps, gap)
    if a is b:
        return replace(a, closed=True, taken=taken, gaps=gaps)
    more = tuple(k + len(a.walls) for k in b.taken)
    return Chain((*a.walls, *b.walls), a.first, b.last, False, (*taken, *more), (*gaps, *b.gaps))


def _goes_on(shape: PartShape, recess: Recess, before: Chain, after: Chain) -> bool:
    """True where the wall that ends one chain goes on, turns a corner, or runs smoothly into the first of another."""
    a, b = before.walls[-1], after.walls[0]
    p, q = shape.patches[a].surface, shape.patches[b].surface
    if p.kind != "plane" or q.kind != "plane":
        return _runs_on(shape, recess, before, after)
    lines = _travel(p, recess), _travel(q, recess)
    gap = sub(after.first.points[0], before.last.points[-1])
    if shape.carriers[a] == shape.carriers[b]:
        return dot(gap, lines[0]) > -SAME_LENGTH and (before is not after or len(before.walls) > 1)
    turn = dot(cross(*lines), recess.axis)
    if abs(turn) < SQUARE:
        return False
    along = dot(cross(gap, lines[1]), recess.axis) / turn, dot(cross(lines[0], gap), recess.axis) / turn
    return min(along) > -LEDGE


def _runs_on(shape: PartShape, recess: Recess, before: Chain, after: Chain) -> bool:
    """True for one round wall in two pieces, for two that turned at one wall of which nothing is left, and where a flat
    wall ends before a round one touches it, or begins."""
    a, b = before.walls[-1], after.walls[0]
    p, q = shape.patches[a].surface, shape.patches[b].surface
    if shape.carriers[a] == shape.carriers[b]:
        return before is not after or len(before.walls) > 1
    if turned_at_one_wall(shape, a, b):
        return True
    if _touches(p, q):
        return dot(sub(after.first.points[0], p.origin), _travel(q, recess)) > -SAME_LENGTH
    return _touches(q, p) and dot(sub(q.origin, before.last.points[-1]), _travel(p, recess)) > -SAME_LENGTH


def _travel(wall: Surface, recess: Recess) -> Vec3:
    """The way along a flat wall with the floor on the left."""
    return unit(cross(wall.axis, recess.axis))


def _touches(corner: Surface, wall: Surface) -> bool:
    """True for a round wall into which a flat one runs smoothly."""
    if corner.kind != "cylinder" or wall.kind != "plane":
        return False
    off = dot(sub(corner.origin, wall.origin), wall.axis)
    return abs(off - (corner.radius if corner.hollow else -corner.radius)) < SAME_LENGTH


def _bends(shape: PartShape, recess: Recess, ring: Chain) -> tuple[Bend, ...]:
    """Where a ring turns, from its first flat wall on; none for others than flat walls with round or sharp corners."""
    walls = _with_gone(shape, recess, ring)
    flat = [i for i, s in enumerate(walls) if s.kind == "plane"]
    if len(flat) < 2 or any(k - i > 2 for i, k in pairwise(flat)):
        return ()
    bends = []
    for i, k in zip(flat, [*flat[1:], flat[0] + len(walls)], strict=True):
        between = [walls[j % len(walls)] for j in range(i + 1, k)]
        p, q = walls[i], walls[k % len(walls)]
        bends.append(_bend(recess, p, q, between[0] if between else _like_others(recess, (p, q), walls, ring)))
    known = tuple(bend for bend in bends if bend)
    return known if len(known) == len(bends) else ()


def _length(shape: PartShape, recess: Recess, ring: Chain, bends: Sequence[Bend]) -> float | None:
    """How long the foot of all walls is (mm); None where it does not turn from each flat wall to the next."""
    if not bends:
        return None
    walls = _with_gone(shape, recess, ring)
    flat = [s for s in walls if s.kind == "plane"]
    runs = [dot(sub(bends[n].start, bends[n - 1].end), _travel(wall, recess)) for n, wall in enumerate(flat)]
    return sum(runs) + sum(bend.length for bend in bends) if min(runs) > -SAME_LENGTH else None


def _with_gone(shape: PartShape, recess: Recess, ring: Chain) -> list[Surface]:
    """The walls of a ring, with the flat ones that two round ones in a row turned at, where these are gone."""
    found: list[Surface] = []
    walls = _merged(shape, ring)
    for a, b in zip(walls, (*walls[1:], walls[0]), strict=True):
        wall = shape.patches[a].surface
        found.append(wall)
        if turned_at_one_wall(shape, a, b):
            gap = sub(shape.patches[b].surface.origin, wall.origin)
            right = unit(cross(add(gap, recess.axis, -dot(gap, recess.axis)), recess.axis))
            place = add(wall.origin, right, wall.radius if wall.hollow else -wall.radius)
            found.append(Surface("plane", place, scale(right, -1.0)))
    return found


def _merged(shape: PartShape, ring: Chain) -> list[int]:
    """The walls of a ring, those that go on across what divides them once."""
    found = [w for i, w in enumerate(ring.walls) if i == 0 or shape.carriers[w] != shape.carriers[ring.walls[i - 1]]]
    if len(found) > 1 and shape.carriers[found[0]] == shape.carriers[found[-1]]:
        found.pop()
    return found


def _like_others(recess: Recess, walls: tuple[Surface, Surface], ring: Sequence[Surface], chain: Chain) -> float:
    """The radius of a corner between two flat walls: that of all others that turn alike where it was taken; else 0."""
    turn = dot(cross(*(_travel(w, recess) for w in walls)), recess.axis)
    radii = [s.radius for s in ring if s.kind == "cylinder" and s.hollow == (turn > 0)]
    alike = bool(chain.taken) and bool(radii) and max(radii) - min(radii) < SAME_LENGTH
    return radii[0] if alike else 0.0


def _bend(recess: Recess, p: Surface, q: Surface, corner: Surface | float) -> Bend | None:
    """Where the outline turns from one flat wall to the next: over a round wall, a radius (mm), or at once."""
    lines = _travel(p, recess), _travel(q, recess)
    angle = math.atan2(dot(cross(*lines), recess.axis), dot(*lines))
    if isinstance(corner, Surface):
        if not _touches(corner, p) or not _touches(corner, q):
            return None
        side = -corner.radius if corner.hollow else corner.radius
        turn = (angle if corner.hollow else -angle) % math.tau
        ends = add(corner.origin, p.axis, side), add(corner.origin, q.axis, side)
        return Bend(*ends, corner.radius * turn, *(_round(p, lines[0], corner.radius, turn) if corner.hollow else ()))
    if abs(math.sin(angle)) < SQUARE:
        return None
    gap = sub(q.origin, p.origin)
    place = add(p.origin, lines[0], dot(cross(gap, lines[1]), recess.axis) / dot(cross(*lines), recess.axis))
    back = corner * math.tan(abs(angle) / 2)
    ends = add(place, scale(lines[0], -back)), add(place, lines[1], back)
    return Bend(*ends, corner * abs(angle), *(_round(p, lines[0], corner, angle) if corner and angle > 0 else ()))


def _round(wall: Surface, travel: Vec3, radius: float, turn: float) -> tuple[Vec3, float, float]:
    """The top, radius and turn of a hollow round that begins where a flat wall ends."""
    return add(scale(wall.axis, -math.cos(turn / 2)), travel, math.sin(turn / 2)), radius, turn
