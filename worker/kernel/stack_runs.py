"""Prisms that stand on each other as few solids: stacks of those for which that is plain, prisms of the others (mm).

Where the corners of a storey lie a hair beside the border of the one below, as where one of them ends on arcs fitted to
a curve, they are laid on it: the arcs are no surer than that. Nor are edges as short as that, where two such arcs meet:
they are left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from schemas.base import Frame
from worker.kernel.outline import FIT, three_point_arc
from worker.kernel.planar import Region
from worker.kernel.planar_edge import Edge, Point2, distance, line, middle_of
from worker.kernel.planar_meet import Known
from worker.kernel.planar_tidy import tidied
from worker.kernel.shape import Body
from worker.kernel.stack import SAME, Storey, stacked, stands_plainly
from worker.kernel.sweep import prism


def stacks(storeys: Sequence[Storey], frame: Frame) -> tuple[Body, ...]:
    """Solids that fill the storeys, each over all of the one below, from the lowest up."""
    whole = stacked(storeys, frame)
    return (whole,) if whole is not None else tuple(_in_runs(storeys, frame))


def _in_runs(storeys: Sequence[Storey], frame: Frame) -> Iterator[Body]:
    laid = _laid(storeys)
    stops = [i + 1 for i, two in enumerate(pairwise(laid)) if not stands_plainly(*two)]
    for start, stop in pairwise([0, *stops, len(storeys)]):
        one = stacked(laid[start:stop], frame)
        yield from [one] if one is not None else (prism(s.region, frame, s.low, s.high) for s in storeys[start:stop])


def _laid(storeys: Sequence[Storey]) -> list[Storey]:
    clean = [replace(storey, region=tidied(storey.region)) for storey in storeys]
    found = clean[:1]
    for storey in clean[1:]:
        found.append(replace(storey, region=laid_on(storey.region, found[-1].region)))
    return found


def laid_on(region: Region, below: Region) -> Region:
    """The region, its corners that lie a hair beside corners or edges of one below laid on these."""
    moved = {e.a: at for e in region.edges if (at := _nearest(e.a, below)) is not None}
    if not moved:
        return region
    loops = [tuple(_between(e, moved) for e in loop if not _shrinks(e, moved)) for loop in region.loops]
    return Region(tuple(loop for loop in loops if loop))


def _shrinks(edge: Edge, moved: dict[Point2, Point2]) -> bool:
    """Whether both ends of an edge are laid on one place."""
    return moved.get(edge.a, edge.a) == moved.get(edge.b, edge.b)


def _nearest(p: Point2, below: Region) -> Point2 | None:
    """Where a corner goes that lies beside the border, but not on it."""
    near = [known for known in below.known if known.touches(p, FIT)]
    ends = [q for known in near for q in (known.edge.a, known.edge.b) if distance(p, q) <= FIT]
    if ends:
        return min(ends, key=lambda q: distance(p, q))
    if not near or any(known.touches(p, SAME) for known in near):
        return None
    return _foot(p, near[0])


def _foot(p: Point2, known: Known) -> Point2:
    edge = known.edge
    if edge.centre is not None:
        (x, y), (cx, cy) = p, edge.centre
        share = edge.radius / distance(p, edge.centre)
        return cx + (x - cx) * share, cy + (y - cy) * share
    (ax, ay), (bx, by), t = edge.a, edge.b, known.fraction(p)
    return ax + (bx - ax) * t, ay + (by - ay) * t


def _between(edge: Edge, moved: dict[Point2, Point2]) -> Edge:
    a, b = moved.get(edge.a, edge.a), moved.get(edge.b, edge.b)
    if (a, b) == (edge.a, edge.b):
        return edge
    x, y = middle_of(edge)[:2]
    return line(a, b) if edge.centre is None else three_point_arc(a, (x, y), b)
