"""The upright walls of a recess at one height: from where to where each goes, and what follows end to end."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from schemas.base import Vec3, add, cross, dot, norm, sub
from worker.recognise.patches import PartShape, Patch, Rim


@dataclass(frozen=True, eq=False)
class Node:
    """Where the boundary of a wall passes a height; ``beyond``: the patch on the other side, ``edge``: over which."""

    place: Vec3
    edge: int
    beyond: int


@dataclass(frozen=True, eq=False)
class Stretch:
    """A wall from one end to the other, seen from the air with the axis up: from left to right.

    A round wall that closes on itself has no ends.
    """

    wall: int
    left: Node | None
    right: Node | None


def stretches(shape: PartShape, wall: int, axis: Vec3, height: float) -> list[Stretch]:
    """The stretches of an upright wall (plane or cylinder) at a height along its axis."""
    patch = shape.patches[wall]
    lefts: list[Node] = []
    rights: list[Node] = []
    for rim in patch.rims:
        for place, upward in _passes(rim, axis, height):
            (rights if upward else lefts).append(Node(place, rim.edge, rim.other))
    if not lefts and not rights:
        inside = patch.surface.kind == "cylinder" and _spans(patch, axis, height)
        return [Stretch(wall, None, None)] if inside else []
    found = []
    for left in lefts:
        far = [(_way(patch, axis, left.place, right.place), n) for n, right in enumerate(rights)]
        if far:
            found.append(Stretch(wall, left, rights[min(far)[1]]))
    return found


def _passes(rim: Rim, axis: Vec3, height: float) -> list[tuple[Vec3, bool]]:
    """Where a boundary passes a height, and whether it goes up there."""
    found: list[tuple[Vec3, bool]] = []
    for a, b in pairwise(rim.points):
        p, q = dot(a, axis), dot(b, axis)
        if (p < height) != (q < height):
            found.append((add(a, sub(b, a), (height - p) / (q - p)), q > p))
    return found


def _spans(patch: Patch, axis: Vec3, height: float) -> bool:
    low, high = patch.span(axis)
    return low < height < high


def _way(patch: Patch, axis: Vec3, start: Vec3, end: Vec3) -> float:
    """How far it is along a wall from one place to another on its right (mm, or radians)."""
    surface = patch.surface
    if surface.kind == "plane":
        far = dot(sub(end, start), cross(axis, surface.axis))
        return far if far > 0 else math.inf
    a, b = sub(start, surface.origin), sub(end, surface.origin)
    up = 1.0 if (dot(axis, surface.axis) > 0) != surface.hollow else -1.0
    turn = math.atan2(dot(cross(a, b), surface.axis), dot(a, b) - dot(a, surface.axis) * dot(b, surface.axis))
    return up * turn % math.tau


@dataclass(frozen=True, eq=False)
class Run:
    """Walls that follow end to end at a height; ``ends``: where the first begins and the last ends, if it is open."""

    walls: tuple[int, ...]
    ends: tuple[Vec3, ...] = ()


def runs_at(shape: PartShape, walls: Iterable[int], axis: Vec3, height: float) -> list[Run]:
    """Walls that follow end to end at a height: a run for each passage, or for each gap's side, walls in order."""
    members = set(walls)
    waiting = [s for wall in sorted(members) for s in stretches(shape, wall, axis, height)]
    runs: list[list[Stretch]] = []
    while waiting:
        run = [waiting.pop(0)]
        while follows := [s for s in waiting if _follows(run[-1], s)]:
            waiting.remove(follows[0])
            run.append(follows[0])
        while leads := [s for s in waiting if _follows(s, run[0])]:
            waiting.remove(leads[0])
            run.insert(0, leads[0])
        runs.append(run)
    return [_run(run) for run in runs]


def _run(chain: list[Stretch]) -> Run:
    ends = (chain[0].left, chain[-1].right)
    free = not _follows(chain[-1], chain[0])
    return Run(tuple(dict.fromkeys(s.wall for s in chain)), tuple(n.place for n in ends if n) if free else ())


def _follows(a: Stretch, b: Stretch) -> bool:
    """True when the right end of one is the left end of the other."""
    if a.right is None or b.left is None:
        return False
    return a.right.edge == b.left.edge and norm(sub(a.right.place, b.left.place)) < 1e-6
