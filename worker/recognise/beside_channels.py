"""What T-slots and dovetails leave of what they lie in or cross: the pocket over them, recesses on their floor."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from schemas.base import Vec3, add, dot, norm, scale, sub, unit
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.bands import parted
from worker.recognise.bulges import area_vector
from worker.recognise.channels import Channel, is_tall
from worker.recognise.extent import extent
from worker.recognise.flush import ground_level
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, components, directions, floors_of, is_wall, joined_to, sees_own
from worker.recognise.through_slots import OVER

Edge = tuple[Vec3, Vec3]


def left_over(shape: PartShape, channels: Sequence[Channel], groups: Sequence[tuple[int, ...]]) -> list[int]:
    """What channels leave of some groups; ends, floors and tall sides that bound something else stay with that."""
    taken = {p for c in channels for p in c.patches}
    rest = {p for group in groups for p in group} - taken
    both = {p for c in channels for p in (*c.ends, *c.floors) if set(joined_to(shape, p)) & rest}
    high = [c for c in channels if c.span]
    both |= {p for c in high for p in c.sides if is_tall(shape, c, p) and set(joined_to(shape, p)) & rest}
    both |= {p for c in high if both & set(c.sides) for p in c.floors if _comes_out(shape, c, p)}
    return sorted(rest | both)


def _comes_out(shape: PartShape, channel: Channel, floor: int) -> bool:
    """True for a floor that goes on where no roof is over it."""
    low, high = extent(shape, (floor,), channel.travel)
    for a, b in sorted(extent(shape, (r,), channel.travel) for r in channel.roofs):
        low = max(low, b) if a < low + OVER else low
    return low < high - OVER


def pocket_over(shape: PartShape, sight: Sight, group: tuple[int, ...], channels: Sequence[Channel]) -> Recess | None:
    """The recess in whose floor channels run that end at its walls; those go on below it. None for other groups."""
    met = [c for c in channels if set(c.ends) & set(group)]
    for up in sight.distinct(c.halves[0].up for c in met):
        below = {p for c in met for p in c.floors}
        floors = tuple(p for p in floors_of(shape, group, up) if p not in below)
        if not floors:
            continue
        own = tuple(p for p in group if all(p not in c.ends for c in met))
        bridged = tuple(sorted({p for c in met for p in (*c.necks, *c.sides)}))
        recess = Recess(group, up, floors, (up,), shared=True, bridged=bridged, own=own)
        recess = replace(recess, span=(ground_level(shape, recess), math.inf))
        if sees_own(sight, recess, group, up):
            return recess
    return None


def end_of(shape: PartShape, sight: Sight, group: tuple[int, ...], channels: Sequence[Channel]) -> Recess | None:
    """The recess at another depth in which channels end whose sides go on as its walls. None for other groups."""
    tall = {p: c for c in channels if c.span for p in c.sides if p in group}
    own = tuple(p for p in group if p not in tall)
    for up in sight.distinct(c.halves[0].up for c in tall.values()):
        floors = floors_of(shape, own, up)
        if floors and sight.sees(own, up) and all(_is_seen(shape, sight, *t, up) for t in tall.items()):
            return Recess(group, up, floors, (up,), core=own, shared=True)
    return None


def level_with(shape: PartShape, sight: Sight, group: tuple[int, ...], channels: Sequence[Channel]) -> list[Recess]:
    """The recesses whose floor is that of channels which they cross; none for other groups."""
    met = [c for c in channels if set(c.floors) & set(group)]
    for up in sight.distinct(c.halves[0].up for c in met):
        floors = tuple(p for p in floors_of(shape, group, up) if any(p in c.floors for c in met))
        tall = {p: c for c in met for p in c.sides if p in group}
        walls = tuple(p for p in group if p not in floors and p not in tall)
        if floors and walls and sight.sees(walls, up) and all(_is_seen(shape, sight, *t, up) for t in tall.items()):
            bridged = {p for c in met for p in (*c.sides, *c.roofs, *c.necks)}.difference(group)
            recess = Recess(group, up, floors, (up,), bridged=tuple(sorted(bridged)))
            found = [recess] if tall else parted(shape, sight, recess, least=1)
            return found if found[0].core else [on_one_floor(shape, sight, recess, walls, met)]
    return []


def _is_seen(shape: PartShape, sight: Sight, side: int, channel: Channel, up: Vec3) -> bool:
    """True when a straight tool sees the side of a foot above its roof, as the wall of what the channel ends in."""
    return sight.sees((side,), up, extent(shape, channel.roofs, up)[1])


def on_one_floor(
    shape: PartShape, sight: Sight, recess: Recess, walls: tuple[int, ...], met: Sequence[Channel]
) -> Recess:
    """A recess as far as its floor is not a channel's, seen from where nothing hides or stands before its walls."""
    tall = {p for c in met if c.span for p in c.sides}
    outline = [r for f in recess.floors for r in shape.patches[f].loops[0]]
    rims = [r for r in outline if r.other not in tall]
    theirs = {r for r in rims if r.other in recess.bridged or any(_bounds(shape, c, r) for c in met)}
    beyond = {r.other for r in theirs} - {r.other for r in rims if r not in theirs}
    bridged = {*recess.bridged, *beyond}.difference(walls)
    feet = [add(_middle(r), add(recess.axis, shape.patches[r.other].normal), OVER) for r in rims if r.other in walls]
    ways = [d for d in directions(shape, sight, walls) if abs(dot(d, recess.axis)) < SQUARE]
    seen = [d for d in ways if sight.sees(walls, d) and not any(crossings(shape, f, d, OVER, math.inf) for f in feet)]
    edges = [(r.points[0], r.points[-1]) for r in rims if r not in theirs and r.curve == "line"]
    for channel in met:
        edges = [left for edge in edges for left in _beside(shape, channel, edge)]
    reach = tuple(p for edge in edges for p in edge)
    behind = tuple((r.other, w) for r in theirs for w in _ends_there(shape, walls, met, r)[:1])
    found = replace(recess, seen=(recess.axis, *seen), core=walls, bridged=tuple(sorted(bridged)), shared=True)
    return replace(found, reach=reach, behind=tuple(sorted(set(behind))))


def _ends_there(shape: PartShape, walls: tuple[int, ...], met: Sequence[Channel], rim: Rim) -> list[int]:
    """The wall at which a channel comes out whose sides go on beyond it, for an edge of the floor in that channel."""
    ours = [c for c in met if c.span and _bounds(shape, c, rim)]
    return [w for c in ours for w in walls if any(w in shape.patches[r].neighbours for r in c.roofs)]


def _middle(rim: Rim) -> Vec3:
    a, b = (rim.points[k] for k in ((len(rim.points) - 1) // 2, len(rim.points) // 2))
    return scale(add(a, b), 0.5)


def _bounds(shape: PartShape, channel: Channel, rim: Rim) -> bool:
    """True for an edge of the floor between the sides of a channel, no farther than those go."""
    spans = _plan(shape, channel)
    return all(low - OVER < dot(p, way) < high + OVER for p in rim.points for way, (low, high) in spans)


def _plan(shape: PartShape, channel: Channel) -> list[tuple[Vec3, tuple[float, float]]]:
    """From where to where a channel goes along its travel, and across it between its sides."""
    ways = (channel.travel, channel.halves[0].inward)
    spans = (channel.span or extent(shape, channel.sides, ways[0]), extent(shape, channel.sides, ways[1]))
    return list(zip(ways, spans, strict=True))


def _beside(shape: PartShape, channel: Channel, edge: Edge) -> list[Edge]:
    """What of a straight edge of the floor lies outside a channel: where two faces end in one plane, edges go on."""
    start, line, low, high = edge[0], sub(edge[1], edge[0]), 0.0, 1.0
    for way, span in _plan(shape, channel):
        at, rise = dot(start, way), dot(line, way)
        if abs(rise) < OVER:
            low, high = (low, high) if span[0] - OVER < at < span[1] + OVER else (1.0, 0.0)
        else:
            ends = sorted((limit - at) / rise for limit in span)
            low, high = max(low, ends[0]), min(high, ends[1])
    if low >= high:
        return [edge]
    size = norm(line)
    left = [(start, add(start, line, low))] if low * size > OVER else []
    return left + ([(add(start, line, high), edge[1])] if (1.0 - high) * size > OVER else [])


def windows_in(shape: PartShape, sight: Sight, group: tuple[int, ...], channels: Sequence[Channel]) -> list[Recess]:
    """What is cut from the side into the feet of channels, level with a floor or roof; none for other groups."""
    theirs = {p for c in channels for p in c.patches}
    parts = components(shape, [p for p in group if p not in theirs])
    found = [_window(shape, sight, part, channels) for part in parts]
    if not all(found):
        return []
    windows = [w for w in found if w]
    return _paired(shape, sight, windows) if all(len(w.patches) - len(w.own) > 1 for w in windows) else windows


def _window(shape: PartShape, sight: Sight, own: tuple[int, ...], channels: Sequence[Channel]) -> Recess | None:
    """What some walls are from outside to the side of a foot, or past it, whose floor and roof are its walls too.

    What is higher than the foot ends there in a floor of its own.
    """
    for channel in channels:
        level = {*channel.floors, *channel.roofs} & {o for p in own for o in joined_to(shape, p)}
        if not level or sight.sees(own, channel.halves[0].up):
            continue
        for half in channel.halves:
            out = sight.known(scale(half.inward, -1.0))
            floors = floors_of(shape, own, out)
            if all(p in floors or is_wall(shape.patches[p], out) for p in own) and sight.sees(own, out):
                ends = dot(shape.patches[half.side].surface.origin, out), math.inf
                return Recess(tuple(sorted({*own, *level})), out, floors, (out,), core=own, own=own, span=ends)
    return None


def _paired(shape: PartShape, sight: Sight, sides: list[Recess]) -> list[Recess]:
    """Windows as high as the foot, of which each wall is a side: with the next that looks back at it.

    A side that none looks back at is the floor of a notch at the end of the channel; none where it is not that.
    """
    found: list[Recess] = []
    waiting = list(sides)
    while waiting:
        first = waiting.pop(0)
        looks = area_vector(shape.patches[p] for p in first.own)
        ahead = [(_gap(shape, first, o, looks), k) for k, o in enumerate(waiting) if dot(o.axis, first.axis) > 0]
        mates = [(gap, k) for gap, k in ahead if gap > 0]
        if not mates:
            notch = _notch(shape, sight, first)
            if notch is None:
                return []
            found.append(notch)
            continue
        mate = waiting.pop(min(mates)[1])
        own, patches = ({*getattr(first, n), *getattr(mate, n)} for n in ("own", "patches"))
        core = tuple(sorted(own))
        found.append(replace(first, patches=tuple(sorted(patches)), core=core, own=core))
    return found


def _notch(shape: PartShape, sight: Sight, side: Recess) -> Recess | None:
    """The slot between the floor and the roof of a channel whose floor is one plane; None for any other."""
    up, floors = shape.patches[side.own[0]].surface.axis, side.own
    walls = tuple(p for p in side.patches if p not in floors)
    plain = shape.patches[floors[0]].surface.kind == "plane" and len(floors) == 1
    if not plain or not sight.sees(floors, up) or not all(is_wall(shape.patches[p], up) for p in walls):
        return None
    ways = sight.distinct((up, *side.seen, *(scale(d, -1.0) for d in side.seen)))
    seen = tuple(d for d in ways if sight.sees(floors, d))
    return Recess(side.patches, seen[0], floors, seen, core=floors, shared=True)


def _gap(shape: PartShape, a: Recess, b: Recess, way: Vec3) -> float:
    """How far one side of a window lies before another that looks back at it; 0 or less for any other."""
    back = dot(area_vector(shape.patches[p] for p in b.own), way) < 0
    return extent(shape, b.own, unit(way))[0] - extent(shape, a.own, unit(way))[1] if back else 0.0
