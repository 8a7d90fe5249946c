"""Vees and round-bottomed grooves that something divides: pieces that have what leans in them in common."""

from __future__ import annotations

from collections.abc import Sequence

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import LIMIT, SQUARE
from worker.recognise.bulges import area_vector
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, hollow, is_wall
from worker.recognise.through_slots import FAR, OVER

ONE_WAY = 0.9
"""Round walls on one axis are pieces of one trough where they look the same way, but for so much (cosine)."""


def in_trough(shape: PartShape, group: Sequence[int]) -> tuple[int, ...]:
    """A group with the round walls before and behind it in one line, where it is a trough that something crosses.

    Seen from its end a piece is no deeper than it is long: that would read short pieces from there, long ones not.
    """
    round_ = [p for p in group if shape.patches[p].surface.kind == "cylinder"]
    if len({shape.carriers[p] for p in round_}) != 1 or not hollow(shape.patches[round_[0]]):
        return tuple(group)
    way = shape.patches[round_[0]].surface.axis
    others = [p for p in shape.of_carrier[shape.carriers[round_[0]]] if p not in group]
    if not others or not all(is_wall(shape.patches[p], way) for p in group):
        return tuple(group)
    here, placed = _middle(shape, group, way), sorted((_middle(shape, (p,), way), p) for p in others)
    back, ahead = [p for at, p in placed[::-1] if at < here], [p for at, p in placed if at >= here]
    found = tuple(round_)
    for piece in (*back, *ahead):
        found = (*found, piece) if _goes_on(shape, found, piece) else found
    return (*group, *found)


def _middle(shape: PartShape, patches: Sequence[int], way: Vec3) -> float:
    return sum(extent(shape, patches, way)) / 2


def _goes_on(shape: PartShape, trough: Sequence[int], piece: int) -> bool:
    """True for a round wall that goes on beyond a gap of air that is not far (see ``FAR``)."""
    surface = shape.patches[piece].surface
    out, other = (area_vector(shape.patches[p] for p in some) for some in (trough, (piece,)))
    if dot(out, other) < ONE_WAY * norm(out) * norm(other):
        return False
    spans = sorted(extent(shape, some, surface.axis) for some in (trough, (piece,)))
    walls, gap = sum(high - low for low, high in spans), spans[1][0] - spans[0][1]
    low, high = extent(shape, trough, unit(cross(surface.axis, out)))
    start = add(surface.origin, unit(out), OVER - surface.radius)
    start = add(start, surface.axis, sum(spans[0]) / 2 - dot(start, surface.axis))
    reach = sum(spans[1]) / 2 - sum(spans[0]) / 2
    near = gap <= max(FAR * walls, high - low) + LIMIT
    return near and not crossings(shape, start, surface.axis, 0.0, reach)


def one_groove(shape: PartShape, a: Recess, b: Recess) -> bool:
    """True for two pieces without a floor of one groove, with nothing but air over its bottom between them."""
    if dot(a.axis, b.axis) < 1 - SQUARE**2 or not _leaning(shape, a) & _leaning(shape, b):
        return False
    bottom, other = _bottom(shape, a), _bottom(shape, b)
    if not bottom or not other or norm(cross(bottom[1], other[1])) > SQUARE:
        return False
    start, way = bottom
    spots = [sum(extent(shape, r.patches, way)) / 2 for r in (a, b)]
    start = add(start, way, spots[0] - dot(start, way))
    line = scale(way, 1.0 if spots[1] > spots[0] else -1.0)
    aside = sub(other[0], start)
    on_line = norm(add(aside, way, -dot(aside, way))) < OVER
    return on_line and not crossings(shape, start, line, 0.0, abs(spots[1] - spots[0]))


def _leaning(shape: PartShape, recess: Recess) -> set[int]:
    """Carriers of what is no upright wall in a recess."""
    return {shape.carriers[p] for p in recess.patches if not is_wall(shape.patches[p], recess.axis)}


def _bottom(shape: PartShape, recess: Recess) -> tuple[Vec3, Vec3] | None:
    """A place a little over the lowest line of a groove, and the way that runs; None for what is no groove."""
    leaning = [p for p in (shape.patches[o] for o in recess.patches) if not is_wall(p, recess.axis)]
    lying = [p.surface for p in leaning if p.surface.kind == "cylinder" and hollow(p)]
    if lying and abs(dot(lying[0].axis, recess.axis)) < SQUARE:
        return add(lying[0].origin, recess.axis, OVER - lying[0].radius), lying[0].axis
    flat = [p for p in leaning if p.surface.kind == "plane"]
    sides, off = {p.index for p in flat}, recess.axis
    if len({shape.carriers[p] for p in sides}) == 1:  # beside one upright wall: half way between that and the slope
        beside = {o for p in flat for o in p.concave if o in recess.patches}
        upright = [o for o in sorted(beside) if shape.patches[o].surface.kind == "plane"]
        sides.update(upright)
        off = unit(add(flat[0].surface.axis, shape.patches[upright[0]].surface.axis)) if upright else off
    vee = len(flat) == len(leaning) and len({shape.carriers[p] for p in sides}) == 2
    for p in flat if vee else ():
        meet = [r for r in p.rims if r.other in sides and r.curve == "line" and r.convexity in ("concave", "convex")]
        line = sub(meet[0].points[-1], meet[0].points[0]) if meet else (0.0, 0.0, 0.0)
        if meet and abs(dot(line, recess.axis)) < SQUARE * norm(line):
            way = unit(line)
            return add(meet[0].points[0], off, OVER), way if way > (0.0, 0.0, 0.0) else scale(way, -1.0)
    return None


def beside_crossing(shape: PartShape, a: Recess, b: Recess) -> set[int]:
    """What bounds two pieces of a groove between them: the sides of what crosses it."""
    bottom = _bottom(shape, a)
    if not bottom:
        return set()
    members, way = {*a.patches, *b.patches}, bottom[1]
    low, high = sorted(sum(extent(shape, r.patches, way)) / 2 for r in (a, b))
    rims = [r for p in members for r in shape.patches[p].rims if r.other not in members]
    across = [r for r in rims if norm(cross(sub(r.points[-1], r.points[0]), way)) > SQUARE * r.length]
    return {r.other for r in across if all(low < dot(p, way) < high for p in r.points)}
