"""Vees and round-bottomed grooves that something divides: pieces that have what leans in them in common."""

from __future__ import annotations

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import SQUARE
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, hollow, is_wall
from worker.recognise.through_slots import OVER


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
    vee = len(flat) == len(leaning) and len({shape.carriers[p.index] for p in flat}) == 2
    for p in flat if vee else ():
        meet = [r for r in p.rims if r.other in recess.patches and r.curve == "line" and r.convexity == "concave"]
        line = sub(meet[0].points[-1], meet[0].points[0]) if meet else (0.0, 0.0, 0.0)
        if meet and abs(dot(line, recess.axis)) < SQUARE * norm(line):
            way = unit(line)
            return add(meet[0].points[0], recess.axis, OVER), way if way > (0.0, 0.0, 0.0) else scale(way, -1.0)
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
