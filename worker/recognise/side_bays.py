"""Pockets that open to a slot as deep along its side: the slot's other wall stands there, its own goes on past both
ends of the opening."""

from __future__ import annotations

from dataclasses import replace

from schemas.base import cross, dot, sub, unit
from schemas.tolerances import LIMIT, SAME_LENGTH, SQUARE
from worker.recognise.access import Sight
from worker.recognise.bands import LONG, Band, band_on_floor, parted, with_fillets
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
    return found if len(found) > 1 else with_side_bays(shape, sight, recess)


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
    rounds = [shape.patches[w].surface for w in walls if w not in flat.values() and shape.carriers[w] not in flat]
    round_ = all(s.hollow and abs(2 * s.radius - width) < SAME_LENGTH for s in rounds)
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
