"""Pockets that open to a slot as deep along its side: the slot's other wall stands there, its own goes on past both
ends of the opening."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

from schemas.base import Vec3, cross, dot, sub, unit
from schemas.tolerances import LIMIT, SAME_LENGTH, SQUARE
from worker.recognise.access import Sight
from worker.recognise.bands import (
    LONG,
    Band,
    band_on_floor,
    bands_of,
    face,
    going_on,
    look_inwards,
    parted,
    with_fillets,
)
from worker.recognise.extent import extent
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, components, hollow, is_wall

DEEP = 1.0
"""A bay goes back from a slot's wall by so many times the slot's width at least, and is ``LONG`` times as long.

Ours: a bay that the slot's own cutter clears as it passes is a wide place of the slot; an arm no wider than twice the
slot is a branch of its path."""


def parted_at_one_depth(shape: PartShape, sight: Sight, recess: Recess) -> list[Recess]:
    """What crosses in a recess with floors on one plane, else a slot and the pockets along its sides; else itself."""
    found = parted(shape, sight, recess)
    found = found if len(found) > 1 else _with_branches(shape, sight, recess)
    return found if len(found) > 1 else with_side_bays(shape, sight, recess)


def _with_branches(shape: PartShape, sight: Sight, recess: Recess) -> list[Recess]:
    """Slots that cross and what branches off them, slots that end in another's wall; itself where it is anything else.

    Of one slot and its branch one path of one cutter makes both.
    """
    walls = tuple(p for p in recess.patches if is_wall(shape.patches[p], recess.axis))
    fillets = [p for p in recess.patches if p not in walls and p not in recess.floors]
    level = len({shape.carriers[f] for f in recess.floors}) == 1
    if not level or recess.shared or recess.core or not all(hollow(shape.patches[f]) for f in fillets):
        return [recess]
    branches = _branches(shape, recess, walls)
    taken = {w for part in branches for w in part}
    own = replace(recess, patches=tuple(p for p in recess.patches if p not in taken))
    crossed = bands_of(shape, own, tuple(w for w in walls if w not in taken), 2) if branches else []
    bands = [with_fillets(shape, band, fillets) for band in crossed]
    others = {shape.carriers[c]: band.cheeks[1 - k] for band in bands for k, c in enumerate(band.cheeks)}
    ends = [with_fillets(shape, Band(part, part), fillets) for part in branches]
    whole = {p for band in (*bands, *ends) for p in band.walls} == {*walls, *fillets}
    if not bands or not whole or not others.keys() >= set(branches.values()):
        return [recess]
    if any(_is_split(shape, recess, walls, band) for band in (*bands, *ends)):
        return [recess]
    far = [others[side] for side in branches.values()]
    slots = [band_on_floor(shape, sight, recess, band) for band in bands]
    return slots + [_branch(shape, sight, recess, end, other) for end, other in zip(ends, far, strict=True)]


def _is_split(shape: PartShape, recess: Recess, walls: tuple[int, ...], band: Band) -> bool:
    """Whether another wall lies between two of a band that face each other, as where a path winds to and fro."""
    for a, b in permutations(band.walls, 2):
        if face(shape, a, b):
            along = cross(recess.axis, shape.patches[a].surface.axis)
            between = (w for w in walls if w not in band.walls and face(shape, a, w))
            if any(_overlap(shape, (a, b, w), along) and _behind(shape, a, w) < _behind(shape, a, b) for w in between):
                return True
    return False


def _overlap(shape: PartShape, walls: tuple[int, ...], along: Vec3) -> bool:
    """Whether there is a stretch of a line that all of some walls stand along."""
    spans = [extent(shape, (w,), along) for w in walls]
    return min(high for _, high in spans) - max(low for low, _ in spans) > LIMIT


def _branches(shape: PartShape, recess: Recess, walls: tuple[int, ...]) -> dict[tuple[int, ...], int]:
    """Walls that lead from another's flat wall and back to it, or in pairs from it out of the part, each with the
    carrier of that; those that go on beyond what they end in are none."""
    lone = [sides[0] for sides in going_on(shape, components(shape, walls), recess.axis) if len(sides) == 1]
    found = {part: side for part in lone if (side := _mouth(shape, part, walls)) is not None}
    ends = {part[0]: side for part in lone if len(part) == 1 and (side := _root(shape, part[0], walls)) is not None}
    facing = [
        (_behind(shape, a, b), a, b) for a, b in permutations(ends, 2) if face(shape, a, b) and ends[a] == ends[b]
    ]
    for _, a, b in sorted(facing):
        if a in ends and b in ends:
            found[a, b] = ends.pop(a)
            del ends[b]
    return found


def _root(shape: PartShape, wall: int, walls: tuple[int, ...]) -> int | None:
    """The carrier of the one flat wall that another one ends at; None for none."""
    others = [o for o in shape.patches[wall].convex if o in walls]
    flat = len(others) == 1 and shape.patches[others[0]].surface.kind == "plane"
    return shape.carriers[others[0]] if flat else None


def _branch(shape: PartShape, sight: Sight, recess: Recess, branch: Band, far: int) -> Recess:
    """A branch with the floor: closed at its end, or out of the part there too."""
    if len(branch.cheeks) > 2:
        return _bay(shape, recess, branch.walls, far)
    return band_on_floor(shape, sight, recess, branch)


def with_side_bays(shape: PartShape, sight: Sight, recess: Recess) -> list[Recess]:
    """A slot and the pockets along its sides; the recess itself where it is anything else."""
    walls = tuple(p for p in recess.patches if is_wall(shape.patches[p], recess.axis))
    fillets = [p for p in recess.patches if p not in walls and p not in recess.floors]
    level = len({shape.carriers[f] for f in recess.floors}) == 1
    if not level or recess.shared or recess.core or not all(hollow(shape.patches[f]) for f in fillets):
        return [recess]
    parts = components(shape, walls)
    mouths = {part: side for part in parts if (side := _mouth(shape, part, walls)) is not None}
    along = tuple(w for part in parts if part not in mouths for w in part)
    cheeks = _cheeks(shape, along)
    if not mouths or not cheeks or not all(_is_bay(shape, recess, b, c, cheeks) for b, c in mouths.items()):
        return [recess]
    bands = [with_fillets(shape, Band(one, cheeks), fillets) for one in (tuple(sorted(along)), *mouths)]
    if {p for band in bands for p in band.walls} != {*walls, *fillets}:
        return [recess]
    slot = band_on_floor(shape, sight, recess, bands[0])
    far = [next(c for c in cheeks if shape.carriers[c] != side) for side in mouths.values()]
    return [slot, *(_bay(shape, recess, bay.walls, other) for bay, other in zip(bands[1:], far, strict=True))]


def _mouth(shape: PartShape, part: tuple[int, ...], walls: tuple[int, ...]) -> int | None:
    """The carrier of the flat wall that goes on past both ends of some walls, where they leave it; None for none."""
    rims = [r for p in part for r in shape.patches[p].rims if r.convexity == "convex" and r.other in walls]
    others = {r.other for r in rims if r.other not in part}
    carriers = {shape.carriers[o] for o in others}
    flat = all(shape.patches[o].surface.kind == "plane" for o in others)
    return carriers.pop() if len(others) == 2 and len(carriers) == 1 and flat else None


def _cheeks(shape: PartShape, walls: tuple[int, ...]) -> tuple[int, int] | None:
    """The two walls of a slot: all others are on their planes, or round ends between them."""
    flat = {shape.carriers[w]: w for w in walls if shape.patches[w].surface.kind == "plane"}
    if len(flat) != 2:
        return None
    a, b = flat.values()
    width = _behind(shape, a, b)
    facing = dot(shape.patches[a].surface.axis, shape.patches[b].surface.axis) < -1 + SQUARE**2
    rounds = [shape.patches[w] for w in walls if w not in flat.values() and shape.carriers[w] not in flat]
    round_ = all(p.surface.hollow and abs(2 * p.surface.radius - width) < SAME_LENGTH for p in rounds)
    apart = {shape.carriers[p.index]: p for p in rounds}
    round_ = round_ and (len(apart) != 2 or look_inwards(*apart.values()))
    return (a, b) if facing and width > 0 and round_ else None


def _behind(shape: PartShape, wall: int, other: int) -> float:
    """How far in front of a flat wall another lies (mm)."""
    surface = shape.patches[wall].surface
    return dot(sub(shape.patches[other].surface.origin, surface.origin), surface.axis)


def _is_bay(shape: PartShape, recess: Recess, bay: tuple[int, ...], carrier: int, cheeks: tuple[int, int]) -> bool:
    """True for walls behind a slot's wall that are as long and as deep as ``DEEP`` says."""
    own = next((c for c in cheeks if shape.carriers[c] == carrier), None)
    if own is None:
        return False
    surface, width = shape.patches[own].surface, _behind(shape, *cheeks)
    low, high = extent(shape, bay, surface.axis)
    level = dot(surface.origin, surface.axis)
    along = extent(shape, bay, unit(cross(recess.axis, surface.axis)))
    deep, long = level - low >= DEEP * width - LIMIT, along[1] - along[0] >= LONG * width - LIMIT
    return deep and long and high < level + SAME_LENGTH


def _bay(shape: PartShape, recess: Recess, walls: tuple[int, ...], far: int) -> Recess:
    """A bay with the floor, open to the slot's far wall alone."""
    patches = tuple(sorted({*walls, *recess.floors}))
    beside = {r.other for f in recess.floors for r in shape.patches[f].rims if r.other not in patches}
    bridged = tuple(sorted(o for o in beside if shape.carriers[o] != shape.carriers[far]))
    return replace(recess, patches=patches, seen=(recess.axis,), core=walls, bridged=bridged, shared=True)
