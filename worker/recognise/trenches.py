"""Pockets and slots whose floor something deeper cuts through at any angle: pieces that face each other over it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from schemas.base import Vec3, add, cross, dot, sub, unit
from schemas.tolerances import SQUARE
from worker.kernel import linked
from worker.recognise.access import Sight
from worker.recognise.floor_outline import wall_behind
from worker.recognise.holes import crossings
from worker.recognise.ledges import BESIDE, SHARES
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, is_wall
from worker.recognise.through_slots import OVER


@dataclass(frozen=True, eq=False)
class _Lip:
    """An edge at which a floor ends over a flat wall that goes down from it; ``out``: the way that wall looks."""

    piece: int
    wall: int
    out: Vec3
    along: Vec3
    at: float
    span: tuple[float, float]
    place: Vec3
    ends: tuple[int | None, int | None]
    """The walls that begin where it ends, if walls do."""


def over_trenches(shape: PartShape, sight: Sight, recesses: Sequence[Recess]) -> list[Recess]:
    """The recesses, pieces of one floor put together between which there is a trench and nothing but air over it.

    What has one wall alone is a ledge: such belong together only where their walls face each other.
    """
    levels: dict[int, list[_Lip]] = {}
    walls = [_walls(shape, r) for r in recesses]
    for number, recess in enumerate(recesses):
        for lip in _lips(shape, sight, recess, number):
            levels.setdefault(shape.carriers[recess.floors[0]], []).append(lip)
    pairs = [
        (a, b)
        for lips in levels.values()
        for a, b in _facing(lips)
        if dot(recesses[a.piece].axis, recesses[b.piece].axis) > 1 - SQUARE**2
        if max(len(walls[a.piece]), len(walls[b.piece])) > 1
        if _is_over_trench(shape, recesses[a.piece].axis, (a, b), walls[a.piece] & walls[b.piece])
    ]
    groups = linked.groups(len(recesses), [(a.piece, b.piece) for a, b in pairs])
    lips = [[lip.wall for pair in pairs for lip in pair if lip.piece in group] for group in groups]
    return [_together(sight, [recesses[i] for i in group], own) for group, own in zip(groups, lips, strict=True)]


def _facing(lips: Sequence[_Lip]) -> Iterator[tuple[_Lip, _Lip]]:
    """Pairs of lips of different pieces of which the second is the nearest that looks back at the first."""
    outs, pieces = np.array([lip.out for lip in lips]), np.array([lip.piece for lip in lips])
    at, spans = np.array([lip.at for lip in lips]), np.array([lip.span for lip in lips])
    for k, lip in enumerate(lips):
        gaps = -at - at[k]
        over = np.minimum(-spans[:, 0], lip.span[1]) - np.maximum(-spans[:, 1], lip.span[0]) > OVER
        mates = np.flatnonzero((outs @ outs[k] < -1 + SQUARE**2) & (gaps > OVER) & over & (pieces != lip.piece))
        if len(mates):
            near = mates[gaps[mates] < gaps[mates].min() + OVER]
            yield from ((lip, lips[m]) for m in near.tolist())


def _lips(shape: PartShape, sight: Sight, recess: Recess, number: int) -> list[_Lip]:
    """The lips of a recess with floors of its own on one level."""
    if not recess.floors or recess.core or recess.shared or recess.behind or recess.span:
        return []
    if len({shape.carriers[f] for f in recess.floors}) > 1:
        return []
    loops = [shape.patches[f].loops[0] for f in recess.floors]
    places = [(loop, k) for loop in loops for k in range(len(loop)) if _is_lip(shape, sight, recess, loop[k])]
    return [_lip(shape, recess, number, loop, k) for loop, k in places]


def _is_lip(shape: PartShape, sight: Sight, recess: Recess, rim: Rim) -> bool:
    wall = shape.patches[rim.other]
    flat = rim.curve == "line" and wall.surface.kind == "plane" and is_wall(wall, recess.axis)
    return flat and rim.convexity == "convex" and rim.other not in recess.patches and rim.other not in sight.outer


def _lip(shape: PartShape, recess: Recess, number: int, loop: Sequence[Rim], k: int) -> _Lip:
    rim = loop[k]
    out = shape.patches[rim.other].surface.axis
    along = unit(cross(recess.axis, out))
    low, high = (dot(p, along) for p in (rim.points[0], rim.points[-1]))
    before, after = (_wall_at(shape, recess, loop[n % len(loop)]) for n in (k - 1, k + 1))
    ends = (before, after) if low < high else (after, before)
    return _Lip(
        number, rim.other, out, along, dot(rim.points[0], out), (min(low, high), max(low, high)), rim.points[0], ends
    )


def _wall_at(shape: PartShape, recess: Recess, rim: Rim) -> int | None:
    walled = rim.other in recess.patches and rim.convexity != "convex"
    return wall_behind(shape, recess, rim.other) if walled else None


def _is_over_trench(shape: PartShape, axis: Vec3, lips: tuple[_Lip, _Lip], common: Collection[int]) -> bool:
    """True for lips along most of which the other lies, with air between them over and under the floor.

    Where two walls go on beyond the trench, ``common``, they may face each other as little as these run askew.
    """
    a, b = lips
    gap, ends = -b.at - a.at, (-b.span[1], -b.span[0])
    low, high = max(a.span[0], ends[0]), min(a.span[1], ends[1])
    most = max(a.span[1] - a.span[0], ends[1] - ends[0])
    if len(common) < 2 and high - low < BESIDE * most:
        return False
    meet = all(_meet(shape, a, gap, pair) for pair in zip(a.ends, b.ends[::-1], strict=True))
    return meet and all(
        not crossings(shape, add(add(foot, axis, height), a.out, OVER), a.out, 0.0, gap - 2 * OVER)
        for share in SHARES
        if (foot := add(a.place, a.along, low + share * (high - low) - dot(a.place, a.along)))
        for height in (OVER, -OVER)
    )


def _meet(shape: PartShape, lip: _Lip, gap: float, walls: tuple[int | None, int | None]) -> bool:
    """True for walls on both sides of a trench of which the one goes on as the other, or flat ones that meet in it.

    What ends at no wall, or at a round one, may go on anyhow.
    """
    a, b = walls
    if a is None or b is None or shape.carriers[a] == shape.carriers[b]:
        return True
    planes = [shape.patches[w].surface for w in (a, b)]
    if any(s.kind != "plane" for s in planes):
        return True
    (p, q, c), (r, s, d) = (
        (dot(w.axis, lip.along), dot(w.axis, lip.out), dot(sub(w.origin, lip.place), w.axis)) for w in planes
    )
    size = p * s - q * r
    return abs(size) > SQUARE and -OVER < (p * d - r * c) / size < gap + OVER


def _walls(shape: PartShape, recess: Recess) -> set[int]:
    """Carriers of the upright walls of a recess."""
    return {shape.carriers[p] for p in recess.patches if is_wall(shape.patches[p], recess.axis)}


def _together(sight: Sight, pieces: Sequence[Recess], lips: Sequence[int]) -> Recess:
    """The pieces as one recess; what begins at their lips bounds nothing but the gaps in its floor."""
    if len(pieces) == 1:
        return pieces[0]
    patches = tuple(sorted({p for r in pieces for p in r.patches}))
    floors = tuple(sorted({f for r in pieces for f in r.floors}))
    seen = tuple(d for d in sight.distinct(d for r in pieces for d in r.seen) if sight.sees(patches, d))
    bridged = {p for r in pieces for p in r.bridged}.union(lips)
    return Recess(patches, pieces[0].axis, floors, seen, bridged=tuple(sorted(bridged.difference(patches))))
