"""What holes as deep as a recess take of its walls: each wall goes on where a hole took it, and what lies behind it
there is the hole's own step's to take (mm)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile

from schemas.base import Frame
from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.planar import Region, inside_of
from worker.kernel.planar_edge import (
    HALF_TURN,
    Edge,
    Point2,
    distance,
    line,
    piece,
    point_at,
    reverse,
    tangent_at,
)
from worker.kernel.planar_meet import Known, crossings

Circle = tuple[Point2, float]
Walled = Sequence[tuple[Edge, bool]]
"""A closed border, what it goes round on its left: its edges in order, each with whether a wall stands there."""


def circles_of(frame: Frame, holes: Sequence[Feature]) -> list[Circle]:
    """The holes' middles in the setup's x, y, and their radii."""
    places = (frame.to_local(hole.placement.location) for hole in holes)
    return [((x, y), (hole.diameter or 0.0) / 2) for (x, y, _), hole in zip(places, holes, strict=True)]


def bays(border: Walled, holes: Sequence[Circle], *, onward: bool) -> list[Region]:
    """What a border goes round behind the walls at both ends of each run along holes, a side of the part that cuts them
    open included; ``onward``: the recess goes on in a hole that ends it, as a slot does, others end where it begins."""
    along = [_runs_along(edge, holes) for edge, _ in border]
    inside = [on or (not wall and _lies_in(edge, holes)) for on, (edge, wall) in zip(along, border, strict=True)]
    runs = [_run(border, *run) for run in _stretches(along, inside)]
    return [found for run in runs for found in _behind(run, holes, onward)]


def _stretches(along: Sequence[bool], inside: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """The first of each run of edges inside holes, from the first to the last along one, and how many they are."""
    count = len(along)
    for begin in (i for i, on in enumerate(inside) if on and not inside[i - 1]):
        size = next(k for k in range(count) if not inside[(begin + k) % count])
        arcs = [k for k in range(size) if along[(begin + k) % count]]
        if arcs:
            yield (begin + arcs[0]) % count, arcs[-1] - arcs[0] + 1


@dataclass(frozen=True)
class _Run:
    """A run along holes between the edges before and after it; a side is open from there on where no wall stands."""

    before: Edge
    arcs: list[Edge]
    after: Edge
    walled: tuple[bool, bool]
    open_before: list[Edge]
    open_after: list[Edge]


def _run(border: Walled, first: int, size: int) -> _Run:
    """The run that begins there and has so many edges, with what is before and after it."""
    turned = [*border[first:], *border[:first]]
    others = turned[size:]
    ends = [[edge for edge, _ in takewhile(lambda one: not one[1], some)] for some in (others[::-1], others)]
    arcs = [edge for edge, _ in turned[:size]]
    return _Run(others[-1][0], arcs, others[0][0], (others[-1][1], others[0][1]), ends[0][::-1], ends[1])


def _runs_along(edge: Edge, holes: Sequence[Circle]) -> bool:
    """Whether an edge lies on a hole's circle."""
    places = [point_at(edge, t) for t in (0.0, 0.5, 1.0)]
    return any(all(abs(distance(middle, p) - radius) <= LENGTH for p in places) for middle, radius in holes)


def _lies_in(edge: Edge, holes: Sequence[Circle]) -> bool:
    """Whether a hole's circle goes round all of an edge."""
    places = [point_at(edge, t) for t in (0.0, 0.5, 1.0)]
    return any(all(distance(middle, p) <= radius + LENGTH for p in places) for middle, radius in holes)


def _behind(run: _Run, holes: Sequence[Circle], goes_on: bool) -> Iterator[Region]:
    """What a run goes round past the walls beside it, each carried on until they meet, or to the open side that the run
    comes out at; nothing between two open sides.

    Where they do not meet, those of what ``goes_on`` do so until the hole ends, others are joined straight.
    """
    far = 4.0 * max(radius for _, radius in holes)
    onward, back = _carried(run.before, far), _carried(reverse(run.after), far)
    met = [p for p in crossings(Known(onward), Known(back), COINCIDENT) if _within(p, holes)]
    if not any(run.walled):
        return
    if met:
        at = min(met, key=lambda p: distance(p, onward.a))
        yield from _enclosed(run.arcs, [_to(onward, at), reverse(_to(back, at))])
    elif all(run.walled) and not (goes_on and _lies_before(run.after.a, onward)):
        yield from _enclosed(run.arcs, [line(run.before.b, run.after.a)])
    else:
        if run.walled[0]:
            yield from _past([*run.arcs, *run.open_after], onward)
        if run.walled[1]:
            yield from _past([reverse(edge) for edge in (*run.open_before, *run.arcs)][::-1], back)


def _carried(edge: Edge, far: float) -> Edge:
    """How an edge goes on where it ends: straight so far, or up to half round its circle."""
    if edge.centre is None:
        tx, ty = tangent_at(edge, 1.0)
        return line(edge.b, (edge.b[0] + far * tx, edge.b[1] + far * ty))
    sweep = HALF_TURN if edge.sweep > 0 else -HALF_TURN
    opposite = (2 * edge.centre[0] - edge.b[0], 2 * edge.centre[1] - edge.b[1])
    return Edge(edge.b, opposite, edge.centre, edge.radius, sweep)


def _within(point: Point2, holes: Sequence[Circle]) -> bool:
    return any(distance(point, middle) <= radius + LENGTH for middle, radius in holes)


def _to(edge: Edge, point: Point2) -> Edge:
    return piece(edge, 0.0, Known(edge).fraction(point), edge.a, point)


def _lies_before(point: Point2, wall: Edge) -> bool:
    """Whether a point lies on the left of a wall where that begins."""
    tx, ty = tangent_at(wall, 0.0)
    return tx * (point[1] - wall.a[1]) - ty * (point[0] - wall.a[0]) > COINCIDENT


def _past(arcs: Sequence[Edge], onward: Edge) -> Iterator[Region]:
    """What a wall that is carried on cuts off from a run, up to where it first comes to it again."""
    known = Known(onward)
    for k, arc in enumerate(arcs):
        own = Known(arc)
        ends = [p for p in crossings(own, known, COINCIDENT) if known.fraction(p) * known.long > LENGTH]
        if ends:
            end = min(ends, key=known.fraction)
            yield from _enclosed([*arcs[:k], _to(arc, end)], [_to(onward, end)])
            return


def _enclosed(arcs: Sequence[Edge], way: Sequence[Edge]) -> Iterator[Region]:
    """What a run and another way from its beginning to its end go round."""
    edges = [edge for edge in (*arcs, *(reverse(one) for one in way[::-1])) if distance(edge.a, edge.b) > COINCIDENT]
    if found := inside_of(edges):
        yield found
