"""Open sides in the plane: which border of a footprint is walled, and how far it reaches past the open rest.

An open side is a maximal run of border without a wall. It is extended between the continuations of the two walls
that close it, so a step that is open on three sides also takes the outer corners between them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from worker.kernel.planar import NOWHERE, Region, inside_of, intersect, union
from worker.kernel.planar_edge import Edge, Point2, angle_of, area_under, distance, line, polar, reverse, tangent_at
from worker.kernel.planar_meet import Known
from worker.kernel.planar_trace import arrangement

SNAP = 1e-6
STEP = math.pi / 3
"""Largest angle between two far corners of an extension."""
FACING = math.cos(math.radians(25.0))
"""Cosine from which two walls go on towards each other: an angle at which walls seldom stand."""


@dataclass(frozen=True)
class Side:
    """A run of open border, counter-clockwise, with the tangents of the walls before and after it."""

    edges: tuple[Edge, ...]
    before: Point2
    after: Point2


def extended(core: Region, sides: Sequence[Side], domain: Region) -> Region:
    """The footprint with the ground past its open sides, out to the end of the domain."""
    x0, y0, x1, y1 = domain.bounds
    reach = 4.0 * math.hypot(x1 - x0, y1 - y0)
    grounds = [intersect(_ground(side, reach), domain) for side in sides]
    return union([core, *grounds])


def _ground(side: Side, reach: float) -> Region:
    """What lies past one open side, between the continuations of its closing walls."""
    start, end = side.edges[0].a, side.edges[-1].b
    onward, backward = side.before, (-side.after[0], -side.after[1])
    opening = _turning(side) - math.pi
    if opening < -1e-9:
        meeting = _meeting(start, onward, end, backward) or _passing(start, onward, end, backward)
        if meeting is not None:
            return _closed([line(start, meeting), line(meeting, end)], side)
    far = [_along(start, onward, reach), *_fan(start, end, onward, opening, reach), _along(end, backward, reach)]
    corners = [start, *far, end]
    return _closed([line(p, q) for p, q in pairwise(corners)], side)


def _closed(outer: list[Edge], side: Side) -> Region:
    """What the outer lines and the open border, walked back, go round."""
    return inside_of([*outer, *(reverse(e) for e in side.edges[::-1])])


def _turning(side: Side) -> float:
    """How far the border turns left from the wall before to the wall after, corners and arcs together."""
    tangents = [side.before]
    total = 0.0
    for edge in side.edges:
        tangents += [tangent_at(edge, 0.0), tangent_at(edge, 1.0)]
        total += edge.sweep
    tangents.append(side.after)
    return total + sum(_turn(tangents[i], tangents[i + 1]) for i in range(0, len(tangents), 2))


def _turn(a: Point2, b: Point2) -> float:
    """Left turn between two directions; straight back counts as left."""
    turn = math.atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])
    return math.pi if turn < 1e-9 - math.pi else turn


def _fan(start: Point2, end: Point2, onward: Point2, opening: float, reach: float) -> list[Point2]:
    """Far corners between the two continuations."""
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    count = max(1, math.ceil(abs(opening) / STEP))
    heading = math.atan2(onward[1], onward[0])
    angles = [heading + opening * i / count for i in range(1, count)]
    return [(middle[0] + 2 * reach * math.cos(a), middle[1] + 2 * reach * math.sin(a)) for a in angles]


def _along(p: Point2, direction: Point2, reach: float) -> Point2:
    return (p[0] + reach * direction[0], p[1] + reach * direction[1])


def _meeting(p: Point2, d: Point2, q: Point2, e: Point2) -> Point2 | None:
    """Where two rays meet; None when they do not."""
    det = d[0] * e[1] - d[1] * e[0]
    if abs(det) < 1e-9:
        return None
    t = ((q[0] - p[0]) * e[1] - (q[1] - p[1]) * e[0]) / det
    s = ((q[0] - p[0]) * d[1] - (q[1] - p[1]) * d[0]) / det
    return _along(p, d, t) if t > SNAP and s > SNAP else None


def _passing(p: Point2, d: Point2, q: Point2, e: Point2) -> Point2 | None:
    """Where the gap of two walls ends that go on towards each other on lines apart: on the outer one, at the other's
    end. None when they run another way."""
    if d[0] * e[0] + d[1] * e[1] > -FACING:
        return None
    gx, gy = q[0] - p[0], q[1] - p[1]
    if d[0] * gy - d[1] * gx < 0:
        return _along(q, e, max(-gx * e[0] - gy * e[1], 0.0))
    return _along(p, d, max(gx * d[0] + gy * d[1], 0.0))


def open_sides(pieces: Sequence[tuple[Edge, bool]]) -> list[Side] | None:
    """The open runs of a closed border given as (edge, walled); None when no wall stands anywhere."""
    count = len(pieces)
    first = next((i for i in range(count) if pieces[i][1]), None)
    if first is None:
        return None
    sides: list[Side] = []
    run: list[Edge] = []
    before = tangent_at(pieces[first][0], 1.0)
    for i in range(first + 1, first + count + 1):
        edge, walled = pieces[i % count]
        if not walled:
            run.append(edge)
            continue
        if run:
            sides.append(Side(tuple(run), before, tangent_at(edge, 0.0)))
        run, before = [], tangent_at(edge, 1.0)
    return sides


def wall_chains(walls: Sequence[Edge]) -> list[list[Edge]]:
    """Walls with the free side on their left, chained end to start; closed chains end where they begin."""
    directed = arrangement(tuple(map(Known, walls)), SNAP)
    starts: dict[Point2, list[Edge]] = {}
    for edge in directed:
        starts.setdefault(edge.a, []).append(edge)
    ends = {e.b for e in directed}
    chains = []
    for edge in [e for e in directed if e.a not in ends] + directed:
        if edge in starts.get(edge.a, ()):
            chains.append(_follow(edge, starts))
    return chains


def _follow(first: Edge, starts: dict[Point2, list[Edge]]) -> list[Edge]:
    chain = [first]
    starts[first.a].remove(first)
    while starts.get(chain[-1].b):
        chain.append(starts[chain[-1].b].pop(0))
    return chain


def with_level_ends(chain: Sequence[Edge]) -> list[Edge]:
    """The chain of a curved slot that something wider ends; its inner wall goes on as far round as the outer one.

    Straight on from where it ends it would stand in the way of a cutter as wide as the slot.
    """
    (first, last), found = (chain[0], chain[-1]), list(chain)
    if first.centre is None or last.centre is None or distance(first.centre, last.centre) > SNAP:
        return found
    short = math.remainder(angle_of(last.centre, first.a) - angle_of(last.centre, last.b), math.tau)
    if not -STEP < short < 0:
        return found
    if last.sweep < 0 < first.sweep:
        end = polar(last.centre, last.radius, angle_of(last.centre, first.a))
        return [*found, Edge(last.b, end, last.centre, last.radius, short)]
    if first.sweep < 0 < last.sweep:
        start = polar(first.centre, first.radius, angle_of(first.centre, last.b))
        return [Edge(start, first.a, first.centre, first.radius, short), *found]
    return found


def chain_side(chain: Sequence[Edge]) -> Side | None:
    """The open side of a chain of walls, along its chord; None for a closed chain."""
    start, end = chain[-1].b, chain[0].a
    if distance(start, end) <= SNAP:
        return None
    return Side((line(start, end),), tangent_at(chain[-1], 1.0), tangent_at(chain[0], 0.0))


def chain_core(chain: Sequence[Edge]) -> Region:
    """What a chain of walls and its chord enclose; empty when they run straight or turn the other way."""
    side = chain_side(chain)
    loop = (*chain, *(side.edges if side else ()))
    return Region((loop,)) if area_under(loop) > SNAP else NOWHERE
