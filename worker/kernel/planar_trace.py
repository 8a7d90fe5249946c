"""From a heap of edges and a rule for "inside" to the closed loops that bound the inside.

All edges are split where they meet, pieces that lie on each other become one, and a piece stays when the rule
holds on one side of it only. Loops come out with the inside on their left.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import count, pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import BORDER_GAP
from worker.kernel.errors import KernelError
from worker.kernel.journal import note
from worker.kernel.planar_edge import (
    Edge,
    Floats,
    Point2,
    angle_of,
    area_under,
    distance,
    length,
    middle_of,
    piece,
    point_at,
    reverse,
    tangent_at,
)
from worker.kernel.planar_meet import Known, crossings

Inside = Callable[[Floats], NDArray[np.bool_]]
Loop = tuple[Edge, ...]
SNAPS = (1e-6, 1e-5, 1e-7, 1e-4)
"""Distances (mm) within which points are one point, tried in turn until all loops close."""
PROBE = 4.0
"""The two sides of a piece are looked at this many snap distances from its middle."""
CELL = 64.0
MARGIN = 1.5 / CELL
STRETCH = 2.0
"""The longest side (mm) of a sliver that a border is closed along."""
FLAT = 1e-7
"""A corner that lies this near (mm) to the line between its neighbours is none: the kernel's own confusion."""
SPECK = 5e-6
"""Edges of loops are longer than this (mm)."""
NOTCH = 2e-3
"""Length (mm) of a notch or bump in a wall that is none: exporters round to a micrometre or so."""


class Nodes:
    """Points that are merged when they lie within the snap distance of each other."""

    def __init__(self, snap: float) -> None:
        self.snap = snap
        self.points: list[Point2] = []
        self._cells: dict[tuple[int, int], list[int]] = {}
        self._known: dict[Point2, int] = {}

    def number(self, p: Point2) -> int:
        """The number of the point; a new one where none lies near."""
        found = self._known.get(p)
        if found is None:
            found = self._known[p] = self._found(p)
        return found

    def _found(self, p: Point2) -> int:
        cx, cy = p[0] / (CELL * self.snap), p[1] / (CELL * self.snap)
        home = (math.floor(cx), math.floor(cy))
        inner = MARGIN < cx - home[0] < 1 - MARGIN and MARGIN < cy - home[1] < 1 - MARGIN
        for key in (home,) if inner else [(home[0] + i, home[1] + j) for i in (0, -1, 1) for j in (0, -1, 1)]:
            for n in self._cells.get(key, ()):
                if distance(self.points[n], p) <= self.snap:
                    return n
        self.points.append(p)
        self._cells.setdefault(home, []).append(len(self.points) - 1)
        return len(self.points) - 1


def trace(edges: Sequence[Known], inside: Inside, groups: Sequence[int] = ()) -> tuple[Loop, ...]:
    """The loops that bound the points for which ``inside`` holds; raises KernelError when they do not close.

    ``groups`` gives each edge the number of the clean region it comes from: edges of one group do not cross.
    """
    for snap in SNAPS:
        for given in (groups, ()) if groups else ((),):  # regions of fitted arcs may touch themselves after all
            loops = _chain(_border(edges, inside, snap, given))
            if loops is not None:
                return loops
    return _bridged(edges, inside)


def _bridged(edges: Sequence[Known], inside: Inside) -> tuple[Loop, ...]:
    """Loops closed over small gaps, which are told, or along a side of a sliver that is too thin for its sides to be
    told apart: fitted arcs that touch a line can leave a sliver undecided on a part of its length, or have it told
    twice, of both its sides."""
    for snap in SNAPS[:3]:
        pieces = arrangement(edges, snap)
        kept, left = _sorted_out(pieces, inside, snap)
        back = [reverse(edge) for edge in _told_twice(kept, 2 * PROBE * snap)]
        bridges = _bridges(kept, [*left, *map(reverse, left), *back])
        loops = _chain(_without_ways_back(kept, bridges)) if bridges else None
        if loops is not None:
            _tell(bridges)
            return tuple(loop for loop in loops if abs(area_under(loop)) > BORDER_GAP * snap)
    raise KernelError("trace", "the boundary of a plane region does not close")


def closing(edges: Sequence[Edge]) -> list[Edge]:
    """Straight lines from where edges end to where others begin, over gaps that are told; none where one is wider than
    BORDER_GAP."""
    found = _bridges(edges, ())
    if found:
        _tell(found)
    return found


def _tell(bridges: Sequence[Edge]) -> None:
    note(f"plane region: border closed over {len(bridges)} gaps of up to {max(map(length, bridges)):.2g} mm")


def _told_twice(kept: Sequence[Edge], near: float) -> list[Edge]:
    """Pieces no longer than ``STRETCH`` beside whose middle another one runs: sides of a sliver, of which one is none
    of the border."""
    known = [Known(edge) for edge in kept]
    middles = [(edge, point_at(edge, 0.5)) for edge in kept if length(edge) <= STRETCH]
    return [e for e, middle in middles if any(one.edge is not e and one.touches(middle, near) for one in known)]


def _without_ways_back(kept: Sequence[Edge], bridges: Sequence[Edge]) -> list[Edge]:
    """Border and bridges without what a bridge goes back along."""
    back = {reverse(edge) for edge in bridges}.intersection(kept)
    return [edge for edge in (*kept, *bridges) if edge not in back and reverse(edge) not in back]


def _bridges(kept: Sequence[Edge], ways: Sequence[Edge]) -> list[Edge]:
    """From each point where an edge ends and none goes on to one where one starts: straight to the nearest, or along
    ``ways``; none where there is no way."""
    balance: dict[Point2, int] = {}
    for edge in kept:
        balance[edge.a] = balance.get(edge.a, 0) + 1
        balance[edge.b] = balance.get(edge.b, 0) - 1
    starts = [p for p, surplus in balance.items() for _ in range(surplus)]
    found: list[Edge] = []
    for end in [p for p, surplus in balance.items() for _ in range(-surplus)]:
        nearest = min(starts, key=lambda p: distance(p, end))
        way = [Edge(end, nearest)] if distance(nearest, end) <= BORDER_GAP else _way(end, starts, ways)
        if not way:
            return []
        starts.remove(way[-1].b)
        found += way
    return found


def _way(end: Point2, starts: Sequence[Point2], ways: Sequence[Edge]) -> list[Edge]:
    """The shortest way along pieces from a point to one of several; empty where all are longer than ``STRETCH``."""
    onward: dict[Point2, list[Edge]] = {}
    for one in ways:
        onward.setdefault(one.a, []).append(one)
    number = count()
    found: list[tuple[float, int, list[Edge]]] = [(0.0, next(number), [])]
    seen: set[Point2] = set()
    while found:
        long, _, way = heapq.heappop(found)
        here = way[-1].b if way else end
        if here in starts:
            return way
        for one in onward.get(here, ()) if here not in seen else ():
            if long + length(one) <= STRETCH:
                heapq.heappush(found, (long + length(one), next(number), [*way, one]))
        seen.add(here)
    return []


def welded(edges: Sequence[Edge], snap: float = SNAPS[0]) -> list[Edge]:
    """The edges with ends that lie within ``snap`` of each other made the same point, to the last digit.

    Winding numbers are counted along a ray, which would slip through the smallest gap.
    """
    nodes = Nodes(snap)
    return [_between(e, nodes.points[nodes.number(e.a)], nodes.points[nodes.number(e.b)]) for e in edges]


def _between(edge: Edge, a: Point2, b: Point2) -> Edge:
    return edge if a == edge.a and b == edge.b else replace(edge, a=a, b=b)


def _border(edges: Sequence[Known], inside: Inside, snap: float, groups: Sequence[int]) -> list[Edge]:
    """The pieces of edges with the inside on one side only, directed so that it lies on their left."""
    return _sorted_out(arrangement(edges, snap, groups), inside, snap)[0]


def _sorted_out(pieces: Sequence[Edge], inside: Inside, snap: float) -> tuple[list[Edge], list[Edge]]:
    """The pieces of the border, directed so that the inside lies on their left, and the others."""
    if not pieces:
        return [], []
    both = list(zip(pieces, *_sides(pieces, inside, PROBE * snap), strict=True))
    kept = [e if at_left else reverse(e) for e, at_left, at_right in both if at_left != at_right]
    return kept, [e for e, at_left, at_right in both if at_left == at_right]


def _sides(pieces: Sequence[Edge], inside: Inside, step: float) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    there = np.array([middle_of(e) for e in pieces])
    middles, normals = there[:, :2], there[:, [3, 2]] * (-step, step)
    found = inside(np.concatenate((middles + normals, middles - normals)))
    return found[: len(pieces)], found[len(pieces) :]


def arrangement(edges: Sequence[Known], snap: float, groups: Sequence[int] = ()) -> list[Edge]:
    """The edges split where they meet, each piece once."""
    present = [i for i, one in enumerate(edges) if one.long > snap]
    useful = [edges[i] for i in present]
    numbers = np.array([groups[i] for i in present] if groups else range(len(present)))
    if not useful:
        return []
    nodes = Nodes(snap)
    ends = [(nodes.number(one.edge.a), nodes.number(one.edge.b)) for one in useful]
    cuts = _cuts(useful, numbers, snap)
    split = (_split(one, *numbers, points, nodes) for one, numbers, points in zip(useful, ends, cuts, strict=True))
    return _unique([part for parts in split for part in parts], snap)


def _cuts(edges: Sequence[Known], groups: NDArray[np.int64], snap: float) -> list[list[Point2]]:
    """Where others meet each edge. Two that run along each other are cut at the same places, also where a third meets
    but one of them: else their pieces differ, and neither is told to be the other's double."""
    cuts: list[dict[Point2, None]] = [{} for _ in edges]
    along = []
    for i, j in _neighbours(np.array([one.box for one in edges]), groups, snap):
        met = dict.fromkeys(crossings(edges[i], edges[j], snap))
        cuts[i] |= met
        cuts[j] |= met
        if any(distance(p, q) > snap for p, q in pairwise(met)):
            along.append((i, j))
    for i, j in along:
        mine, others = cuts[i].keys() - cuts[j].keys(), cuts[j].keys() - cuts[i].keys()
        cuts[i] |= dict.fromkeys(p for p in sorted(others) if edges[i].touches(p, snap))
        cuts[j] |= dict.fromkeys(p for p in sorted(mine) if edges[j].touches(p, snap))
    return [list(found) for found in cuts]


def _neighbours(boxes: Floats, groups: NDArray[np.int64], snap: float) -> list[tuple[int, int]]:
    """Pairs of edges of different groups whose boxes (n, 4) meet."""
    x0, y0, x1, y1 = boxes.T
    before = (x0[:, None] <= x1 + snap) & (y0[:, None] <= y1 + snap)
    first, second = np.nonzero(before & before.T & (groups[:, None] != groups))
    once = first < second
    return list(zip(first[once].tolist(), second[once].tolist(), strict=True))


def _split(known: Known, first: int, last: int, cuts: Sequence[Point2], nodes: Nodes) -> list[tuple[int, int, Edge]]:
    """The pieces of an edge between its ends (numbers of nodes) and the points where it is cut."""
    edge, numbers = known.edge, {first, last, *map(nodes.number, cuts)}
    if len(numbers) == 2 and edge.centre is None and edge.a == nodes.points[first] and edge.b == nodes.points[last]:
        return [(first, last, edge)]
    placed = sorted((known.fraction(nodes.points[n]), n) for n in numbers)
    found = []
    for (t0, m), (t1, n) in pairwise(placed):
        found.append((m, n, piece(edge, t0, t1, nodes.points[m], nodes.points[n])))
    return found


def _unique(pieces: Sequence[tuple[int, int, Edge]], snap: float) -> list[Edge]:
    alike: dict[tuple[int, int], list[int]] = {}
    for number, (m, n, _) in enumerate(pieces):
        alike.setdefault((min(m, n), max(m, n)), []).append(number)
    edges = [edge for _, _, edge in pieces]
    doubles = {one for found in alike.values() if len(found) > 1 for one in _doubles(edges, found, PROBE * snap)}
    return [edge for number, edge in enumerate(edges) if number not in doubles]


def _doubles(edges: Sequence[Edge], alike: Sequence[int], near: float) -> Iterator[int]:
    """Of the edges between the same two points those whose middle lies near that of an earlier one."""
    middles: list[Point2] = []
    for number in alike:
        middle = point_at(edges[number], 0.5)
        if any(distance(middle, other) <= near for other in middles):
            yield number
        else:
            middles.append(middle)


def _chain(kept: Sequence[Edge]) -> tuple[Loop, ...] | None:
    """Closed loops of directed edges; None when an end is left over."""
    leaving: dict[Point2, list[Edge]] = {}
    for edge in kept:
        leaving.setdefault(edge.a, []).append(edge)
    loops = []
    for edge in kept:
        if edge in leaving.get(edge.a, ()):
            loop = _walk(edge, leaving)
            if loop is None:
                return None
            loops.append(_joined(loop))
    return tuple(loop for loop in loops if len(loop) > 1)


def _walk(first: Edge, leaving: dict[Point2, list[Edge]]) -> list[Edge] | None:
    loop = [first]
    leaving[first.a].remove(first)
    while loop[-1].b != first.a:
        onward = leaving.get(loop[-1].b)
        if not onward:
            return None
        step = onward[0] if len(onward) == 1 else max(onward, key=lambda e: _left_turn(loop[-1], e))
        onward.remove(step)
        loop.append(step)
    return loop


def _left_turn(arriving: Edge, leaving: Edge) -> tuple[float, float]:
    """How far the way turns left (radians); arcs that leave in one direction are told apart by their bend."""
    (ax, ay), (bx, by) = tangent_at(arriving, 1.0), tangent_at(leaving, 0.0)
    turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    bend = math.copysign(1.0 / leaving.radius, leaving.sweep) if leaving.centre else 0.0
    return (round(-math.pi if turn > math.pi - 1e-6 else turn, 7), bend)


def _without_specks(loop: Sequence[Edge]) -> list[Edge]:
    """The loop without edges too short for the kernel; the next edge starts where the one before ends."""
    kept = [edge for edge in loop if length(edge) > SPECK]
    if len(kept) == len(loop):
        return kept
    moved = [replace(edge, a=kept[i - 1].b) for i, edge in enumerate(kept)]
    return [edge for edge in moved if edge.a != edge.b]  # a way there and back, but for the specks between


def _joined(loop: Sequence[Edge]) -> Loop:
    """The loop with neighbours on one line or one circle made one edge (arcs stay at most half a turn), over a notch
    too: where curves of a file only nearly meet, round walls would be parted by walls too short for the kernel."""
    found: list[Edge] = []
    for edge in _without_specks(loop):
        found = _with(found, edge)
    if not found:  # a speck itself
        return ()
    closing = _as_one(found[-1], found[0]) if len(found) > 2 else None
    return _straightened(found if closing is None else [closing, *found[1:-1]])


def _with(found: list[Edge], edge: Edge) -> list[Edge]:
    """The edges and one more, which goes on along the last of them that is no notch where it can."""
    short = 0.0
    for k in range(len(found) - 1, -1, -1):
        merged = _as_one(found[k], edge) if short <= 0.0 or distance(found[k].b, edge.a) <= NOTCH else None
        if merged is not None:
            return [*found[:k], merged]
        short += length(found[k])
        if short > NOTCH:
            break
    return [*found, edge]


def _straightened(loop: Sequence[Edge]) -> Loop:
    """The loop without corners that are none: where an arc touches a line, the two part a little way from the point
    that both have, and a wall so thinly bent is one plane and two to the kernel."""
    if not any(_flat(before, edge, ()) for before, edge in zip((loop[-1], *loop[:-1]), loop, strict=True)):
        return tuple(loop)
    first = next((i for i, edge in enumerate(loop) if not _flat(loop[i - 1], edge, ())), 0)
    found: list[Edge] = []
    left_out: list[Point2] = []
    for edge in (*loop[first:], *loop[:first]):
        if found and _flat(found[-1], edge, left_out):
            left_out.append(edge.a)
            found[-1] = Edge(found[-1].a, edge.b)
        else:
            left_out = []
            found.append(edge)
    return tuple(found) if len(found) > 2 else tuple(loop)


def _flat(e: Edge, f: Edge, more: Sequence[Point2]) -> bool:
    """True when two lines that follow on each other are one within ``FLAT``, and ``more`` points lie on it."""
    if e.centre is not None or f.centre is not None:
        return False
    (ax, ay), (bx, by) = e.a, f.b
    long = math.hypot(bx - ax, by - ay)
    if long <= max(length(e), length(f)):  # back on itself
        return False
    tx, ty = (bx - ax) / long, (by - ay) / long
    return all(abs((x - ax) * ty - (y - ay) * tx) <= FLAT for x, y in (f.a, *more))


def _as_one(e: Edge, f: Edge) -> Edge | None:
    if e.centre is None and f.centre is None:
        (ax, ay), (bx, by) = tangent_at(e, 0.0), tangent_at(f, 0.0)
        off = abs((f.b[0] - e.a[0]) * ay - (f.b[1] - e.a[1]) * ax)
        straight = abs(ax * by - ay * bx) < 1e-9 and ax * bx + ay * by > 0 and off < 1e-9
        return Edge(e.a, f.b) if straight else None
    if e.centre is None or f.centre is None or distance(e.centre, f.centre) > 1e-9 or abs(e.radius - f.radius) > 1e-9:
        return None
    skipped = 0.0 if e.b == f.a else math.remainder(angle_of(f.centre, f.a) - angle_of(e.centre, e.b), math.tau)
    sweep = e.sweep + skipped + f.sweep
    if e.sweep * f.sweep < 0 or abs(sweep) > math.pi + 1e-9:
        return None
    return Edge(e.a, f.b, e.centre, e.radius, sweep)
