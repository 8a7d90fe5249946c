"""Corners in which a region turns left, rounded where they lie outside a box: there no round wall of a cutter ends."""

from __future__ import annotations

import math
from dataclasses import replace

from schemas.tolerances import COINCIDENT, SEAM
from worker.kernel.planar import Bounds, Region, boxes_meet
from worker.kernel.planar_edge import Edge, Point2, angle_of, distance, line, piece, polar, tangent_at
from worker.kernel.planar_meet import Known, crossings
from worker.kernel.planar_trace import Loop

NEIGHBOURS = sorted(((i, j) for i in range(4) for j in range(4)), key=lambda steps: (sum(steps), steps))
"""How many edges before and after a corner are left out, those first that leave out few."""


def eased(region: Region, radius: float, outside: Bounds) -> Region | None:
    """The region with an arc of that radius in each corner where its border turns left; None where such a corner, as
    far as the centre of its arc, does not lie outside the box, or is not as long as that."""
    loops = [_eased(loop, radius, outside) for loop in region.loops]
    found = tuple(loop for loop in loops if loop is not None)
    return Region(found) if len(found) == len(loops) else None


def turn(before: Edge, after: Edge) -> float:
    """How far a border turns to the left between two edges (radians)."""
    (ax, ay), (bx, by) = tangent_at(before, 1.0), tangent_at(after, 0.0)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _eased(loop: Loop, radius: float, outside: Bounds) -> Loop | None:
    for _ in range(len(loop) + 1):  # once more than there may be corners: to see that none is left
        sharp = [k for k in range(len(loop)) if turn(loop[k - 1], loop[k]) * radius > SEAM]
        if not sharp:
            return loop
        turned = (*loop[sharp[0] :], *loop[: sharp[0]])
        tried = (_without_corner(turned, i, j, radius, outside) for i, j in NEIGHBOURS if i + j + 2 < len(turned))
        found = next((one for one in tried if one is not None), None)
        if found is None:
            return None
        loop = found
    return None


def _without_corner(loop: Loop, i: int, j: int, radius: float, outside: Bounds) -> Loop | None:
    """The loop with an arc for the corner where it begins, without its first ``j`` and last ``i`` edges: they are too
    short for it."""
    before, after = loop[-1 - i], loop[j]
    centre = _touching(before, after, radius)
    if centre is None:
        return None
    a, b = _foot(before, centre), _foot(after, centre)
    xs, ys = zip(centre, a, b, *(e.a for e in (*loop[: j + 1], *loop[len(loop) - i :])), strict=True)
    first, last = _between(after, b, after.b), _between(before, before.a, a)
    if first is None or last is None or boxes_meet((min(xs), min(ys), max(xs), max(ys)), outside):
        return None
    arc = Edge(a, b, centre, radius, (angle_of(centre, b) - angle_of(centre, a)) % math.tau)
    return (first, *loop[j + 1 : len(loop) - 1 - i], last, arc)


def _touching(before: Edge, after: Edge, radius: float) -> Point2 | None:
    """The centre of the arc that touches both edges on their left."""
    first, second = _moved(before, radius), _moved(after, radius)
    if first is None or second is None:
        return None
    met = crossings(Known(first), Known(second), COINCIDENT)
    return min(met, key=lambda p: distance(p, after.a), default=None)


def _moved(edge: Edge, amount: float) -> Edge | None:
    """The edge moved to its left; None for an arc that is not larger than that."""
    a, b = (
        (x - amount * ty, y + amount * tx)
        for (x, y), (tx, ty) in ((edge.a, tangent_at(edge, 0.0)), (edge.b, tangent_at(edge, 1.0)))
    )
    if edge.centre is None:
        return line(a, b)
    radius = edge.radius - math.copysign(amount, edge.sweep)
    return replace(edge, a=a, b=b, radius=radius) if radius > SEAM else None


def _foot(edge: Edge, point: Point2) -> Point2:
    """The place on the edge's line or circle nearest to a point."""
    if edge.centre is not None:
        return polar(edge.centre, edge.radius, angle_of(edge.centre, point))
    tx, ty = tangent_at(edge, 0.0)
    along = (point[0] - edge.a[0]) * tx + (point[1] - edge.a[1]) * ty
    return (edge.a[0] + along * tx, edge.a[1] + along * ty)


def _between(edge: Edge, a: Point2, b: Point2) -> Edge | None:
    """The edge from one of its points on to another; None where they lie the other way round."""
    own = Known(edge)
    first, last = own.fraction(a), own.fraction(b)
    return piece(edge, first, last, a, b) if first < last else None
