"""Recesses that something else cut in two: pieces with the same floor and walls, and nothing but air between."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import LIMIT, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.access import Sight
from worker.recognise.extent import extent, level_direction
from worker.recognise.grooves import beside_crossing, one_groove
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, hollow, is_wall, long_direction, runs_into
from worker.recognise.through_slots import FAR, OVER, beside_gap, one_slot

END, CHEEKS = -1, -2
"""Stand for the wall of a key where a slot may go on in its round end, which has no wall in common with it."""


@dataclass(eq=False)
class _Piece:
    """A recess with what is asked of it again and again."""

    shape: PartShape
    recess: Recess
    ends_on: set[int] = field(default_factory=set)
    """Carriers of floors on which it, or what it was put together from, is a round end or has cheeks."""

    @cached_property
    def on_floor(self) -> set[tuple[int, int]]:
        """Carriers of its floor and each wall, where it is open somewhere."""
        return _on_floor(self.shape, self.recess)

    @cached_property
    def is_end(self) -> bool:
        """True for a floor whose one or two hollow round walls may run into another piece's cheeks."""
        return _is_end(self.shape, self.recess)

    @cached_property
    def cheeks(self) -> list[tuple[int, int]]:
        """Pairs of its flat walls that face each other."""
        return _cheeks(self.shape, self.recess)

    @cached_property
    def middle(self) -> Vec3:
        """The middle of its floors, a little above them."""
        return _middle(self.shape, self.recess)


def joined(shape: PartShape, sight: Sight, recesses: list[Recess]) -> list[Recess]:
    """The recesses, with pieces of one slot, step or passage put together.

    Pieces in two rows, between cuts that cross, make rows first: so all is tried again until nothing fits any more.
    """
    while True:
        found = _put_together(shape, sight, recesses)
        if len(found) == len(recesses):
            return found
        recesses = found


def _put_together(shape: PartShape, sight: Sight, recesses: list[Recess]) -> list[Recess]:
    found: list[_Piece] = []
    by_walls: dict[tuple[int, int], set[int]] = {}
    for recess in sorted(recesses, key=lambda r: _order(shape, r)):
        piece = _Piece(shape, recess)
        keys, on = _keys(piece), {floor for floor, _ in piece.on_floor if piece.is_end or piece.cheeks}
        kind, fitting = (END, CHEEKS) if piece.is_end else (CHEEKS, END)
        near = sorted({i for key in (*keys, *((o, fitting) for o in on)) for i in by_walls.get(key, ())})
        home = next((i for i in near if _one_recess(found[i], piece)), None)
        kinds = (kind,) if home is None else (END, CHEEKS)
        if home is None:
            home = len(found)
            found.append(piece)
        else:
            on |= found[home].ends_on
            found[home] = _Piece(shape, _together(sight, found[home], piece))
        found[home].ends_on = on
        kept = (key for key in keys if key[0] != key[1] or not found[home].recess.floors)
        for key in (*kept, *((o, k) for o in on for k in kinds)):
            by_walls.setdefault(key, set()).add(home)
    return [piece.recess for piece in found]


def _order(shape: PartShape, recess: Recess) -> tuple[float, ...]:
    """Passages with most walls first, and the larger ones: the order of faces decides nothing that they do."""
    size = round(sum(shape.patches[p].area for p in recess.patches), 1)
    return (0, 0) if recess.floors else (-len(_carriers(shape, recess)), -size)


def _keys(piece: _Piece) -> set[tuple[int, int]]:
    """Carriers of floor and wall, and of walls alone: pieces of one recess have such a pair in common.

    With walls alone only passages are kept: those come first, and pieces with floors have the floor in common.
    """
    upright = set() if piece.recess.shared else {(c, c) for c in _walls(piece.shape, piece.recess)}
    return upright | piece.on_floor


def _on_floor(shape: PartShape, recess: Recess) -> set[tuple[int, int]]:
    """Carriers of the floor and each wall of a recess that is open somewhere."""
    if not recess.floors or recess.shared or not any(_is_open(shape, recess, f) for f in recess.floors):
        return set()
    floor = shape.carriers[recess.floors[0]]
    return {(floor, w) for w in _walls(shape, recess)}


def _is_open(shape: PartShape, recess: Recess, floor: int) -> bool:
    """True when the floor runs out somewhere; a recess walled all round has no other piece."""
    outline = shape.patches[floor].loops[0]
    return any(r.convexity == "convex" and r.other not in recess.patches for r in outline)


def _carriers(shape: PartShape, recess: Recess) -> set[int]:
    return {shape.carriers[p] for p in recess.patches}


def _walls(shape: PartShape, recess: Recess) -> set[int]:
    return _carriers(shape, recess) - {shape.carriers[f] for f in recess.floors}


def _one_passage(shape: PartShape, a: Recess, b: Recess) -> bool:
    """True when the walls of one piece continue those of the other, whatever crosses the passage between them.

    The other may have a floor: then it is the bottom of a pocket that something crosses above it.
    """
    if a.floors or norm(cross(a.axis, b.axis)) > SQUARE or _are_far(shape, a, b):
        return False
    if not b.floors and one_groove(shape, a, b):
        return True
    if not _walls(shape, b) <= _carriers(shape, a):
        return not b.floors and one_slot(shape, a, b)
    if b.floors and (not _is_below(shape, b, a) or len(_walls(shape, b)) < 3):
        return False
    if not all(is_wall(shape.patches[p], a.axis) for p in a.patches):
        return False
    place: Vec3 = (0.0, 0.0, 0.0)
    x = long_direction(shape, a)
    for axis in (x, cross(a.axis, x), a.axis):
        place = add(place, axis, sum(extent(shape, a.own or a.patches, axis)) / 2)
    gap = sum(extent(shape, b.own or b.patches, a.axis)) / 2 - dot(place, a.axis)
    line = scale(a.axis, 1.0 if gap > 0 else -1.0)
    return not crossings(shape, place, line, 0.0, abs(gap))


def _are_far(shape: PartShape, a: Recess, b: Recess) -> bool:
    """True for windows far behind each other (see ``FAR``); the bottom of a pocket is never far."""
    if a.floors or b.floors:
        return False
    spans = sorted(extent(shape, r.own or r.patches, a.axis) for r in (a, b))
    gap = spans[1][0] - spans[0][1]
    x = long_direction(shape, a)
    sizes = [extent(shape, a.own or a.patches, d) for d in (x, cross(a.axis, x))]
    return gap > max(FAR * sum(s[1] - s[0] for s in spans), *(s[1] - s[0] for s in sizes)) + LIMIT


def _is_below(shape: PartShape, b: Recess, a: Recess) -> bool:
    return extent(shape, b.patches, b.axis)[1] < extent(shape, a.patches, b.axis)[1] - OVER


def _one_recess(a: _Piece, b: _Piece) -> bool:
    shape, ours, theirs = a.shape, a.recess, b.recess
    if not ours.floors or not theirs.floors:
        return _one_passage(shape, ours, theirs)
    if dot(ours.axis, theirs.axis) < 1 - SQUARE**2:
        return False
    if _ends_in(a, b) or _ends_in(b, a):
        return _air_between(a, b)
    if a.on_floor.isdisjoint(b.on_floor):
        return False
    line = _way_between(a, b)
    beside = [{shape.carriers[w] for w in _side_walls(shape, r, line)} for r in (ours, theirs)] if line else [set()]
    alike = bool(beside[0]) and beside[0] == beside[1]
    return (alike or _share_walls(shape, ours, theirs)) and (_air_between(a, b) or _air_between_cheeks(a, b))


def _is_end(shape: PartShape, recess: Recess) -> bool:
    """True for a floor with one hollow round wall, what a hole left of a slot's round end, or with rounded corners.

    Corners that run out where the floor does: what a deeper slot left of a pocket beyond it.
    """
    return len(_rounds(shape, recess)) in (1, 2) and not _cheeks(shape, recess)


def _rounds(shape: PartShape, recess: Recess) -> list[Surface]:
    """The hollow round walls of a recess."""
    walls = [shape.patches[p] for p in recess.patches if p not in recess.floors]
    return [p.surface for p in walls if p.surface.kind == "cylinder" and hollow(p) and is_wall(p, recess.axis)]


def _cheeks(shape: PartShape, recess: Recess) -> list[tuple[int, int]]:
    """Pairs of flat walls that face each other."""
    flat = [p for p in recess.patches if p not in recess.floors and shape.patches[p].surface.kind == "plane"]
    return [
        (a, b)
        for a, b in combinations(flat, 2)
        if dot(shape.patches[a].normal, shape.patches[b].normal) < -1 + SQUARE**2
    ]


def _ends_in(slot: _Piece, end: _Piece) -> bool:
    """True for round walls on the floor of a slot or pocket that would run into both of its cheeks smoothly."""
    shape, floors = end.shape, end.recess.floors
    if not end.is_end or shape.carriers[slot.recess.floors[0]] != shape.carriers[floors[0]]:
        return False
    rounds = _rounds(shape, end.recess)
    cheeks = [[shape.patches[c].surface for c in pair] for pair in slot.cheeks]
    return any(all(any(runs_into(r, s) for r in rounds) for s in pair) for pair in cheeks)


def _share_walls(shape: PartShape, a: Recess, b: Recess) -> bool:
    """True when two flat walls of one piece, or all walls of the smaller, go on in the other."""
    ours, theirs = _walls(shape, a), _walls(shape, b)
    both = {shape.carriers[p] for p in a.patches if shape.patches[p].surface.kind == "plane"} & ours & theirs
    return len(both) >= 2 or (bool(both) and both == min(ours, theirs, key=len))


def _side_walls(shape: PartShape, a: Recess, line: Vec3) -> list[int]:
    """The flat walls of a piece that run along the line to another piece."""
    walls = [p for p in a.patches if p not in a.floors and shape.patches[p].surface.kind == "plane"]
    return [
        w for w in walls if is_wall(shape.patches[w], a.axis) and abs(dot(shape.patches[w].surface.axis, line)) < 0.1
    ]


def _way_between(a: _Piece, b: _Piece) -> Vec3 | None:
    """Direction from one floor's middle to the other's; None when they coincide."""
    gap = sub(b.middle, a.middle)
    return unit(gap) if norm(gap) > 1e-6 else None


def _middle(shape: PartShape, recess: Recess) -> Vec3:
    """The middle of a recess' floors, a little above them."""
    place: Vec3 = (0.0, 0.0, 0.0)
    for axis in _own_axes(shape, recess):
        place = add(place, axis, sum(extent(shape, recess.floors, axis)) / 2)
    level = dot(shape.patches[recess.floors[0]].surface.origin, recess.axis)
    return add(place, recess.axis, level + OVER - dot(place, recess.axis))


def _own_axes(shape: PartShape, recess: Recess) -> tuple[Vec3, Vec3, Vec3]:
    """The recess' axis, the way its largest flat wall looks, and square to both: they turn with the part."""
    walls = [p for p in recess.patches if p not in recess.floors and is_wall(shape.patches[p], recess.axis)]
    flat = [p for p in walls if shape.patches[p].surface.kind == "plane"]
    if not flat:
        x = level_direction(shape, recess.patches, recess.axis)
        return x, cross(recess.axis, x), recess.axis
    across = shape.patches[max(flat, key=lambda p: (round(shape.patches[p].area, 3), -p))].surface.axis
    return across, cross(recess.axis, across), recess.axis


def _air_between(a: _Piece, b: _Piece) -> bool:
    start, end = a.middle, b.middle
    line = sub(end, start)
    length = norm(line)
    return length < 1e-6 or not crossings(a.shape, start, scale(line, 1 / length), 0.0, length)


def _air_between_cheeks(a: _Piece, b: _Piece) -> bool:
    """True when nothing stands half-way between two flat walls that face each other and go on from piece to piece."""
    shape, theirs = a.shape, _walls(b.shape, b.recess)
    for pair in a.cheeks:
        if not {shape.carriers[c] for c in pair} <= theirs:
            continue
        near, far = (shape.patches[c].surface for c in pair)
        half = dot(sub(far.origin, near.origin), near.axis) / 2
        start, end = (add(m, near.axis, half - dot(sub(m, near.origin), near.axis)) for m in (a.middle, b.middle))
        line = sub(end, start)
        if norm(line) < OVER or not crossings(shape, start, unit(line), 0.0, norm(line)):
            return True
    return False


def _together(sight: Sight, first: _Piece, second: _Piece) -> Recess:
    shape, a, b = first.shape, first.recess, second.recess
    patches = tuple(sorted({*a.patches, *b.patches}))
    if not a.floors and b.floors:
        return Recess(patches, b.axis, b.floors, (b.axis,) if sight.sees(patches, b.axis) else ())
    if not a.floors:
        ways = sight.distinct((a.axis, scale(a.axis, -1.0), *a.seen, *b.seen))
        own = tuple(sorted({*a.own, *b.own})) if a.own and b.own else ()
        seen = tuple(d for d in ways if sight.sees(own or patches, d))
        beside = beside_crossing(shape, a, b) if one_groove(shape, a, b) else set()
        between = tuple(sorted(beside.union(beside_gap(shape, a, b))))
        return Recess(patches, a.axis, (), seen, core=own, own=own, shared=bool(own), bridged=between)
    line = _way_between(first, second)
    bridged = {*a.bridged, *b.bridged}
    for recess, way in ((a, 1.0), (b, -1.0)):
        for floor in recess.floors:
            for other in shape.patches[floor].neighbours:
                surface = shape.patches[other].surface
                if line and other not in patches and surface.kind == "plane" and way * dot(surface.axis, line) > 0.1:
                    bridged.add(other)
                if other not in patches and surface.kind == "cylinder" and surface.hollow:
                    bridged.add(other)
    seen = tuple(d for d in sight.distinct([*a.seen, *b.seen]) if sight.sees(patches, d))
    floors = tuple(sorted({*a.floors, *b.floors}))
    return Recess(patches, a.axis, floors, seen, bridged=tuple(sorted(bridged)))
