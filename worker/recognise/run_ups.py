"""Round-bottomed grooves and vees in a floor that run up to a wall beside it: cut for themselves, and end at that."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from schemas.base import Vec3, cross, dot, norm, unit
from schemas.tolerances import LENGTH, SAME_LENGTH, SQUARE
from worker.recognise.access import Sight
from worker.recognise.basins import OUT
from worker.recognise.extent import extent
from worker.recognise.flush import ground_level
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, components, directions, hollow, is_floor, is_wall, sees_own

Reader = Callable[[PartShape, Sight, tuple[int, ...]], list[Recess]]
Groove = tuple[tuple[int, ...], tuple[int, ...]]
"""The patches of a groove and the walls that it ends at."""


def up_to_walls(shape: PartShape, sight: Sight, group: tuple[int, ...], read: Reader) -> list[Recess]:
    """The recesses of a group in whose floor grooves run up to its walls, and those; none for any other.

    ``read``: reads what is left without the grooves.
    """
    for floor in _floors(shape, group):
        way = sight.known(shape.patches[floor].surface.axis)
        grooves = list(_grooves(shape, group, floor, way))
        taken = {p for own, _ in grooves for p in own}
        rest = tuple(p for p in group if p not in taken)
        if grooves and all(sight.sees(own, way) for own, _ in grooves) and sight.sees(rest, way):
            left = [r for g in components(shape, rest) for r in read(shape, sight, g)]
            over = [_over(shape, sight, r, taken) if floor in r.floors else r for r in left]
            if over != left:  # else it is a wall, and what seem grooves in it are bites that go down to its foot
                return [*over, *(_ended(shape, sight, own, walls, way) for own, walls in grooves)]
    return []


def _floors(shape: PartShape, group: tuple[int, ...]) -> list[int]:
    """A plane of the group for each carrier at whose edge something else of the group begins."""
    members = set(group)
    planes = (p for p in group if shape.patches[p].surface.kind == "plane" and members & set(shape.patches[p].convex))
    return list({shape.carriers[p]: p for p in planes}.values())


def _grooves(shape: PartShape, group: tuple[int, ...], floor: int, way: Vec3) -> Iterator[Groove]:
    """What of the group lies below a floor, begins at its edge, has none of its own and runs up to a wall."""
    level = dot(shape.patches[floor].surface.origin, way) + LENGTH
    sunk = [p for p in group if shape.carriers[p] != shape.carriers[floor] and extent(shape, (p,), way)[1] < level]
    for own in components(shape, sunk):
        travel = _travel(shape, own, way)
        begins = {shape.carriers[o] for p in own for o in shape.patches[p].convex}
        beside = sorted({o for p in own for o in shape.patches[p].concave if o in group and o not in own})
        walls = tuple(o for o in beside if _ends(shape, o, way, travel) and extent(shape, (o,), way)[1] > level)
        if travel and walls and len(walls) == len(beside) and shape.carriers[floor] in begins:
            yield own, walls


def _travel(shape: PartShape, own: tuple[int, ...], way: Vec3) -> Vec3 | None:
    """The way along a groove without a flat floor; None for what is none."""
    leaning = [shape.patches[p] for p in own if not is_wall(shape.patches[p], way)]
    if any(is_floor(p, way) or not (p.surface.kind == "plane" or hollow(p)) for p in leaning):
        return None
    lying = [p.surface.axis for p in leaning if p.surface.kind == "cylinder"]
    flanks = [p.surface.axis for p in leaning if p.surface.kind == "plane"]
    lines = lying or [line for f in flanks[1:] if norm(line := cross(flanks[0], f)) > SQUARE]
    return unit(lines[0]) if lines else None


def _ends(shape: PartShape, wall: int, way: Vec3, travel: Vec3 | None) -> bool:
    """True for an upright plane that a groove runs up to, not along."""
    patch = shape.patches[wall]
    flat = patch.surface.kind == "plane" and is_wall(patch, way)
    return flat and travel is not None and abs(dot(patch.surface.axis, travel)) > OUT


def _over(shape: PartShape, sight: Sight, recess: Recess, grooves: set[int]) -> Recess:
    """What grooves begin in: they open no side of it, and what its walls are at their ends is not its own."""
    low = ground_level(shape, recess) - 2 * SAME_LENGTH
    found = replace(recess, bridged=tuple(sorted({*recess.bridged, *grooves})), span=(low, math.inf))
    tried = directions(shape, sight, recess.patches)
    return replace(found, seen=tuple(d for d in tried if sees_own(sight, found, found.patches, d)))


def _ended(shape: PartShape, sight: Sight, own: tuple[int, ...], walls: tuple[int, ...], way: Vec3) -> Recess:
    """A groove with the walls at its ends, as far as they are its own."""
    seen = tuple(d for d in directions(shape, sight, own) if sight.sees(own, d))
    return Recess(tuple(sorted((*own, *walls))), way, (), seen, core=own, own=own, shared=True)
