"""The outline of a recess without floor: its walls in order, whatever crosses it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from schemas.base import Vec3, cross, dot, norm, sub
from schemas.tolerances import LEDGE
from worker.recognise.corners_apart import across_from
from worker.recognise.extent import extent
from worker.recognise.open_sides import TURN, longest
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recess_size import is_square
from worker.recognise.recesses import Recess, is_wall
from worker.recognise.reliefs import relieved_corners


@dataclass(frozen=True, eq=False)
class Outline:
    """The outline of a recess seen along its axis: runs of walled rims, and the patches beyond its open sides."""

    runs: tuple[tuple[int, ...], ...]
    open_to: tuple[int, ...]
    islands: tuple[tuple[int, ...], ...]
    sides: int = 0
    """To how many sides it is open: a side is bounded by several patches where it is rounded or bitten into."""


def distinct(shape: PartShape, walls: Iterable[int]) -> list[int]:
    """Patches of different carriers, in order."""
    found: dict[int, int] = {}
    for wall in walls:
        found.setdefault(shape.carriers[wall], wall)
    return list(found.values())


def in_place(shape: PartShape, patches: Iterable[int]) -> list[int]:
    """Patches in an order that their sizes and places make, not the numbers of their faces."""
    return sorted(patches, key=lambda p: shape.patches[p].order)


def through_outline(shape: PartShape, recess: Recess) -> Outline:
    """The outline of a recess without floor: its walls in order, each by one of its patches."""
    wall = _walls(shape, recess)
    nexts: dict[int, list[int]] = {w: [] for w in in_place(shape, set(wall.values()))}
    for p in recess.patches:
        relieved = set(relieved_corners(shape).get(p, {}).values())
        for o in {*shape.patches[p].neighbours, *relieved}:
            meet = o in relieved or _meet_along(shape, p, o, recess.axis)
            if o in wall and wall[o] != wall[p] and meet:
                nexts[wall[p]] = in_place(shape, {*nexts[wall[p]], wall[o]})
    for corner, other in across_from(shape, nexts).items():
        nexts[corner] = [*nexts[corner], other]
    closed = all(len(n) >= 2 or (len(n) == 1 and _twice(shape, recess, wall, (w, n[0]))) for w, n in nexts.items())
    chain = [next((w for w, n in nexts.items() if len(n) < 2), next(iter(nexts)))]
    while following := [o for o in nexts[chain[-1]] if o not in chain]:
        chain.append(following[0])
    if closed:
        return Outline(((*chain, chain[0]),), (), ())
    last = [p for p in recess.patches if wall.get(p) in (chain[0], chain[-1])]
    beyond = sorted({o for p in last for o in _open_to(shape, recess, p)} - set(recess.bridged))
    sides = _sides(shape, recess, chain, wall) or _beside_one_wall(shape, beyond)
    return Outline((tuple(chain),), tuple(distinct(shape, in_place(shape, beyond))), (), len(sides))


def _sides(shape: PartShape, recess: Recess, chain: list[int], wall: dict[int, int]) -> list[int]:
    """For each end of a chain of upright walls what lies beyond its longest free edge; one where both look alike."""
    if len(chain) < 2 or not all(is_wall(shape.patches[w], recess.axis) for w in (chain[0], chain[-1])):
        return []
    ends = [
        [r for p in recess.patches if wall.get(p) == w for r in _free(shape, recess, p)]
        for w in chain[:: len(chain) - 1]
    ]
    sides = distinct(shape, [longest(rims) for rims in ends if rims])
    flat = [shape.patches[s].surface.axis for s in sides if shape.patches[s].surface.kind == "plane"]
    return sides[:1] if len(flat) == 2 and dot(flat[0], flat[1]) > math.cos(TURN) else sides


def _beside_one_wall(shape: PartShape, beyond: list[int]) -> list[int]:
    """What lies beyond the ends of a wall that goes round: a side each, but one for planes that look at each other."""
    sides = distinct(shape, beyond)
    flat = [shape.patches[s].surface.axis for s in sides if shape.patches[s].surface.kind == "plane"]
    return sides[:1] if len(sides) == len(flat) == 2 and dot(*flat) < -math.cos(TURN) else sides


def _walls(shape: PartShape, recess: Recess) -> dict[int, int]:
    """For each patch the first of its wall: what crosses a recess divides its walls along the axis, not across.

    Of one that was put together from pieces over a gap all patches of one carrier are one wall.
    """
    found: dict[int, int] = {}
    spans: dict[int, list[float]] = {}
    firsts: dict[int, list[int]] = {}
    across = {p: _across(shape, recess, p) for p in recess.patches}
    for p in sorted(recess.patches, key=lambda p: (*(round(end, 3) for end in across[p]), shape.patches[p].order)):
        low, high = across[p]
        near = firsts.setdefault(shape.carriers[p], [])
        twin = next((w for w in near if recess.bridged or low < spans[w][1] - 1e-3), p)
        found[p] = twin
        if twin not in spans:
            near.append(twin)
        spans[twin] = [low, max(high, spans[twin][1])] if twin in spans else [low, high]
    return found


def _across(shape: PartShape, recess: Recess, patch: int) -> tuple[float, float]:
    """The stretch of a flat wall square to the recess' axis; all round walls lie over each other."""
    surface = shape.patches[patch].surface
    line = cross(recess.axis, surface.axis)
    return extent(shape, (patch,), line) if surface.kind == "plane" and norm(line) > 0.05 else (0.0, 1.0)


def _open_to(shape: PartShape, recess: Recess, wall: int) -> list[int]:
    """What lies beyond the free edges of a wall along the axis."""
    return [r.other for r in _free(shape, recess, wall)]


def _free(shape: PartShape, recess: Recess, wall: int) -> list[Rim]:
    rims = [r for r in shape.patches[wall].rims if r.other not in recess.patches and r.convexity == "convex"]
    return [r for r in rims if not is_square(shape.patches[r.other], recess.axis)]


def _meet_along(shape: PartShape, a: int, b: int, axis: Vec3) -> bool:
    return any(rim.other == b and _runs_along(rim, axis) for rim in shape.patches[a].rims)


def _runs_along(rim: Rim, axis: Vec3) -> bool:
    line = sub(rim.points[-1], rim.points[0])
    return rim.curve == "line" and norm(cross(line, axis)) < 0.5 * norm(line)


def _twice(shape: PartShape, recess: Recess, wall: dict[int, int], pair: tuple[int, int]) -> bool:
    """Whether two walls meet in two corners: round walls about one axis are one, as at the ends of two flats."""
    first = (p for p in recess.patches if wall.get(p) == pair[0])
    rims = [r for p in first for r in shape.patches[p].rims if wall.get(r.other) == pair[1]]
    corners = [r.points[0] for r in rims if _runs_along(r, recess.axis)]
    ways = [cross(recess.axis, sub(c, corners[0])) for c in corners]
    return any(norm(way) > LEDGE for way in ways)
