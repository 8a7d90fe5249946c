"""Vees with a relief at their bottom, and steps along whose floor a groove runs: what that divides is one."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.flush_floors import edges_into, ends_at
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, directions
from worker.recognise.strips import line_of
from worker.recognise.through_slots import OVER
from worker.recognise.undercuts import LEANS


def relieved_vees(
    shape: PartShape, sight: Sight, reliefs: Sequence[tuple[int, ...]], lone: Collection[int]
) -> list[Recess]:
    """The vees whose two planes some patches keep apart: a slot or a hole along their bottom."""
    pairs = [pair for members in reliefs for pair in _facing(shape, sight, members, lone)]
    sets: dict[tuple[int, ...], set[int]] = {}
    for a, b in pairs:
        key = tuple(sorted((shape.carriers[a.other], shape.carriers[b.other])))
        sets.setdefault(key, set()).update((a.other, b.other))
    bridged = tuple(sorted({p for members in reliefs for p in members})) if sets else ()
    return [_vee(shape, sight, tuple(sorted(planes)), bridged) for planes in sets.values()]


def _facing(shape: PartShape, sight: Sight, members: Collection[int], lone: Collection[int]) -> list[tuple[Rim, Rim]]:
    """Pairs of edges at which two slanted planes that face each other end at some patches."""
    slanted = [r for r in edges_into(shape, members, lone) if not sight.is_square(_normal(shape, r))]
    pairs = [(a, b) for k, a in enumerate(slanted) for b in slanted[k + 1 :] if a.other != b.other]
    return [pair for pair in pairs if _is_vee(shape, *pair, members)]


def _normal(shape: PartShape, rim: Rim) -> Vec3:
    return shape.patches[rim.other].surface.axis


def _is_vee(shape: PartShape, a: Rim, b: Rim, members: Collection[int]) -> bool:
    """True for planes that both look up and at each other, and end at what is between them."""
    p, q, line = _normal(shape, a), _normal(shape, b), line_of(a)
    if norm(cross(line, line_of(b))) > SQUARE or norm(cross(p, q)) < LEANS or abs(dot(unit(cross(p, q)), line)) < 0.5:
        return False
    gap = sub(b.points[0], a.points[0])
    gap = add(gap, line, -dot(gap, line))
    if dot(gap, p) < OVER or dot(gap, q) > -OVER:
        return False
    return _end_at(shape, (a, b), gap, members)


def _vee(shape: PartShape, sight: Sight, planes: tuple[int, ...], bridged: tuple[int, ...]) -> Recess:
    """The vee of two planes in however many pieces, read along the way between them."""
    axes = [shape.patches[p].surface.axis for p in sorted({shape.carriers[p] for p in planes})]
    way = sight.known(unit(add(axes[0], axes[1])))
    seen = tuple(d for d in sight.distinct((way, *directions(shape, sight, planes))) if sight.sees(planes, d))
    return Recess(planes, way, (), seen, bridged=bridged)


def with_grooved_floors(
    shape: PartShape,
    sight: Sight,
    recesses: Sequence[Recess],
    reliefs: Sequence[tuple[int, ...]],
    lone: Collection[int],
) -> list[Recess]:
    """The recesses, steps with what lies of their floor beyond a groove along it."""
    owners = {f: r for r in recesses for f in _floors(shape, r) if not r.core and not r.behind}
    free = _growing(shape, lone, owners)
    links = [(a, b) for members in reliefs for a, b in _level(shape, members, free, owners)]
    found: dict[int, Recess] = {}
    for a, b in links + links[::-1]:
        for own, other in ((a, b), (b, a)):
            if own in owners and other not in owners:
                old = found.get(id(owners[own]), owners[own])
                found[id(owners[own])] = _grown(shape, sight, old, other)
                owners[other] = owners[own]
    return [found.get(id(r), r) for r in recesses]


def _floors(shape: PartShape, recess: Recess) -> tuple[int, ...]:
    """The floors of a recess; of two planes that are a step the wall too, which is its floor from the other side."""
    flat = all(shape.patches[p].surface.kind == "plane" for p in recess.patches)
    return recess.patches if flat and len(recess.patches) == 2 and recess.floors else recess.floors


def _growing(shape: PartShape, lone: Collection[int], owners: Collection[int]) -> set[int]:
    """The planes on levels where some belong to a recess and others to none: nowhere else does a floor grow."""
    levels = {shape.carriers[p] for p in lone if p not in owners} & {shape.carriers[p] for p in owners}
    return {p for p in (*lone, *owners) if shape.carriers[p] in levels}


def _level(
    shape: PartShape, members: Collection[int], free: Collection[int], owned: Collection[int]
) -> list[tuple[int, int]]:
    """Pairs of planes on one level, not both owned, that end at some patches, on both sides of them."""
    edges = edges_into(shape, members, free)
    level: dict[int, list[Rim]] = {}
    for edge in edges:
        level.setdefault(shape.carriers[edge.other], []).append(edge)
    pairs = [(a, b) for same in level.values() for k, a in enumerate(same) for b in same[k + 1 :] if a.other != b.other]
    fresh = [(a, b) for a, b in pairs if a.other not in owned or b.other not in owned]
    return [(a.other, b.other) for a, b in fresh if _is_one_floor(shape, a, b, members)]


def _is_one_floor(shape: PartShape, a: Rim, b: Rim, members: Collection[int]) -> bool:
    """True for two edges along one groove, with air over it."""
    line, up = line_of(a), _normal(shape, a)
    gap = sub(b.points[0], a.points[0])
    gap = add(gap, line, -dot(gap, line))
    if norm(cross(line, line_of(b))) > SQUARE or norm(gap) < OVER:
        return False
    middle = add(add(a.points[0], sub(a.points[-1], a.points[0]), 0.5), up, OVER)
    return _end_at(shape, (a, b), gap, members) and not crossings(shape, middle, unit(gap), 0.0, norm(gap))


def _end_at(shape: PartShape, edges: tuple[Rim, Rim], gap: Vec3, members: Collection[int]) -> bool:
    """True for planes that both end at an edge, for some patches alone, where the gap between the two edges is."""
    ways = (unit(gap), unit(scale(gap, -1.0)))
    return all(ends_at(shape, edge, way, 0.0, members) for edge, way in zip(edges, ways, strict=True))


def _grown(shape: PartShape, sight: Sight, recess: Recess, floor: int) -> Recess:
    """A recess with one more piece of its floor; what lies between bounds nothing but the gap."""
    if len({shape.carriers[f] for f in (*recess.floors, floor)}) > 1:  # what was its wall
        own = tuple(p for p in recess.patches if p not in recess.floors)
        recess = replace(recess, axis=shape.patches[floor].surface.axis, floors=own)
    patches = tuple(sorted({*recess.patches, floor}))
    seen = tuple(d for d in recess.seen if sight.sees(patches, d))
    edges = {r.other for f in (*recess.floors, floor) for r in shape.patches[f].rims if r.convexity == "convex"}
    return replace(
        recess,
        patches=patches,
        floors=tuple(sorted({*recess.floors, floor})),
        seen=seen,
        bridged=tuple(sorted({*recess.bridged, *(edges - sight.outer)})),
    )
