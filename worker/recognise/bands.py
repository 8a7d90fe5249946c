"""Slots and pockets of equal depth that cross: one floor, and walls that end at the crossing and go on beyond it.

Only what goes on beyond is taken apart. An L, a T or a plus whose arms are unlike stays one open pocket: its arms
have nothing in common but the floor, and one path of one cutter makes them all. So does a pocket with stepped corners:
of two areas that cross, one at least must be long.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations, pairwise, permutations

from schemas.base import Vec3, add, cross, dot, scale, sub, unit
from schemas.tolerances import LIMIT, SAME_LENGTH, SQUARE
from worker.kernel import linked
from worker.kernel.graph_surface import Surface
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.recesses import Recess, components, half, hollow, is_wall, joined_to, runs_into
from worker.recognise.through_slots import OVER

LONG = 2.0
"""A band between two walls that is open at both ends is a slot when it is this many times as long as wide.

Ours, as for slots open at one end: what is wider is an area between corner posts."""

SIDES = 4
"""A rectangle has so many sides: something may part each of them from the next."""


@dataclass(frozen=True, eq=False)
class Band:
    """Walls of one feature, on all sides of the crossing, and the two that face each other."""

    walls: tuple[int, ...]
    cheeks: tuple[int, ...]
    closed: bool = False
    """True for walls all round: nothing beyond them is an end of it."""


@dataclass(frozen=True)
class _Gap:
    """How long a gap between two stretches of a wall is (mm); ``bitten``: at how many of its ends something else took
    the wall."""

    length: float
    bitten: int


def parted(shape: PartShape, sight: Sight, recess: Recess, least: int = 2) -> list[Recess]:
    """The recesses that cross in a recess with floors on one plane, each with all floor; itself where none do.

    ``least``: how many must be found; one will do where something else is known to cross it.
    """
    if len({shape.carriers[f] for f in recess.floors}) != 1 or recess.shared or recess.core:
        return [recess]
    walls = tuple(p for p in recess.patches if is_wall(shape.patches[p], recess.axis))
    fillets = [p for p in recess.patches if p not in walls and p not in recess.floors]
    if len(walls) < (8 if least > 1 else 2) or not all(hollow(shape.patches[f]) for f in fillets):
        return [recess]
    bands = [with_fillets(shape, band, fillets) for band in bands_of(shape, recess, walls, least)]
    whole = {p for band in bands for p in band.walls} == {*walls, *fillets}
    return [band_on_floor(shape, sight, recess, band) for band in bands] if whole else [recess]


def with_fillets(shape: PartShape, band: Band, fillets: list[int]) -> Band:
    """The band with what rounds the foot of its walls."""
    near = {f for f in fillets if set(shape.patches[f].smooth) & set(band.walls)}
    corners = {f for f in fillets if set(shape.patches[f].smooth) & near}
    return replace(band, walls=tuple(sorted({*band.walls, *near, *corners})))


def bands_of(
    shape: PartShape, recess: Recess, walls: tuple[int, ...], least: int, *, ending: bool = False
) -> list[Band]:
    """All of some walls of a recess as bands; none when a wall is left over or, unless they may end there (``ending``),
    a band has nothing beyond the crossing."""
    groups = _with_corners_taken(shape, going_on(shape, components(shape, walls), recess.axis))
    if len(groups) < least or not (ending or all(len(sides) > 1 for sides in groups)):
        return []
    whole = sorted(tuple(sorted(w for side in sides for w in side)) for sides in groups)
    bands = [Band(group, cheeks, closed=True) for group in whole if (cheeks := goes_all_round(shape, group))]
    alike = least > 1 and not bands
    whole = [group for group in whole if all(group != band.walls for band in bands)]
    while whole:
        first = whole.pop(0)
        own = _cheeks(shape, recess, first, first, alike)
        tried = [(g, _cheeks(shape, recess, first, g, alike)) for g in whole] if not own else [(first, own)]
        facing = [(_width(shape, cheeks), g, cheeks) for g, cheeks in tried if cheeks]
        if not facing:
            return []
        _, mate, cheeks = min(facing)
        band = Band(tuple(sorted({*first, *mate})), cheeks)
        if not own and least > 1 and not _is_long(shape, recess, band):
            return []
        whole = [g for g in whole if g is not mate]
        bands.append(band)
    long = least == 1 or any(_is_long(shape, recess, band) for band in bands)
    return bands if len(bands) >= least and long else []


def going_on(shape: PartShape, sides: list[tuple[int, ...]], axis: Vec3) -> list[list[tuple[int, ...]]]:
    """Sides put together that have a flat carrier in common, or of which one has a round corner or end that runs on
    into the other's flat wall: something took where the two touch. A wall between two others of its side, the far end
    of a slot say, goes on nowhere, nor does one beyond another at its end."""
    flats = [{shape.carriers[w] for w in side if shape.patches[w].surface.kind == "plane"} for side in sides]
    rounds = [[shape.patches[w].surface for w in side if hollow(shape.patches[w])] for side in sides]
    into = [{c for r in own for c in _touched(shape, r, set().union(*flats))} for own in rounds]
    alike = [(i, k) for i, k in combinations(range(len(sides)), 2) if flats[i] & flats[k]]
    alike = [(i, k) for i, k in alike if _lead_on(shape, sides[i], sides[k], axis)]
    alike += [(i, k) for i, k in permutations(range(len(sides)), 2) if into[i] & flats[k]]
    return [[sides[i] for i in group] for group in linked.groups(len(sides), alike)]


def _lead_on(shape: PartShape, ours: tuple[int, ...], theirs: tuple[int, ...], axis: Vec3) -> bool:
    """True where two flat walls on one plane, one of each side, end towards each other at none of their own."""
    pairs = [(a, b) for a in ours for b in theirs if shape.carriers[a] == shape.carriers[b]]
    for a, b in ((a, b) for a, b in pairs if shape.patches[a].surface.kind == "plane"):
        along = unit(cross(axis, shape.patches[a].surface.axis))
        way = along if extent(shape, (b,), along)[0] > extent(shape, (a,), along)[0] else scale(along, -1.0)
        if not _is_ended(shape, ours, a, way) and not _is_ended(shape, theirs, b, scale(way, -1.0)):
            return True
    return False


def _is_ended(shape: PartShape, side: tuple[int, ...], wall: int, way: Vec3) -> bool:
    """True for a flat wall at whose end that way another of its side begins."""
    end, others = extent(shape, (wall,), way)[1], set(joined_to(shape, wall)) & set(side)
    rims = [r for r in shape.patches[wall].rims if r.other in others]
    return any(min(dot(p, way) for p in r.points) > end - OVER for r in rims)


def _with_corners_taken(shape: PartShape, groups: list[list[tuple[int, ...]]]) -> list[list[tuple[int, ...]]]:
    """Groups with those put together that go on nowhere but make a rectangle: something takes its corners."""
    lone = [group for group in groups if len(group) == 1]
    for size in range(2, len(lone) + 1) if len(lone) <= SIDES else ():
        for some in combinations(lone, size):
            if goes_all_round(shape, tuple(w for (side,) in some for w in side)):
                return [*(g for g in groups if g not in some), [side for (side,) in some]]
    return groups


def _touched(shape: PartShape, corner: Surface, flats: set[int]) -> set[int]:
    """The carriers of two flat walls that a round corner or end runs into; none for any other."""
    found = {c for c in flats if runs_into(corner, shape.patches[c].surface)}
    return found if len(found) == 2 else set()


def goes_all_round(shape: PartShape, group: tuple[int, ...]) -> tuple[int, ...]:
    """Two walls of a group that face each other, the nearest, where it bounds an area all round, however it is divided:
    a rectangle, or a slot with two round ends as wide as itself."""
    walls = {shape.carriers[w]: w for w in group}
    flat = {c: w for c, w in walls.items() if shape.patches[w].surface.kind == "plane"}
    bent = [shape.patches[w] for w in walls.values() if w not in flat.values()]
    rounds = [patch.surface for patch in bent]
    pairs = [pair for pair in permutations(flat.values(), 2) if face(shape, *pair)]
    ended = (len(flat) == 2 == len(rounds) and look_inwards(*bent)) or (len(flat) == 4 and len(pairs) == 4)
    if not pairs or not ended or not all(r.hollow and _touched(shape, r, set(flat)) for r in rounds):
        return ()
    return min(pairs, key=lambda pair: round(_width(shape, pair), 3))


def look_inwards(a: Patch, b: Patch) -> bool:
    """True for two round ends that face each other: those of two notches with metal between face away."""
    gap = sub(b.surface.origin, a.surface.origin)
    return dot(a.looks, gap) > 0 > dot(b.looks, gap)


def _cheeks(
    shape: PartShape, recess: Recess, ours: tuple[int, ...], theirs: tuple[int, ...], alike: bool
) -> tuple[int, ...]:
    """Two walls, one of each group, that face each other and, if ``alike``, are divided alike by what crosses."""
    known: dict[tuple[int, int], list[_Gap]] = {}

    def gaps(side: int, wall: int) -> list[_Gap]:  # once for all the walls on one plane
        key = (side, shape.carriers[wall])
        if key not in known:
            known[key] = _gaps(shape, recess, (ours, theirs)[side], wall)
        return known[key]

    for a in ours:
        for b in theirs:
            if face(shape, a, b) and (not alike or _are_alike(gaps(0, a), gaps(1, b))):
                return (a, b)
    return ()


def _are_alike(ours: list[_Gap], theirs: list[_Gap]) -> bool:
    """True for walls with gaps of one length, in order; an end that something else took says nothing of its own.

    A gap with both its ends taken is a hole's own mouth, unless there is no other: a head where two slots cross. What
    crosses where the part ends may part one of the walls alone.
    """
    if any(gap.bitten < 2 for gap in (*ours, *theirs)):
        ours, theirs = ([gap for gap in gaps if gap.bitten < 2] for gaps in (ours, theirs))
    few, many = sorted((ours, theirs), key=len)
    starts = (0, len(many) - len(few)) if few and len(many) - len(few) < 2 else ()
    return any(all(_is_alike(a, b) for a, b in zip(few, many[start:], strict=False)) for start in starts)


def _is_alike(a: _Gap, b: _Gap) -> bool:
    return abs(a.length - b.length) < SAME_LENGTH or bool(a.bitten or b.bitten)


def face(shape: PartShape, a: int, b: int) -> bool:
    """True for two planes that look at each other."""
    p, q = shape.patches[a].surface, shape.patches[b].surface
    flat = p.kind == q.kind == "plane" and dot(p.axis, q.axis) < -1 + SQUARE**2
    return flat and dot(sub(q.origin, p.origin), p.axis) > 0


def _gaps(shape: PartShape, recess: Recess, group: tuple[int, ...], wall: int) -> list[_Gap]:
    """The gaps between the stretches of a wall, in order."""
    if shape.patches[wall].surface.kind != "plane":
        return []
    along = _along(shape, recess, wall)
    twins = [w for w in group if shape.carriers[w] == shape.carriers[wall]]
    spans = sorted((*extent(shape, (w,), along), w) for w in twins)
    back = scale(along, -1.0)
    ends = [
        (b[0] - a[1], _is_bitten(shape, recess, a[2], along), _is_bitten(shape, recess, b[2], back))
        for a, b in pairwise(spans)
    ]
    return [_Gap(length, low + high) for length, low, high in ends]


def _is_bitten(shape: PartShape, recess: Recess, wall: int, way: Vec3) -> bool:
    """True where a wall ends that way at what is no wall of the recess, nor a side of the part."""
    end = extent(shape, (wall,), way)[1]
    rims = [r for r in shape.patches[wall].rims if min(dot(p, way) for p in r.points) > end - OVER]
    beyond = [shape.patches[r.other] for r in rims]
    return bool(beyond) and all(p.index not in recess.patches and is_wall(p, recess.axis) for p in beyond)


def _along(shape: PartShape, recess: Recess, wall: int) -> Vec3:
    return half(unit(cross(recess.axis, shape.patches[wall].surface.axis)))


def _is_long(shape: PartShape, recess: Recess, band: Band) -> bool:
    low, high = extent(shape, band.walls, _along(shape, recess, band.cheeks[0]))
    return high - low >= LONG * _width(shape, band.cheeks) - LIMIT


def _width(shape: PartShape, cheeks: tuple[int, ...]) -> float:
    a, b = (shape.patches[c].surface for c in cheeks)
    return dot(sub(b.origin, a.origin), a.axis)


def band_on_floor(shape: PartShape, sight: Sight, recess: Recess, band: Band) -> Recess:
    """A band with the floor; what bounds the floor beside it is bridged, so that it opens no side of it."""
    patches = tuple(sorted({*band.walls, *recess.floors}))
    rims = [r for f in recess.floors for r in shape.patches[f].rims if r.other not in patches]
    within = {*recess.patches, *recess.bridged}
    ends = [r for r in rims if r.other not in within and not band.closed and _between(shape, band, r)]
    own = {r.other for r in ends}
    reach = tuple(p for r in ends if r.curve == "line" for p in (r.points[0], r.points[-1]))  # to the part's corner
    along = _along(shape, recess, band.cheeks[0])
    tried = sight.distinct([recess.axis, *recess.seen, along, scale(along, -1.0)])
    seen = tuple(d for d in tried if d in recess.seen or _runs_out(shape, sight, recess, band, d))
    bridged = tuple(sorted({r.other for r in rims} - own))
    return replace(recess, patches=patches, seen=seen, core=band.walls, bridged=bridged, shared=True, reach=reach)


def _between(shape: PartShape, band: Band, rim: Rim) -> bool:
    """True for an edge of the floor that lies between the cheeks."""
    surface = shape.patches[band.cheeks[0]].surface
    heights = [dot(sub(p, surface.origin), surface.axis) for p in (rim.points[0], rim.points[-1])]
    return min(heights) > -SAME_LENGTH and max(heights) < _width(shape, band.cheeks) + SAME_LENGTH


def _runs_out(shape: PartShape, sight: Sight, recess: Recess, band: Band, way: Vec3) -> bool:
    """True when a tool comes in along the band: its walls are seen, and nothing stands between them over the floor."""
    surface = shape.patches[band.cheeks[0]].surface
    if abs(dot(way, surface.axis)) > SQUARE or not sight.sees(band.walls, way):
        return False
    middle = sum(extent(shape, band.walls, way)) / 2
    level = dot(shape.patches[recess.floors[0]].surface.origin, recess.axis)
    for share in (0.1, 0.5, 0.9):
        start = add(surface.origin, surface.axis, share * _width(shape, band.cheeks))
        start = add(start, way, middle - dot(start, way))
        start = add(start, recess.axis, level + OVER - dot(start, recess.axis))
        if crossings(shape, start, way, 0.0, math.inf):
            return False
    return True
