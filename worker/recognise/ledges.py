"""Wide slots in whose floor a narrower one runs from end to end: what is left of the floor is a ledge on both sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from schemas.base import Vec3, add, cross, dot, scale, unit
from schemas.tolerances import SQUARE
from worker.kernel import linked
from worker.recognise.access import Sight
from worker.recognise.bands import parted
from worker.recognise.extent import extent
from worker.recognise.flush import ground_level
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, hollow, is_wall
from worker.recognise.through_slots import OVER

SHARES = (0.1, 0.5, 0.9)
"""At these parts of the ledges' length nothing may stand between their walls, nor between their edges below them."""
BESIDE = 0.5
"""Ledges are of one slot when they lie beside each other for this part of the longer one.

Ours: the ends of a slot may slant, or run out of a round part; steps that happen to be equally high lie elsewhere."""
CORNERS = 4
"""So many pieces are left of the floor where two slots cross over two narrower ones."""


@dataclass(frozen=True, eq=False)
class _Ledge:
    """A floor with one flat wall. ``way``: from that over the floor, which lies from ``low`` to ``high`` along it."""

    recess: Recess
    wall: int
    way: Vec3
    low: float
    high: float
    lips: tuple[int, ...]
    """What begins at the edge."""


def with_wide_slots(shape: PartShape, sight: Sight, recesses: Sequence[Recess]) -> list[Recess]:
    """The recesses, with the ledges on both sides of a narrower slot or undercut put together to one slot."""
    levels: dict[int, list[_Ledge]] = {}
    for recess in recesses:
        if ledge := _ledge(shape, sight, recess):
            levels.setdefault(shape.carriers[recess.floors[0]], []).append(ledge)
    pairs = [pair for level in levels.values() for pair in _pairs(shape, level)]
    wide = {id(a.recess): _together(sight, a, b) for a, b in pairs}
    gone = {id(b.recess) for _, b in pairs}
    return _with_crossed(shape, sight, [wide.get(id(r), r) for r in recesses if id(r) not in gone])


def _with_crossed(shape: PartShape, sight: Sight, recesses: list[Recess]) -> list[Recess]:
    """The recesses, with what wide slots that cross leave at the corners of narrower ones that do, as those slots."""
    levels: dict[int, list[int]] = {}
    for number, recess in enumerate(recesses):
        if _is_plain(shape, recess):
            levels.setdefault(shape.carriers[recess.floors[0]], []).append(number)
    found = list(recesses)
    for level in (numbers for numbers in levels.values() if len(numbers) >= CORNERS):
        walls = [{shape.carriers[p] for p in recesses[n].patches if p not in recesses[n].floors} for n in level]
        first: dict[int, int] = {}
        near = [(first.setdefault(wall, i), i) for i, own in enumerate(walls) for wall in sorted(own)]
        for group in linked.groups(len(level), near):
            corners = [recesses[level[i]] for i in group]
            slots = _slots_of(shape, sight, corners) if len(corners) >= CORNERS else []
            found = [r for r in found if r not in corners] + slots if slots else found
    return found


def _is_plain(shape: PartShape, recess: Recess) -> bool:
    """True for floors on one plane with upright walls, maybe rounded at their foot."""
    one = len({shape.carriers[f] for f in recess.floors}) == 1 and not recess.core and not recess.shared
    rest = [shape.patches[p] for p in recess.patches if p not in recess.floors]
    return one and all(is_wall(p, recess.axis) or hollow(p) for p in rest)


def _slots_of(shape: PartShape, sight: Sight, corners: Sequence[Recess]) -> list[Recess]:
    """The slots that cross, of whose floor some corners are left; none where these are something else."""
    axis = corners[0].axis
    patches = tuple(sorted(p for r in corners for p in r.patches))
    floors = tuple(sorted(f for r in corners for f in r.floors))
    edges = [r for f in floors for r in shape.patches[f].loops[0] if r.convexity != "concave"]
    lips = tuple(sorted({r.other for r in edges} - sight.outer - set(patches)))
    seen = tuple(d for d in (axis,) if sight.sees(patches, d))
    slots = parted(shape, sight, Recess(patches, axis, floors, seen, bridged=lips)) if lips and seen else []
    return slots if len(slots) > 1 else []


def _ledge(shape: PartShape, sight: Sight, recess: Recess) -> _Ledge | None:
    """The ledge that a recess is: one flat wall, maybe rounded at its foot, and an edge along it inside the part."""
    if not recess.floors or recess.core or recess.shared or len({shape.carriers[f] for f in recess.floors}) > 1:
        return None
    rest = [shape.patches[p] for p in recess.patches if p not in recess.floors]
    walls = [p for p in rest if is_wall(p, recess.axis) and p.surface.kind == "plane"]
    if len({shape.carriers[p.index] for p in walls}) != 1 or not all(hollow(p) for p in rest if p not in walls):
        return None
    way = walls[0].surface.axis
    low, high = extent(shape, recess.floors, way)
    rims = [r for f in recess.floors for r in shape.patches[f].loops[0] if r.convexity != "concave"]
    lips = {r.other for r in rims if min(dot(p, way) for p in r.points) > high - OVER}.difference(recess.patches)
    inside = lips and not lips & sight.outer
    return _Ledge(recess, walls[0].index, way, low, high, tuple(sorted(lips))) if inside else None


def _pairs(shape: PartShape, level: list[_Ledge]) -> list[tuple[_Ledge, _Ledge]]:
    """The ledges on one level that belong together, each with the nearest that does."""
    found: list[tuple[_Ledge, _Ledge]] = []
    taken: set[int] = set()
    for a in level:
        facing = (b for b in level if dot(a.way, b.way) < -1 + SQUARE**2)
        others = (b for b in facing if b.wall not in taken and a.high < -b.high)
        mates = sorted(others, key=lambda b: (-b.low, b.wall))
        mate = next((b for b in mates if _is_one_slot(shape, a, b)), None) if a.wall not in taken else None
        if mate:
            found.append((a, mate))
            taken.update((a.wall, mate.wall))
    return found


def _is_one_slot(shape: PartShape, a: _Ledge, b: _Ledge) -> bool:
    """True when walls face each other over two ledges, and under their level there is a gap between the edges."""
    along = unit(cross(a.recess.axis, a.way))
    spans = [extent(shape, ledge.recess.floors, along) for ledge in (a, b)]
    start, end = max(s[0] for s in spans), min(s[1] for s in spans)
    if end - start < BESIDE * max(s[1] - s[0] for s in spans):
        return False
    level = ground_level(shape, a.recess)
    free = ((a.low, -b.low, level + OVER), (a.high, -b.high, level - OVER))
    feet = [scale(along, start + share * (end - start)) for share in SHARES]
    return not any(
        crossings(shape, add(add(foot, a.recess.axis, height), a.way, near), a.way, 2 * OVER, far - near - 2 * OVER)
        for near, far, height in free
        for foot in feet
    )


def _together(sight: Sight, a: _Ledge, b: _Ledge) -> Recess:
    """The slot of two ledges; what begins at their edges bounds nothing but the gap in its floor."""
    patches = tuple(sorted({*a.recess.patches, *b.recess.patches}))
    seen = tuple(d for d in sight.distinct([*a.recess.seen, *b.recess.seen]) if sight.sees(patches, d))
    floors = tuple(sorted({*a.recess.floors, *b.recess.floors}))
    bridged = tuple(sorted({*a.recess.bridged, *b.recess.bridged, *a.lips, *b.lips}))
    return Recess(patches, a.recess.axis, floors, seen, bridged=bridged)
