"""Prisms that stand on each other, each over all of the one below, as one solid: made face by face, without a boolean.

Prisms that only touch cost the kernel more in one split than all that they cut. Borders of two levels run together in
places, and there their walls share edges. Where they nearly run together nothing is made: the caller takes prisms.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from OCP.BRep import BRep_Tool

from schemas.base import Frame
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.linked import groups
from worker.kernel.measure import volume
from worker.kernel.planar import NOWHERE, Region, components, near_edges
from worker.kernel.planar_edge import Edge, Point2, distance, middle_of, reverse
from worker.kernel.planar_edge import piece as part_of
from worker.kernel.planar_meet import Known, crossings
from worker.kernel.planar_trace import Nodes
from worker.kernel.shape import Body, compound, shells, solids
from worker.kernel.stack_faces import Builder, Corner, Piece, Place
from worker.kernel.sweep import is_circle

SAME, APART = 1e-9, 1e-4
"""Points nearer than the first (mm) are one, points farther than the second two; nothing may lie between."""
FEWEST = 3
EXACT = 1e-9
"""Share by which areas and volumes may differ from their sums."""


class UncertainError(Exception):
    """Borders of two levels come so near each other that it is not clear where they run together."""


@dataclass(frozen=True)
class Storey:
    """A region between two heights of a frame."""

    low: float
    high: float
    region: Region


def stacked(storeys: Sequence[Storey], frame: Frame) -> Body | None:
    """The storeys as one body, from the lowest up; None where it is not plain how they stand on each other, or where
    they are so few that prisms are quicker."""
    if len(storeys) < FEWEST or any(is_circle(loop) for storey in storeys for loop in storey.region.loops):
        return None  # a whole round wall is one face with a seam: the prism's way
    try:
        with kernel_step("stack"):
            found = _body(storeys, Builder(frame))
    except (UncertainError, KernelError):
        return None
    return found if _is_sound(found, storeys) else None


def stands_plainly(below: Storey, above: Storey) -> bool:
    """Whether it is plain how one storey stands on the other."""
    if any(is_circle(loop) for storey in (below, above) for loop in storey.region.loops):
        return False
    try:
        list(_Floor(above.low, below.region, above.region).levels())
    except UncertainError:
        return False
    return True


def _is_sound(found: Body, storeys: Sequence[Storey]) -> bool:
    """Whether it closes and holds what the storeys hold: its curves in the faces' parameters are right then."""
    whole = sum(storey.region.area * (storey.high - storey.low) for storey in storeys)
    closed = all(BRep_Tool.IsClosed_s(shell) for shell in shells(found.wrapped))
    return closed and all(volume(solid) > 0 for solid in solids(found)) and abs(volume(found) - whole) <= EXACT * whole


def _body(storeys: Sequence[Storey], build: Builder) -> Body:
    below = [NOWHERE, *(storey.region for storey in storeys)]
    above = [*(storey.region for storey in storeys), NOWHERE]
    heights = [*(storey.low for storey in storeys), storeys[-1].high]
    floors = [_Floor(z, a, b) for z, a, b in zip(heights, below, above, strict=True)]
    for floor in floors:
        for looks_up, region in floor.levels():
            build.level(floor.z, [list(map(floor.named, loop)) for loop in region.loops], looks_up)
    for floor in floors:
        build.border(Place(floor.z, tuple(floor.standing)))
    for number, storey in enumerate(storeys):
        for index, edge in enumerate(storey.region.edges):
            if not floors[number].goes_on(floors[number].above[index]):
                build.wall(edge, *_risen(floors[number:], index))
    linked = groups(len(build.faces), build.neighbours())
    return compound(build.solid(group) for group in linked)


def _risen(floors: Sequence[_Floor], index: int) -> tuple[Place, Place, list[Corner], list[Corner]]:
    """The wall over an edge of the lowest storey, on up through storeys whose walls are the same: where it begins and
    ends, and the corners at its start and end, from the lowest up."""
    low, pieces = Place(floors[0].z, floors[0].above[index]), floors[0].above[index]
    starts, ends = [(low.z, pieces[0].start)], [(low.z, pieces[-1].end)]
    for floor in floors[1:]:
        pieces = floor.below[index]
        last = not floor.goes_on(pieces)
        for corners, number in ((starts, pieces[0].start), (ends, pieces[-1].end)):
            if last or number in floor.busy:
                corners.append((floor.z, number))
        if last:
            return low, Place(floor.z, pieces), starts, ends
        index = floor.above.index(pieces)
    raise UncertainError  # the topmost floor bears nothing


class _Floor:
    """Where one storey stands on another: the borders of both split where they meet, pieces of both named once.

    ``standing`` are the pieces that are edges there: not those that a wall runs through; ``busy`` are their ends.
    """

    def __init__(self, z: float, below: Region, above: Region) -> None:
        self.z = z
        self._nodes = Nodes(APART)
        self._between: dict[frozenset[int], list[Piece]] = {}
        self._pieces: list[Piece] = []
        self._areas = below.area if below else 0.0, above.area if above else 0.0
        cuts = _cuts(below, above) if below and above else ({}, {})
        self.below = [self._split(one, cuts[0].get(i, [])) for i, one in enumerate(below.known)]
        self.above = [self._split(one, cuts[1].get(i, [])) for i, one in enumerate(above.known)]
        self._one = {pieces[0] for pieces in self.below if len(pieces) == 1 and pieces in self.above}
        self.standing = [p for p in self._pieces if p not in self._one]
        self.busy = {number for p in self.standing for number in (p.start, p.end)}
        self._named = {p.edge: (p, False) for p in self._pieces} | {reverse(p.edge): (p, True) for p in self._pieces}

    def goes_on(self, pieces: tuple[Piece, ...]) -> bool:
        """Whether the wall that ends or begins in these pieces is the same below and above."""
        return pieces[0] in self._one

    def named(self, edge: Edge) -> tuple[Piece, bool]:
        """The piece that an edge of a level's border is, and whether it runs backwards there."""
        return self._named[edge]

    def levels(self) -> Iterator[tuple[bool, Region]]:
        """The level faces: whether each looks up, and its region. Raises UncertainError where storeys do not nest."""
        low, high = ({p for pieces in side for p in pieces} for side in (self.below, self.above))
        if not high:
            yield from ((True, part) for part in components(_looped([p.edge for p in self._pieces])))
            return
        edges = [p.edge for p in self._pieces if p in high - low]
        edges += [reverse(p.edge) for p in self._pieces if p in low - high]
        found = _looped(edges)
        area = found.area if found else 0.0
        if abs(area - (self._areas[1] - self._areas[0])) > EXACT * self._areas[1]:
            raise UncertainError
        yield from ((False, part) for part in components(found))

    def _split(self, known: Known, cuts: Sequence[Point2]) -> tuple[Piece, ...]:
        edge, points = known.edge, self._nodes.points
        ends = {0.0: edge.a, 1.0: edge.b} | {known.fraction(p): p for p in cuts}
        placed = {self._numbered(ends[t]): t for t in sorted(ends)}  # a point that two edges share is cut at once
        return tuple(
            self._piece(m, n, part_of(edge, t, u, points[m], points[n])) for (m, t), (n, u) in pairwise(placed.items())
        )

    def _numbered(self, p: Point2) -> int:
        """The number of a point. Raises UncertainError for one beside another."""
        number = self._nodes.number(p)
        if distance(p, self._nodes.points[number]) > SAME:
            raise UncertainError
        return number

    def _piece(self, start: int, end: int, edge: Edge) -> Piece:
        """The piece, or the known one between the same points by the same way."""
        alike = self._between.setdefault(frozenset((start, end)), [])
        for one in alike:
            off = distance(middle_of(one.edge)[:2], middle_of(edge)[:2])
            if off <= SAME and one.start == start:
                return one
            if off <= APART:
                raise UncertainError
        alike.append(Piece(len(self._pieces), start, end, edge))
        self._pieces.append(alike[-1])
        return alike[-1]


def _cuts(below: Region, above: Region) -> tuple[dict[int, list[Point2]], dict[int, list[Point2]]]:
    """Where ends of the one's edges lie on edges of the other, by the numbers of those edges."""
    found: tuple[dict[int, list[Point2]], dict[int, list[Point2]]] = ({}, {})
    for i, j in zip(*(n.tolist() for n in np.nonzero(near_edges(below, above))), strict=True):
        e, f = below.known[i], above.known[j]
        ends = (e.edge.a, e.edge.b, f.edge.a, f.edge.b)
        if any(min(distance(p, q) for q in ends) > SAME for p in crossings(e, f, SAME)):
            raise UncertainError  # storeys that nest do not cross
        for at, one, other in ((found[0].setdefault(i, []), e, f), (found[1].setdefault(j, []), f, e)):
            at += [p for p in (other.edge.a, other.edge.b) if _lies_on(one, p)]
    return found


def _lies_on(known: Known, p: Point2) -> bool:
    """Whether a point lies on an edge between its ends. Raises UncertainError for one beside it."""
    off = min(distance(p, known.edge.a), distance(p, known.edge.b))
    if off <= SAME or not known.touches(p, APART):
        return False
    if off <= APART or not known.touches(p, SAME):
        raise UncertainError
    return True


def _looped(edges: Sequence[Edge]) -> Region:
    """The edges chained to loops. Raises UncertainError where more than one goes on from a point, or none."""
    onward = {edge.a: edge for edge in edges}
    if len(onward) < len(edges):
        raise UncertainError
    loops = []
    while onward:
        loop = [onward.pop(next(iter(onward)))]
        while loop[-1].b != loop[0].a:
            if loop[-1].b not in onward:
                raise UncertainError
            loop.append(onward.pop(loop[-1].b))
        loops.append(tuple(loop))
    return Region(tuple(loops))
