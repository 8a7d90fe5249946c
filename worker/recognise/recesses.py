"""What a recess is: faces that meet in concave edges and are cut together; floors, walls and ways in."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import SAME_LENGTH, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.access import Sight
from worker.recognise.extent import best_line, extent, level_direction
from worker.recognise.patches import PartShape, Patch
from worker.recognise.reliefs import relieved_corners
from worker.recognise.window_corners import window_corners

DRAFT = math.sin(math.radians(30))
"""Walls lean by no more than this (cosine to the way out). Ours: pockets are drafted by 1 to 15 degrees."""


@dataclass(frozen=True, eq=False)
class Recess:
    """Patches that are cut together, and the direction (out of the material) they are read from."""

    patches: tuple[int, ...]
    axis: Vec3
    floors: tuple[int, ...]
    seen: tuple[Vec3, ...]
    core: tuple[int, ...] = ()
    """What must be seen to cut it, where that is not all: passages that cross share walls."""
    shared: bool = False
    """True when its walls reach beyond its floor, to other floors."""
    bridged: tuple[int, ...] = ()
    """Patches beyond its open sides that only bound a gap inside it, where something else crosses."""
    own: tuple[int, ...] = ()
    """The walls that tell how large it is, where others run on into another recess."""
    span: tuple[float, float] | None = None
    """Between which heights along the axis its walls are its own, where they run on into another recess."""
    reach: tuple[Vec3, ...] = ()
    """Places up to which its floor is its own, where that runs on into what crosses it."""
    behind: tuple[tuple[int, int], ...] = ()
    """Patches that begin at its floor's edge, each with the wall across the gap that the floor ends at there."""


def sees_own(sight: Sight, recess: Recess, patches: tuple[int, ...], way: Vec3) -> bool:
    """True when a straight tool sees some patches of a recess, as far as they are its own."""
    low, high = recess.span or (-math.inf, math.inf)
    along = dot(way, recess.axis)
    level = low if along > 1 - SQUARE**2 else -high if along < -1 + SQUARE**2 else -math.inf
    feet = ((recess.axis, low),) if abs(along) <= 1 - SQUARE**2 and low > -math.inf else ()
    return sight.sees(patches, way, level, feet)


def components(shape: PartShape, free: Iterable[int]) -> list[tuple[int, ...]]:
    """Groups of free patches that hang together over concave edges and smooth fillets."""
    left = set(free)
    found = []
    for start in sorted(left):
        if start not in left:
            continue
        group, waiting = [], [start]
        left.discard(start)
        while waiting:
            index = waiting.pop()
            group.append(index)
            for other in joined_to(shape, index):
                if other in left:
                    left.discard(other)
                    waiting.append(other)
        found.append(tuple(sorted(group)))
    return found


def joined_to(shape: PartShape, index: int) -> tuple[int, ...]:
    """What a patch is cut together with: over a concave edge or one that a hole relieves, or smoothly over a fillet or
    a corner that stands out into a window."""
    patch = shape.patches[index]
    corners = window_corners(shape)
    found = {*patch.concave, *relieved_corners(shape).get(index, {}).values()}
    found.update(r.other for r in patch.rims if r.convexity == "mixed")
    for other in patch.smooth:
        if hollow(patch) or hollow(shape.patches[other]) or index in corners or other in corners:
            found.add(other)
    return tuple(sorted(found))


def hollow(patch: Patch) -> bool:
    """True for a round face that the material surrounds."""
    return patch.surface.kind not in ("plane", "other") and patch.surface.hollow


def directions(shape: PartShape, sight: Sight, group: Iterable[int]) -> tuple[Vec3, ...]:
    """Directions worth trying: floors' and neighbours' normals, round walls' axes, lines along two walls."""
    own: list[Vec3] = []
    near: list[Vec3] = []
    axes: list[Vec3] = []
    members = dict.fromkeys(group)
    for index in members:
        patch = shape.patches[index]
        if patch.surface.kind == "plane":
            own.append(patch.surface.axis)
        elif patch.surface.kind in ("cylinder", "cone", "torus"):
            axes += [patch.surface.axis, scale(patch.surface.axis, -1.0)]
        for other in patch.neighbours:
            beside = shape.patches[other].surface
            if other not in members and beside.kind == "plane":
                near.append(beside.axis)
    normals = sight.distinct(own)[:8]
    lines = [cross(a, b) for i, a in enumerate(normals) for b in normals[i + 1 :]]
    pairs = [d for line in lines if norm(line) > 0.05 for d in (unit(line), scale(unit(line), -1.0))]
    return sight.distinct([*normals, *near, *axes, *pairs])


def floors_of(shape: PartShape, group: Iterable[int], axis: Vec3) -> tuple[int, ...]:
    """The planes of a group that look straight along a direction."""
    return tuple(p for p in group if is_floor(shape.patches[p], axis))


def is_floor(patch: Patch, axis: Vec3) -> bool:
    """True for a plane square to the direction, looking along it."""
    return (
        patch.surface.kind == "plane"
        and norm(cross(patch.surface.axis, axis)) < SQUARE
        and (dot(patch.surface.axis, axis) > 0)
    )


def is_wall(patch: Patch, axis: Vec3) -> bool:
    """True for a plane or cylinder parallel to the direction."""
    if patch.surface.kind == "plane":
        return abs(dot(patch.surface.axis, axis)) < SQUARE
    return patch.surface.kind == "cylinder" and norm(cross(patch.surface.axis, axis)) < SQUARE


def runs_into(corner: Surface, wall: Surface) -> bool:
    """True for a hollow round wall that touches another from inside, flat or about its own axis, wherever it stops."""
    if wall.kind == "cylinder":
        gap = sub(corner.origin, wall.origin)
        off = norm(add(gap, wall.axis, -dot(gap, wall.axis)))
        return abs(off - wall.radius + (corner.radius if wall.hollow else -corner.radius)) < SAME_LENGTH
    return abs(dot(sub(corner.origin, wall.origin), wall.axis) - corner.radius) < SAME_LENGTH


def is_steep(patch: Patch, axis: Vec3) -> bool:
    """True for a wall, and for a plane that leans outwards by no more than ``DRAFT``."""
    flat = patch.surface.kind == "plane" and 0 < dot(patch.surface.axis, axis) < DRAFT
    return flat or is_wall(patch, axis)


def standing_on(shape: PartShape, recess: Recess, level: Iterable[int], floors: set[int]) -> set[int]:
    """Walls next to a floor, directly or over a fillet."""
    found: set[int] = set()
    members = set(recess.patches)
    for floor in level:
        for other in joined_to(shape, floor):
            if other in members and other not in floors:
                found.add(other)
                if not is_steep(shape.patches[other], recess.axis):
                    found.update(o for o in joined_to(shape, other) if o in members and o not in floors)
    return found


def long_direction(shape: PartShape, recess: Recess) -> Vec3:
    """The direction along the longest straight wall, whatever divides it, else most straight boundary, square to the
    recess' axis."""
    whole: dict[int, list[int]] = {}
    for index in recess.patches:
        surface = shape.patches[index].surface
        if surface.kind == "plane" and abs(dot(surface.axis, recess.axis)) < 0.999:
            whole.setdefault(shape.carriers[index], []).append(index)
    walls: list[tuple[float, Vec3]] = []
    for pieces in whole.values():
        line = half(unit(cross(recess.axis, shape.patches[pieces[0]].surface.axis)))
        low, high = extent(shape, pieces, line)
        walls.append((round(high - low, 6), line))
    lines: dict[Vec3, float] = {}
    for size, line in sorted(walls, reverse=True):  # the longest says which way those run that hardly lean from it
        if all(norm(cross(k, line)) >= SQUARE for k in lines):
            lines[line] = size
    if not lines:
        return level_direction(shape, recess.patches, recess.axis)
    return best_line(shape, recess.patches, recess.axis, lines.items())


def half(line: Vec3) -> Vec3:
    """Of two opposite directions the one whose first large component is positive."""
    for component in line:
        if abs(component) > 1e-6:
            return line if component > 0 else scale(line, -1.0)
    return line
