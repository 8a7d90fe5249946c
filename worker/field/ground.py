"""Where the field looks for a feature: its own reading of floors, walls and open sides from triangles (mm)."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import COINCIDENT
from worker.field.arcs import SAGITTA, followed_section
from worker.field.bays import Border, Holes, without_bays
from worker.field.curved_ends import all_rounded_on
from worker.field.lines import Floats, Ints, Mask
from worker.field.plane import Everywhere, Filled, Join, Minus, Outline, Region, Shadow
from worker.field.spurs import without_spurs
from worker.field.walled import CLOSE, OUTSIDE, parted, walled_sides

WELD = 4
"""Decimals (mm) to which corners of triangles are the same."""
HIGHER = 1e-3
MIDDLE = 0.5003
"""Share of a height at which walls are looked at: hardly a corner lies there."""
ELSEWHERE = (0.2503, 0.0803, 0.0203, 0.7503, 0.9203, 0.9803)
"""Where else they are looked at when something parts them there: lower down first."""
SOME = 32
ARC_SAGITTA = 2 * SAGITTA
"""Two sides whose turn has no more than this under it are chords of one arc (mm)."""
REACH = 3e3
"""How far open sides go out (mm)."""
TURN = math.radians(20)
PARALLEL = 1e-6
"""Sine below which two walls run one way."""
OPPOSED = math.cos(math.radians(155))
"""Cosine up to which what two walls go on along leads to each other's side: few walls stand at that angle."""
Point = tuple[float, float]
Side = tuple[Point, Point]


@dataclass(frozen=True)
class Own:
    """The rectangle of a recess that shares its floor: corners counter-clockwise from a long side (x, y); which sides
    bound it, by their first corners, wherever no wall stands: past the others it may go on."""

    corners: tuple[Point, ...]
    bounding: tuple[int, ...]


def recess_ground(
    floors: Floats,
    above: Callable[[float], Region],
    top: float | None = None,
    own: Own | None = None,
    around: Own | None = None,
    holes: Holes | None = None,
) -> Region:
    """A recess's floor with its holes closed and, where no wall stands at its border, all that lies beyond.

    Not what stands over an island that reaches ``top``, where the feature ends. ``floors`` are the triangles of the
    feature's faces that look up, ``above`` gives the part's shadow above a height. ``own``: its rectangle where it
    shares the floor; nothing past sides that bound it is its ground, nor what lies behind a wall. ``around``: that of
    a recess with walls all round, of which something deeper took some. ``holes``: those level with its floor, where
    its walls go on.
    """
    ground, is_open = _whole_ground(floors, above, top, holes)
    if own is None:
        return within(ground, around, around.bounding) if around and is_open else ground
    walled = np.flatnonzero(walled_sides(own.corners, above(_wall_level(floors)), _outside(floors))).tolist()
    return within(ground, own, {*own.bounding, *walled})


def borders(floors: Floats, above: Callable[[float], Region]) -> list[Border]:
    """The borders of a recess's floors, parted where walls begin and end."""
    return _parted(_loops(floors), floors, above)


def _parted(loops: Sequence[list[Point]], floors: Floats, above: Callable[[float], Region]) -> list[Border]:
    walls = above(_wall_level(floors))
    outside = _outside(floors)
    found = (parted(loop, walls, outside) for loop in loops)
    return [(loop, walled_sides(loop, walls, outside)) for loop in found]


def _whole_ground(
    floors: Floats, above: Callable[[float], Region], top: float | None, holes: Holes | None
) -> tuple[Region, bool]:
    """The ground, and whether some of it lies past an open side."""
    flat = Shadow(_flat(floors))
    loops = _loops(floors)
    inner = [Outline(_sides(loop)) for loop in loops if _area(loop) < 0]  # closer to the border than two scan lines
    whole = Join((Filled(flat), *inner)) if inner else Filled(flat)
    parts: list[Region] = [whole if top is None else Minus(whole, Minus(above(top - HIGHER), flat))]
    for border in (border for border in _parted(loops, floors, above) if _area(border[0]) > 0):
        loop, walled = border if holes is None else without_bays(border, holes)
        if not walled.any():
            return Everywhere(), True
        parts += [Outline(_sides(side)) for side in _open_sides(loop, walled)]
    return (Join(tuple(parts)), True) if len(parts) > 1 else (parts[0], False)


@dataclass(frozen=True, eq=False)
class Rings:
    """What walls go round, and what lies past the gaps of open rings; ``core``: without that, None if it is nothing."""

    ground: Region
    core: Region | None


def ring_ground(walls: Floats, owner: NDArray[np.int32]) -> Rings | None:
    """The ground that upright walls (``owner``: the face of each triangle) go round; an open ring is closed by its
    chord, and is open there. Chains that enclose nothing are the sides of one gap: its ground lies before all of them.
    None where they go round nothing."""
    chains = all_rounded_on(_wall_chains(without_spurs(_ring_sides(walls, owner), WELD)), walls, owner)
    cores = [Outline(_sides(chain)) for chain in chains if _area(chain) > COINCIDENT]
    grounds: list[Region] = [*cores]
    between: Region | None = None
    for chain in (c for c in chains if not _closed(c)):
        walled = np.arange(len(chain)) < len(chain) - 1
        past = [Outline(_sides(side)) for side in _open_sides(chain, walled)]
        if _area(chain) > COINCIDENT:
            grounds += past
        elif past:
            between = _joined(past) if between is None else Minus(between, Minus(Everywhere(), _joined(past)))
    grounds += [] if between is None else [between]
    return Rings(_joined(grounds), _joined(cores) if cores else None) if grounds else None


def _ring_sides(walls: Floats, owner: NDArray[np.int32]) -> Floats:
    """The walls' section (n, 2, 2) at a height that all of them reach, low enough that what widens higher up is left
    out; each one's at its own middle where some stand upon others."""
    z, faces = walls[:, :, 2], np.unique(owner)
    lows = np.array([z[owner == face].min() for face in faces])
    highs = np.array([z[owner == face].max() for face in faces])
    if lows.max() < highs.min():
        return _least_parted(walls, owner, float(lows.max()), float(highs.min()))
    found = [
        _least_parted(walls[owner == face], owner[owner == face], low, high)
        for face, low, high in zip(faces.tolist(), lows.tolist(), highs.tolist(), strict=True)
    ]
    sides = np.concatenate(_whole_bands(found))
    sides = sides[np.sort(np.unique(np.round(sides.reshape(-1, 4), WELD), axis=0, return_index=True)[1])]
    return _on_one_level(walls, owner, (lows, highs), found, sides)


def _on_one_level(
    walls: Floats, owner: NDArray[np.int32], ends: tuple[Floats, Floats], own: Sequence[Floats], sides: Floats
) -> Floats:
    """Sides (n, 2, 2), or where they hang together better those at one height, which those that do not reach it lie
    over: of a floor that runs on behind a gap in the fillet beside it, that behind the gap is no side of this ring."""
    heights, pieces = np.unique(np.concatenate(ends)), len(_wall_chains(sides))
    for low, high in pairwise(heights.tolist()) if pieces > 1 else ():
        level = low + MIDDLE * (high - low)
        absent = np.flatnonzero((ends[0] > level) | (ends[1] < level)).tolist()
        found = followed_section(walls, owner, level)
        fewer = high - low > HIGHER and len(found) and len(_wall_chains(found)) < pieces
        if fewer and all(_lie_over(own[k], found) for k in absent):
            sides, pieces = found, len(_wall_chains(found))
    return sides


def _whole_bands(found: Sequence[Floats]) -> list[Floats]:
    """The sections (n, 2, 2) of walls, of those that lie one over the other in one surface the longest alone: what
    parts a wall level with its foot, a groove say, leaves bands of it."""
    sizes = [float(np.linalg.norm(sides[:, 1] - sides[:, 0], axis=1).sum()) for sides in found]
    kept: list[Floats] = []
    for at in sorted(range(len(found)), key=lambda k: -round(sizes[k], WELD)):
        if not any(_lie_over(found[at], other) for other in kept):
            kept.append(found[at])
    return kept


def _lie_over(sides: Floats, other: Floats) -> bool:
    """Whether sides lie all along others: the middles of some, to a chord's height."""
    if not len(sides) or not len(other):
        return False
    middle, start = sides[:: max(len(sides) // SOME, 1)].mean(axis=1), other[:, 0]
    way = other[:, 1] - start
    share = np.einsum("ijk,jk->ij", middle[:, None] - start, way) / np.einsum("jk,jk->j", way, way)
    foot = start + np.clip(share, 0.0, 1.0)[..., None] * way
    return bool(np.all(np.linalg.norm(middle[:, None] - foot, axis=2).min(axis=1) < 2 * ARC_SAGITTA))


def _least_parted(walls: Floats, owner: NDArray[np.int32], low: float, high: float) -> Floats:
    """The section at the first of some heights at which walls are in the fewest pieces: a hole in a wall is no gap."""
    found = followed_section(walls, owner, low + MIDDLE * (high - low))
    pieces = len(_wall_chains(found))
    for share in ELSEWHERE if pieces > 1 else ():
        other = followed_section(walls, owner, low + share * (high - low))
        if len(other) and len(_wall_chains(other)) < pieces:
            found, pieces = other, len(_wall_chains(other))
    return found


def _joined(regions: Sequence[Region]) -> Region:
    return regions[0] if len(regions) == 1 else Join(tuple(regions))


def _wall_chains(sides: Floats) -> list[list[Point]]:
    """Sides of walls (n, 2, 2), metal on their left, end to end the other way round, so that the ground lies there."""
    _, first, name = np.unique(np.round(sides.reshape(-1, 2), WELD), axis=0, return_index=True, return_inverse=True)
    exact = sides.reshape(-1, 2)[first]
    following = {int(b): int(a) for a, b in name.reshape(-1, 2) if a != b}
    begins = sorted(set(following) - set(following.values())) or sorted(following)[:1]
    chains = []
    while following:
        here = next((b for b in begins if b in following), min(following))
        chain = [here]
        while here in following:
            here = following.pop(here)
            chain.append(here)
        chains.append([(x, y) for x, y in exact[chain].tolist()])
    return chains


def _closed(chain: Sequence[Point]) -> bool:
    return chain[0] == chain[-1]


def beyond(point: Point, outward: Point) -> Region:
    """The half plane on the outer side of a wall."""
    (x, y), size = point, math.hypot(*outward)
    nx, ny = outward[0] / size * REACH, outward[1] / size * REACH
    corners = [(x - ny, y + nx), (x + ny, y - nx), (x + ny + nx, y - nx + ny), (x - ny + nx, y + nx + ny)]
    return bounded(corners)


def bounded(corners: Sequence[Point]) -> Region:
    """What a closed polygon goes round."""
    return Outline(_sides(corners))


def within(region: Region, own: Own, sides: Iterable[int]) -> Region:
    """The region without what lies past some sides of a rectangle."""
    past = []
    for side in sorted(sides):
        (x0, y0), (x1, y1) = own.corners[side], own.corners[(side + 1) % 4]
        past.append(beyond((x0, y0), (y1 - y0, x0 - x1)))
    return Minus(region, Join(tuple(past)))


def _flat(triangles: Floats) -> Floats:
    flat = triangles.copy()
    flat[:, :, 2] = 0.0
    return flat


def _wall_level(floors: Floats) -> float:
    """Above a flat floor, or just below the highest point of a floor that rises at its walls."""
    high = float(floors[:, :, 2].max())
    return high - HIGHER if _slopes(floors) else high + HIGHER


def _slopes(floors: Floats) -> bool:
    return float(np.ptp(floors[:, :, 2])) > 2 * HIGHER


def _outside(floors: Floats) -> tuple[float, ...]:
    """How far outside their borders walls are looked for (mm)."""
    return (OUTSIDE,) if _slopes(floors) else (OUTSIDE, CLOSE)


def _loops(triangles: Floats) -> list[list[Point]]:
    """The borders of triangles seen from above, as closed chains of corners; the inside on the left."""
    points = triangles[:, :, :2].reshape(-1, 2)
    _, first, name = np.unique(_codes(points), return_index=True, return_inverse=True)
    a, b = name.reshape(-1), name.reshape(-1, 3)[:, (1, 2, 0)].reshape(-1)
    sides, back = np.unique(a * len(first) + b), b * len(first) + a
    lone = np.setdiff1d(sides, back, assume_unique=False)
    leaving: dict[Point, list[Point]] = {}
    exact: list[Point] = [(x, y) for x, y in points[first].tolist()]
    for p, q in sorted((exact[k // len(first)], exact[k % len(first)]) for k in lone.tolist()):
        leaving.setdefault(p, []).append(q)
    return [loop for loop in _chained(leaving) if len(loop) > 2]


def _codes(points: Floats) -> Ints:
    """A number for each point (n, 2), the same for those that are the same to ``WELD`` decimals; by x, then y."""
    cells = np.round(points * 10**WELD).astype(np.int64)
    return np.asarray(cells[:, 0] * 3_000_000_019 + cells[:, 1], dtype=np.int64)


def _chained(leaving: dict[Point, list[Point]]) -> list[list[Point]]:
    """Sides end to end, as loops that come to no corner twice: where a hole touches a border each is its own."""
    loops = []
    while leaving:
        chain = [min(leaving)]
        places = {chain[0]: 0}
        while following := leaving.get(chain[-1]):
            here = chain[-1]
            chain.append(following.pop(0))
            if not following:
                del leaving[here]
            at = places.setdefault(chain[-1], len(chain) - 1)
            if at < len(chain) - 1:
                loops.append(chain[at:-1])
                places = {p: k for p, k in places.items() if k <= at}
                del chain[at + 1 :]
    return loops


def _area(loop: Sequence[Point]) -> float:
    x, y = np.array(loop).T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def _open_sides(loop: Sequence[Point], walled: Mask) -> list[list[Point]]:
    """Each run of open sides as a polygon that goes out between the walls at its two ends, carried on straight."""
    count = len(loop)
    found = []
    for first in range(count):
        if walled[first] or not walled[first - 1]:
            continue
        last = first
        while not walled[(last + 1) % count]:
            last += 1
        chain = [loop[k % count] for k in range(first, last + 2)]
        before = _leaving(*(loop[first - k] for k in (2, 1, 0)), bends=bool(walled[first - 2]))
        after = _leaving(*(loop[(last + k) % count] for k in (3, 2, 1)), bends=bool(walled[(last + 2) % count]))
        opening = _turning(chain, before, after) - math.pi
        met = _met(chain, before, after) if opening < 0 else None
        found.append([*chain, *(_far_points(chain, after, opening) if met is None else met)])
    return found


def _leaving(a: Point, b: Point, end: Point, *, bends: bool) -> float:
    """In which direction a wall ends that comes from ``b``; its tangent where it comes round from ``a`` by chords of an
    arc (``bends``: that is wall as well): the last chord's direction would be as far off as a way along it is long."""
    way, last = _direction(b, end), math.dist(b, end)
    turn = math.remainder(way - _direction(a, b), math.tau)
    if not bends or abs(turn) * last > 8 * ARC_SAGITTA:
        return way
    return way + turn * last / (last + math.dist(a, b))


def _turning(chain: Sequence[Point], before: float, after: float) -> float:
    """How far a chain turns left, from the direction in which one comes to it to that in which one leaves (against
    ``after``). Straight back counts as left: there the ground ends in a cusp."""
    ways = [before, *(_direction(a, b) for a, b in pairwise(chain)), after + math.pi]
    turns = [math.remainder(b - a, math.tau) for a, b in pairwise(ways)]
    return sum(math.pi if turn < PARALLEL - math.pi else turn for turn in turns)


def _met(chain: Sequence[Point], before: float, after: float) -> list[Point] | None:
    """Where both end walls, carried on, close the gap: in one point, or where they pass each other on two lines with
    the step from one's end to the outer line; None where they part."""
    a, b = np.array(chain[0]), np.array(chain[-1])
    ways = np.array([[math.cos(before), math.sin(before)], [math.cos(after), math.sin(after)]])
    det = float(np.linalg.det(ways))
    if abs(det) >= PARALLEL:
        t, s = np.linalg.solve(np.stack((ways[0], -ways[1]), axis=1), b - a)
        if min(t, s) > 0 and max(t, s) < REACH:
            return _point(a + t * ways[0])
    if float(ways[0] @ ways[1]) > OPPOSED:
        return None
    outer = int(np.linalg.det(np.stack((ways[0], b - a))) < 0)  # whose line lies farther out than the other's end
    end, other = ((a, b), (b, a))[outer]
    return _point(end + max(float((other - end) @ ways[outer]), 0.0) * ways[outer])


def _point(at: Floats) -> list[Point]:
    return [(float(at[0]), float(at[1]))]


def _direction(a: Point, b: Point) -> float:
    return math.atan2(b[1] - a[1], b[0] - a[0])


def _far_points(chain: Sequence[Point], start: float, opening: float) -> list[Point]:
    """Far corners clockwise from beyond the chain's end round to beyond its beginning."""
    (x0, y0), (x1, y1) = chain[0], chain[-1]
    steps = max(int(abs(opening) / TURN), 1)
    outer = [(x1 + REACH * math.cos(start), y1 + REACH * math.sin(start))]
    for k in range(1, steps):
        angle = start - opening * k / steps
        outer.append(((x0 + x1) / 2 + REACH * math.cos(angle), (y0 + y1) / 2 + REACH * math.sin(angle)))
    return [*outer, (x0 + REACH * math.cos(start - opening), y0 + REACH * math.sin(start - opening))]


def _sides(polygon: Sequence[Point]) -> Floats:
    points = np.array(polygon)
    return np.stack((points, np.roll(points, -1, axis=0)), axis=1)
