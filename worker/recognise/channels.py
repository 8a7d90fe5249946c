"""T-slots and dovetails that something else crosses, another of their kind above all: found by the planes they lie on.

Half a profile is the side of the foot with the floor it stands on, and over it the roof and the wall of the neck; a
dovetail's side leans over its floor instead. Two halves that face each other are a channel, in however many pieces.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from schemas.base import Vec3, add, cross, dot, scale, sub, unit
from schemas.tolerances import LEDGE, LIMIT, SQUARE
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recess_size import breaks_edge
from worker.recognise.recesses import hollow, is_wall
from worker.recognise.through_slots import OVER
from worker.recognise.undercuts import DEEP, LEANS


@dataclass(frozen=True)
class _Half:
    """Carriers of a half profile; of a dovetail roof and neck are its side. ``up`` and ``inward`` are unit vectors."""

    floor: int
    side: int
    roof: int
    neck: int
    up: Vec3
    inward: Vec3


@dataclass(frozen=True, eq=False)
class Channel:
    """A whole profile and its patches; floors and roofs may be those of a channel that crosses it as well."""

    halves: tuple[_Half, _Half]
    mouth: float
    sides: tuple[int, ...]
    floors: tuple[int, ...]
    roofs: tuple[int, ...]
    necks: tuple[int, ...]
    ends: tuple[int, ...]
    """Walls that look back along it, at the ends of foot and neck."""
    top: float | None = None
    """Height of the floor that it is cut into beside a wall of its neck that goes on above that; None for any other."""
    span: tuple[float, float] | None = None
    """From where to where it goes along ``travel``, where its walls go on over a floor at another height."""

    @property
    def patches(self) -> tuple[int, ...]:
        """All of it."""
        return tuple(sorted({*self.sides, *self.floors, *self.roofs, *self.necks, *self.ends}))

    @property
    def travel(self) -> Vec3:
        """The direction it runs in."""
        return unit(cross(self.halves[0].up, self.halves[0].inward))

    @property
    def is_dovetail(self) -> bool:
        """True where the sides themselves hang over."""
        return self.halves[0].roof == self.halves[0].side

    @property
    def is_whole(self) -> bool:
        """True where nothing divides any of its walls."""
        return len(self.sides) == 2 and len(self.floors) == 1 and len(self.roofs) < 3 and len(self.necks) == 2


def crossed_channels(shape: PartShape, groups: Sequence[tuple[int, ...]], lone: Collection[int]) -> list[Channel]:
    """The channels among some groups of faces that no group has for itself; ``lone``: other planes, of necks."""
    free = {p for group in groups for p in group}.union(lone)
    halves = sorted({h for p in sorted(free) for h in _halves(shape, p, free)}, key=lambda h: (h.floor, h.side, h.neck))
    found = [c for pair in _pairs(shape, halves) for c in _channels(shape, pair, free)]
    long = [c for c in found if _is_long(shape, c)]
    found = [c for c in found if c in long or any({*c.floors, *c.roofs} & {*o.floors, *o.roofs} for o in long)]
    found = [c for c in found if not c.is_dovetail or _is_sunk(shape, c) or _meets(c, found)]
    found = [c for c in found if not any(_opens_into(shape, c, o) for o in found) and _is_under(shape, c)]
    return [_on_own_floor(shape, c, found) for c in found if not _is_plain(shape, c, groups, lone)]


def _on_own_floor(shape: PartShape, channel: Channel, others: Sequence[Channel]) -> Channel:
    """A channel as far as its floor goes, where one with another floor has walls in common with it."""
    shared = any(set(o.sides) & set(channel.sides) and not set(o.floors) & set(channel.floors) for o in others)
    if not shared:
        return channel
    (a, b), (low, high) = extent(shape, channel.floors, channel.travel), length_of(shape, channel)
    return replace(channel, span=(max(a, low), min(b, high)))


def _meets(channel: Channel, others: Sequence[Channel]) -> bool:
    """True where another channel has the same floor."""
    return any(set(channel.floors) & set(o.floors) for o in others if o is not channel)


def _opens_into(shape: PartShape, channel: Channel, other: Channel) -> bool:
    """True for what is only a pocket, seen from the side of a longer channel that crosses it: its mouth is that one."""
    aside = abs(dot(channel.travel, other.travel)) < SQUARE and _length(shape, other) > _length(shape, channel)
    within = set(other.sides) <= set(channel.ends)
    return aside and (within or bool({*other.sides, *other.necks} & set(channel.necks)))


def _is_under(shape: PartShape, channel: Channel) -> bool:
    """True for a floor that lies under the roof somewhere, and not beside it."""
    spans = [extent(shape, own, channel.travel) for own in (channel.floors, channel.roofs or channel.floors)]
    return min(s[1] for s in spans) > max(s[0] for s in spans) + OVER


def _is_sunk(shape: PartShape, channel: Channel) -> bool:
    """True for pieces that all end in planes level with the floor at their mouth, or beside one as high as that.

    Else it is a three-cornered passage, cut open: what cuts that open stands upright, or slants, beside its sides.
    """
    up = channel.halves[0].up
    level = [_meets_level(shape, shape.patches[p], up) for p in channel.sides]
    tops = [extent(shape, (p,), up)[1] for p in channel.sides]
    return all(level) or (any(level) and max(tops) - min(tops) < OVER)


def _meets_level(shape: PartShape, side: Patch, up: Vec3) -> bool:
    """True for a side whose upper edge is that of a plane that looks up, or of what breaks the edge between them."""
    top = extent(shape, (side.index,), up)[1]
    upper = [r for r in side.rims if r.convexity != "concave" and min(dot(p, up) for p in r.points) > top - OVER]
    return any(_looks(shape.patches[r.other], up) or breaks_edge(shape, r, up) for r in upper)


def _is_plain(shape: PartShape, channel: Channel, groups: Sequence[tuple[int, ...]], lone: Collection[int]) -> bool:
    """True where nothing meets a channel: its foot is a group for itself that opens outside and has an open end."""
    foot = next(set(group) for group in groups if channel.sides[0] in group)
    if channel.span or not channel.is_whole or not foot <= set(channel.patches) or _is_uneven(shape, channel):
        return False
    ways = (channel.travel, scale(channel.travel, -1.0))
    blind = not any(end_on(shape, channel, way) == "open" for way in ways)
    beyond = {r.other for p in channel.necks for r in shape.patches[p].rims if r.convexity == "convex"}
    outside = not beyond & ({p for group in groups for p in group}.difference(lone) - set(channel.patches))
    return not foot & set(channel.necks) or (outside and not blind)


def _is_uneven(shape: PartShape, channel: Channel) -> bool:
    """True where one wall of the neck goes on above the other."""
    tops = [extent(shape, (p,), channel.halves[0].up)[1] for p in channel.necks]
    return not channel.is_dovetail and max(tops) - min(tops) > LEDGE


def _length(shape: PartShape, channel: Channel) -> float:
    low, high = channel.span or extent(shape, channel.sides, channel.travel)
    return high - low


def _is_long(shape: PartShape, channel: Channel) -> bool:
    """True for what runs on for more than a few times its mouth, and its foot's narrower side.

    A deep pocket with a narrow slot through its end wall is no T-slot along the pocket's depth: its foot is the pocket.
    """
    section = (channel.halves[0].up, channel.halves[0].inward)
    foot = min(high - low for low, high in (extent(shape, channel.sides, way) for way in section))
    return _length(shape, channel) > DEEP * max(channel.mouth, foot) + LIMIT


def _halves(shape: PartShape, index: int, free: Collection[int]) -> list[_Half]:
    """The half profiles of which a plane is the side."""
    side = shape.patches[index]
    if side.surface.kind != "plane":
        return []
    found: list[_Half] = []
    over: dict[Vec3, list[tuple[int, int]]] = {}  # a floor with a thousand posts is the side of each post's walls
    for floor in (shape.patches[p] for p in side.concave if p in free and shape.patches[p].surface.kind == "plane"):
        up, lean = floor.surface.axis, dot(side.surface.axis, floor.surface.axis)
        if LEANS < -lean < 1 - SQUARE and _stands(shape, side, up, floor):
            found.append(_half(shape, floor.index, index, index, index))
        elif abs(lean) < SQUARE:
            over[up] = over[up] if up in over else _over(shape, side, up, free)
            above = [pair for pair in over[up] if _ahead(floor, shape.patches[pair[0]]) > OVER]
            found += [_half(shape, floor.index, index, *pair) for pair in above]
    return found


def _half(shape: PartShape, floor: int, side: int, roof: int, neck: int) -> _Half:
    """A half by its carriers, with the directions of their first patches: equal for all pieces."""
    floor, side, roof, neck = (shape.carriers[p] for p in (floor, side, roof, neck))
    up, across = shape.patches[floor].surface.axis, shape.patches[side].surface.axis
    return _Half(floor, side, roof, neck, up, unit(add(across, up, -dot(across, up))))


def _over(shape: PartShape, side: Patch, up: Vec3, free: Collection[int]) -> list[tuple[int, int]]:
    """The lowest roofs that a side meets, each with a neck's wall that stands on its edge, further in."""
    down = scale(up, -1.0)
    roofs = [shape.patches[p] for p in side.concave if p in free and _looks(shape.patches[p], down)]
    roofs = sorted(roofs, key=lambda r: (round(dot(r.surface.origin, up), 3), r.index))
    if not roofs:
        return []
    low = [r for r in roofs if dot(r.surface.origin, up) < dot(roofs[0].surface.origin, up) + OVER]
    high = [{shape.carriers[n] for n in r.convex} for r in roofs if r not in low]
    return [
        (roof.index, n)
        for roof in low
        for n in roof.convex
        if n in free and _looks(shape.patches[n], side.surface.axis) and _ahead(side, shape.patches[n]) > OVER
        if _stands(shape, shape.patches[n], up, roof) and all(shape.carriers[n] in others for others in high)
    ]


def _stands(shape: PartShape, wall: Patch, up: Vec3, level: Patch) -> bool:
    """True for a wall that lies over the level of a plane, but for nothing."""
    return extent(shape, (wall.index,), up)[0] > dot(level.surface.origin, up) - OVER


def _looks(patch: Patch, way: Vec3) -> bool:
    return patch.surface.kind == "plane" and dot(patch.surface.axis, way) > 1 - SQUARE**2


def _ahead(a: Patch, b: Patch) -> float:
    return dot(sub(b.surface.origin, a.surface.origin), a.surface.axis)


def _pairs(shape: PartShape, halves: list[_Half]) -> list[tuple[_Half, _Half]]:
    """Halves that face each other over the same floor, under the same roof, each the other's nearest.

    Else it is the end wall of a pocket, which cut away some of a roof, that looks like a neck.
    """
    nearest: dict[_Half, _Half] = {}
    beside = _by_level(halves)
    for half in halves:
        others = beside.get(_level(half), ())
        mates = [
            (w, _is_over_roof(shape, o), -_beside(shape, half, o), o.side, o.neck, o)
            for o in others
            if (w := _mouth(shape, half, o)) > 0
        ]
        if mates:
            nearest[half] = min(mates, key=lambda m: m[:5])[5]
    return [(half, mate) for half, mate in nearest.items() if nearest.get(mate) == half and half.side < mate.side]


def _level(half: _Half) -> tuple[int, int | None]:
    """The floor of a half and its roof, if that is not its own side."""
    return half.floor, half.roof if half.roof != half.side else None


def _by_level(halves: Sequence[_Half]) -> dict[tuple[int, int | None], list[_Half]]:
    """The halves that may belong to another one, by that one's floor and roof."""
    found: dict[tuple[int, int | None], list[_Half]] = {}
    for half in halves:
        for level in dict.fromkeys(((half.floor, half.roof), _level(half))):
            found.setdefault(level, []).append(half)
    return found


def _mouth(shape: PartShape, a: _Half, b: _Half) -> float:
    """Width of the mouth between two halves (mm); 0 or less where they do not belong together."""
    roofed = a.roof == b.roof if a.roof != a.side else b.roof == b.side
    if a.floor != b.floor or not roofed or dot(a.inward, b.inward) > -1 + SQUARE**2:
        return 0.0
    return extent(shape, _on(shape, b.neck), a.inward)[0] - extent(shape, _on(shape, a.neck), a.inward)[1]


def _is_over_roof(shape: PartShape, half: _Half) -> bool:
    """True for a side that goes on above its roof: as the wall of what the channel ends in, if it is a side at all."""
    low = dot(shape.patches[half.roof].surface.origin, half.up)
    return half.roof != half.side and extent(shape, (half.side,), half.up)[1] > low + OVER


def _beside(shape: PartShape, a: _Half, b: _Half) -> float:
    """Along how much of their travel the sides of two halves face each other (mm), to the micrometre."""
    way = cross(a.up, a.inward)
    ours, theirs = ([extent(shape, (p,), way) for p in _on(shape, half.side)] for half in (a, b))
    return round(sum(max(min(p[1], q[1]) - max(p[0], q[0]), 0.0) for p in ours for q in theirs), 3)


def _on(shape: PartShape, carrier: int) -> tuple[int, ...]:
    return shape.of_carrier[carrier]


def _channels(shape: PartShape, pair: tuple[_Half, _Half], free: Collection[int]) -> list[Channel]:
    """The channels on two halves: one for each stretch between whose pieces there is nothing but air."""
    travel = unit(cross(pair[0].up, pair[0].inward))
    sides = [p for carrier in sorted({half.side for half in pair}) for p in _on(shape, carrier) if p in free]
    sides = [p for p in sides if not _is_over(shape, p, pair[0])]
    pieces = sorted((extent(shape, (p,), travel), p) for p in sides)
    runs: list[list[int]] = []
    floor, end = shape.patches[pair[0].floor], 0.0
    for (low, high), piece in pieces:
        if runs and (low < end + OVER or _is_air(shape, pair, floor, travel, (end, low))):
            runs[-1].append(piece)
        else:
            runs.append([piece])
        end = max(end, high) if len(runs[-1]) > 1 else high
    return [c for run in runs if (c := _channel(shape, pair, run, free))]


def _as_far_as_roofed(shape: PartShape, channel: Channel) -> Channel:
    """A channel whose sides go on as the walls of what it ends in, without that."""
    low, high = span = extent(shape, channel.roofs, channel.travel)
    reach = {p: extent(shape, (p,), channel.travel) for p in channel.ends}
    return replace(
        channel, span=span, ends=tuple(p for p, (a, b) in reach.items() if b > low - OVER and a < high + OVER)
    )


def is_tall(shape: PartShape, channel: Channel, side: int) -> bool:
    """True for the side of a foot that goes on above its roof, as the wall of what it ends in."""
    up, top = channel.halves[0].up, extent(shape, (side,), channel.halves[0].up)[1]
    return bool(channel.roofs) and top > extent(shape, channel.roofs, up)[1] + OVER


def _is_over(shape: PartShape, piece: int, half: _Half) -> bool:
    """True for a wall in the plane of a foot's side that lies over its roof."""
    low, roof = extent(shape, (piece,), half.up)[0], shape.patches[half.roof].surface
    return half.roof != half.side and low > dot(roof.origin, half.up) + OVER


def _is_air(shape: PartShape, pair: tuple[_Half, _Half], level: Patch, travel: Vec3, span: tuple[float, float]) -> bool:
    """True when nothing stands in the middle of a channel, just over a level of it, along a stretch."""
    up, across = pair[0].up, pair[0].inward
    ends = [extent(shape, _on(shape, half.neck), across) for half in pair]
    place = add(scale(across, (ends[0][1] + ends[1][0]) / 2), travel, span[0])
    place = add(place, up, dot(level.surface.origin, up) + OVER)
    return not crossings(shape, place, travel, OVER, span[1] - span[0] - OVER)


def _channel(shape: PartShape, pair: tuple[_Half, _Half], run: list[int], free: Collection[int]) -> Channel | None:
    """The channel of some sides' pieces; None for one without pieces on both sides."""
    if len({shape.carriers[p] for p in run}) < 2 or not any(_faces(shape, pair, p) for p in run):
        return None
    beside = {o for p in run for o in shape.patches[p].concave if o in free}
    floors = {o for o in beside if shape.carriers[o] == pair[0].floor}
    roofed = pair[0].roof != pair[0].side
    roofs = {o for o in beside if roofed and _looks(shape.patches[o], scale(pair[0].up, -1.0))}
    over = {o for p in roofs for o in shape.patches[p].neighbours if o in free}
    necks = {o for o in over if shape.carriers[o] in {half.neck for half in pair}} or set(run)
    sets = [tuple(sorted(s)) for s in (run, floors, roofs, necks)]
    found = Channel(pair, _mouth(shape, *pair), sets[0], sets[1], sets[2], sets[3], ())
    found = replace(found, ends=tuple(sorted(_ends(shape, found, free))))
    if any(is_tall(shape, found, p) for p in found.sides):
        found = _as_far_as_roofed(shape, found)
    return found if _is_open_above(shape, found) else None


def _faces(shape: PartShape, pair: tuple[_Half, _Half], piece: int) -> bool:
    """True when nothing stands between a piece of one side and the other side."""
    one, other = pair if shape.carriers[piece] == pair[0].side else pair[::-1]
    start, far = shape.patches[piece].point, shape.patches[other.side].surface
    gap = dot(sub(far.origin, start), far.axis) / dot(one.inward, far.axis)
    return not crossings(shape, start, one.inward, OVER, gap - OVER)


def _is_open_above(shape: PartShape, channel: Channel) -> bool:
    """True for a neck all along the foot; one that stops where the foot runs on, or with metal in it, is a window."""
    ways = (channel.travel, scale(channel.travel, -1.0))
    low, high = channel.span or extent(shape, channel.sides, channel.travel)
    over = [r - extent(shape, channel.necks, way)[1] for r, way in zip((high, -low), ways, strict=True)]
    most = [OVER if not channel.span and end_on(shape, channel, way) == "open" else channel.mouth for way in ways]
    roof = shape.patches[channel.roofs[0]] if channel.roofs else None
    span = extent(shape, channel.necks, channel.travel)
    along = all(o < m for o, m in zip(over, most, strict=True))
    return along and (not roof or _is_air(shape, channel.halves, roof, channel.travel, span))


def _ends(shape: PartShape, channel: Channel, free: Collection[int]) -> set[int]:
    """Walls that close a channel: flat ones that its sides and necks meet, round ones that those run into."""
    up, travel = channel.halves[0].up, channel.travel
    walls = [shape.patches[p] for p in (*channel.sides, *channel.necks)]
    flat = {o for w in walls for o in w.concave if abs(dot(shape.patches[o].surface.axis, travel)) > 1 - SQUARE**2}
    round_ = {o for w in walls for o in w.smooth if hollow(shape.patches[o])}
    cones = {o for o in round_ if shape.patches[o].surface.kind == "cone"}
    found = {o for o in flat | round_ if o in free and (o in cones or is_wall(shape.patches[o], up))}
    return {o for o in found if not channel.roofs or _is_end(shape, channel, o)}


def _is_end(shape: PartShape, channel: Channel, wall: int) -> bool:
    """True for a wall that reaches below the roof, or stands on it and closes the neck."""
    up, patch = channel.halves[0].up, shape.patches[wall]
    below = extent(shape, (wall,), up)[0] < extent(shape, channel.roofs, up)[1] - OVER
    return below or bool({*patch.concave, *patch.smooth} & set(channel.necks))


def length_of(shape: PartShape, channel: Channel) -> tuple[float, float]:
    """From where to where a channel goes along its travel (mm)."""
    return channel.span or extent(shape, (*channel.sides, *channel.ends), channel.travel)


def end_on(shape: PartShape, channel: Channel, way: Vec3) -> str:
    """How a channel ends on one way."""
    spans = length_of(shape, channel)
    reach = spans[1] if dot(way, channel.travel) > 0 else -spans[0]
    there = [shape.patches[o] for o in channel.ends if abs(extent(shape, (o,), way)[1] - reach) < OVER]
    if any(hollow(patch) for patch in there):
        return "radiused"
    return "flat" if any(_looks(patch, scale(way, -1.0)) for patch in there) else "open"
