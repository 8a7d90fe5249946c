"""Slots that run in a circle and that something deeper, or a hole, cuts in two: pieces between the same two walls."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from schemas.base import Frame, Vec3, add, any_frame, dot, norm, scale, sub
from schemas.tolerances import SAME_LENGTH, SQUARE
from worker.kernel import linked
from worker.recognise.access import Sight
from worker.recognise.curved import Ring, rings_of
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, is_wall
from worker.recognise.through_slots import OVER

CHORDS = 12
"""By so many chords the middle of a slot is followed over a gap."""


def with_whole_kidneys(shape: PartShape, sight: Sight, recesses: Sequence[Recess]) -> list[Recess]:
    """The recesses, pieces on one floor between two walls about one axis put together where there is air between."""
    pairs = []
    for a, piece in enumerate(recesses):
        for ring in rings_of(shape, piece.patches) if _may_be_piece(shape, piece) else []:
            mates = [b for b, other in enumerate(recesses) if b != a and _goes_on(shape, piece, other, ring)]
            pairs += [(a, b) for b in mates if _air_between(shape, piece, recesses[b], ring)]
    groups = linked.groups(len(recesses), pairs)
    return [_together(shape, sight, [recesses[i] for i in group]) for group in groups]


def _may_be_piece(shape: PartShape, recess: Recess) -> bool:
    plain = not (recess.core or recess.shared or recess.span or recess.behind)
    return plain and len({shape.carriers[f] for f in recess.floors}) == 1


def _goes_on(shape: PartShape, piece: Recess, other: Recess, ring: Ring) -> bool:
    """True for a piece on the same floor with nothing but the ring's walls, one of them at least, and an end of it."""
    if not _may_be_piece(shape, other) or shape.carriers[other.floors[0]] != shape.carriers[piece.floors[0]]:
        return False
    walls = [p for p in other.patches if is_wall(shape.patches[p], other.axis)]
    own = {shape.carriers[p.index] for p in (ring.core, ring.outer)}
    rest = [shape.patches[p] for p in walls if shape.carriers[p] not in own]
    ends = all(ring.rounds(p.surface) if p.surface.hollow else ring.crossed_by(p) is not None for p in rest)
    return len(rest) < len(walls) and ends


def _air_between(shape: PartShape, a: Recess, b: Recess, ring: Ring) -> bool:
    """True when nothing stands on the middle of the slot between two of its pieces, the shorter way round."""
    frame = any_frame(ring.origin, ring.axis)
    level = dot(shape.patches[a.floors[0]].surface.origin, a.axis) + OVER
    spans = [_span(shape, r, frame) for r in (a, b)]
    start = spans[0]
    turn = (spans[1] - start + math.pi) % math.tau - math.pi
    spots = [_spot(ring, frame, start + turn * k / CHORDS, (a.axis, level)) for k in range(CHORDS + 1)]
    ways = [(p, sub(q, p)) for p, q in pairwise(spots)]
    return not any(crossings(shape, p, scale(way, 1 / norm(way)), 0.0, norm(way)) for p, way in ways if norm(way) > 0)


def _span(shape: PartShape, recess: Recess, frame: Frame) -> float:
    """The angle at which the middle of a piece's floors is seen from a ring's axis (rad)."""
    spots = [p for f in recess.floors for r in shape.patches[f].loops[0] for p in r.points]
    way = (0.0, 0.0, 0.0)
    for spot in spots:
        arm = sub(spot, frame.location)
        way = add(way, arm, 1 / max(norm(arm), SAME_LENGTH))
    return math.atan2(dot(way, frame.y), dot(way, frame.x))


def _spot(ring: Ring, frame: Frame, angle: float, height: tuple[Vec3, float]) -> Vec3:
    axis, level = height
    arm = add(scale(frame.x, math.cos(angle)), frame.y, math.sin(angle))
    place = add(ring.origin, arm, ring.middle)
    return add(place, axis, level - dot(place, axis))


def _together(shape: PartShape, sight: Sight, pieces: Sequence[Recess]) -> Recess:
    if len(pieces) == 1:
        return pieces[0]
    first = pieces[0]
    patches = tuple(sorted({p for piece in pieces for p in piece.patches}))
    floors = tuple(sorted({f for piece in pieces for f in piece.floors}))
    free = {r.other for f in floors for r in shape.patches[f].rims if r.convexity == "convex"} - set(patches)
    upright = {o for o in free if abs(dot(shape.patches[o].surface.axis, first.axis)) < SQUARE}
    round_ = {o for o in free if shape.patches[o].surface.kind == "cylinder"}
    seen = tuple(d for d in sight.distinct([d for piece in pieces for d in piece.seen]) if sight.sees(patches, d))
    bridged = {*upright, *round_, *(b for piece in pieces for b in piece.bridged)}
    return Recess(patches, first.axis, floors, seen, bridged=tuple(sorted(bridged)))
