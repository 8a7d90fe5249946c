"""Grooves that close on themselves, with slots of their own depth that run into them: a seal's seat and its feeds.

Round grooves in which such slots end: ``divided_rings``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby, product

from schemas.base import Vec3, cross, unit
from schemas.tolerances import SAME_LENGTH
from worker.recognise.access import Sight
from worker.recognise.bands import Band, band_on_floor, with_fillets
from worker.recognise.extent import extent
from worker.recognise.floor_outline import wall_behind
from worker.recognise.loops import cut_loop, gap_of
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, hollow, is_wall

Side = tuple[int | None, ...]
"""The upright walls along one edge of a floor, in order, each stretch once; None where it is open."""


def with_fed_loops(shape: PartShape, sight: Sight, recess: Recess) -> list[Recess]:
    """The groove that closes on itself in a recess with one floor and what runs into it, each with all floor.

    The recess itself where it is no such groove.
    """
    sides = _sides(shape, recess)
    for width in _widths(shape, sides):
        kept = _facing(shape, recess.axis, sides, width)
        bands = _feeds(shape, [stretch for side in sides for stretch in _others(side, kept)])
        loop = _loop(shape, recess, kept)
        if bands and cut_loop(shape, loop, frozenset(recess.patches)):
            fillets = _fillets(shape, recess)
            return [loop, *(band_on_floor(shape, sight, recess, with_fillets(shape, b, fillets)) for b in bands)]
    return [recess]


def _fillets(shape: PartShape, recess: Recess) -> list[int]:
    return [p for p in recess.patches if p not in recess.floors and not is_wall(shape.patches[p], recess.axis)]


def _sides(shape: PartShape, recess: Recess) -> list[Side]:
    """The walls outside a floor and round what stands on it; none where nothing does."""
    if len(recess.floors) != 1 or recess.shared or recess.core or recess.behind:
        return []
    outer, *others = shape.patches[recess.floors[0]].loops
    inner = [loop for loop in others if any(_is_walled(recess, r) for r in loop)]
    plain = all(hollow(shape.patches[f]) for f in _fillets(shape, recess))
    return [_side(shape, recess, loop) for loop in (outer, *inner)] if plain and inner else []


def _is_walled(recess: Recess, rim: Rim) -> bool:
    return rim.other in recess.patches and rim.convexity != "convex"


def _side(shape: PartShape, recess: Recess, loop: Sequence[Rim]) -> Side:
    walls = [wall_behind(shape, recess, r.other) if _is_walled(recess, r) else None for r in loop]
    return tuple(w for i, w in enumerate(walls) if len(walls) == 1 or w != walls[i - 1])


def _widths(shape: PartShape, sides: Sequence[Side]) -> list[float]:
    """How far walls on both sides are apart that face each other (mm), the least first."""
    if not sides:
        return []
    outer, *inners = ([shape.patches[w].surface for w in side if w is not None] for side in sides)
    inner = [surface for side in inners for surface in side]
    gaps = sorted(gap for a in outer if a.kind == "plane" for b in inner if (gap := gap_of(a, b)) > 0)
    return [gap for i, gap in enumerate(gaps) if i == 0 or gap - gaps[i - 1] > SAME_LENGTH]


def _facing(shape: PartShape, axis: Vec3, sides: Sequence[Side], width: float) -> set[int]:
    """The walls that have one on the other side so far away, hollow corners between two, no wider than that, and what
    runs smoothly from one to the next."""
    kept: set[int] = set()
    outer, *inners = ([w for w in side if w is not None] for side in sides)
    inner = [w for side in inners for w in side]
    for a, b in product(outer, inner):
        if abs(gap_of(shape.patches[a].surface, shape.patches[b].surface) - width) < SAME_LENGTH:
            kept |= {a, b} if _are_beside(shape, axis, a, b) else set()
    for side in sides:
        for before, wall, after in zip((side[-1], *side[:-1]), side, (*side[1:], side[0]), strict=True):
            if wall is None or not {before, after} <= kept:
                continue
            sharp = hollow(shape.patches[wall]) and shape.patches[wall].surface.radius < width + SAME_LENGTH
            if sharp or {before, after} <= set(shape.patches[wall].smooth):  # nothing is left of what it faced
                kept.add(wall)
    return kept


def _are_beside(shape: PartShape, axis: Vec3, a: int, b: int) -> bool:
    """True for round walls, and for flat ones of which one faces some of the other."""
    surface = shape.patches[a].surface
    if surface.kind != "plane":
        return True
    lows, highs = zip(*(extent(shape, (w,), unit(cross(axis, surface.axis))) for w in (a, b)), strict=True)
    return bool(min(highs) - max(lows) > SAME_LENGTH)


def _others(side: Side, kept: set[int]) -> list[list[int]]:
    """The walls along one side of a groove that are not its own, in stretches."""
    start = next((i for i, w in enumerate(side) if w in kept), 0)
    turned = [*side[start:], *side[:start]]
    return [[w for w in walls if w is not None] for own, walls in groupby(turned, key=lambda w: w in kept) if not own]


def _feeds(shape: PartShape, stretches: Sequence[list[int]]) -> list[Band]:
    """What runs into a groove, or crosses it, between two cheeks each; none where any wall belongs to nothing such."""
    found: dict[frozenset[int], tuple[set[int], tuple[int, int]]] = {}
    for walls in stretches:
        cheeks = (walls[0], walls[-1]) if walls else (0, 0)
        if cheeks[0] != cheeks[1] and gap_of(*(shape.patches[w].surface for w in cheeks)) > 0:
            found.setdefault(frozenset(shape.carriers[w] for w in cheeks), (set(), cheeks))[0].update(walls)
    alone = [walls for walls in stretches if not any(set(walls) <= own for own, _ in found.values())]
    for walls in alone:
        home = [own for key, (own, _) in found.items() if key >= {shape.carriers[w] for w in walls}]
        if not home or not walls:
            return []
        home[0].update(walls)
    return [Band(tuple(sorted(own)), cheeks) for own, cheeks in found.values()]


def _loop(shape: PartShape, recess: Recess, kept: set[int]) -> Recess:
    """The groove alone; what else bounds the floor opens no side of it."""
    band = with_fillets(shape, Band(tuple(sorted(kept)), ()), _fillets(shape, recess))
    patches = tuple(sorted({*band.walls, *recess.floors}))
    beyond = {r.other for f in recess.floors for r in shape.patches[f].rims} - set(patches)
    bridged = tuple(sorted(beyond | set(recess.bridged)))
    return replace(recess, patches=patches, seen=(recess.axis,), core=band.walls, bridged=bridged, shared=True)
