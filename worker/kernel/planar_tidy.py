"""Plane regions without the specks that offsets leave where walls and their continuations meet (mm)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from schemas.tolerances import COINCIDENT
from worker.kernel.outline import three_point_arc
from worker.kernel.planar import Region
from worker.kernel.planar_edge import Edge, Point2, area_under, distance, length, line, middle_of, tangent_at
from worker.kernel.planar_trace import Loop

SHORT = 1e-4
"""Shorter edges are left out: two offsets of one wall that differ by rounding cross this far from its end at most."""
SMOOTH = 1e-3
"""So are these where the border runs on: a cutter rounds the kinks between arcs that were fitted to one curve."""
KINK = 1e-3
"""Sine up to which a border runs on: the next edge then begins SMOOTH times this (mm) beside its own line at most."""
STRAIGHT = 1e-9
"""Sine between two lines that are one."""
SAME_AREA = 1e-9
ASIDE = 5e-6
"""A corner lies this near (mm) to the line that it was cut from."""


def tidied(region: Region) -> Region:
    """The region with short edges left out and lines in one line joined; unchanged where that would matter."""
    found = Region(tuple(_loop(loop) for loop in region.loops))
    return found if abs(found.area - region.area) <= SAME_AREA * region.area else region


def _loop(loop: Loop) -> Loop:
    pairs = zip((loop[-1], *loop[:-1]), loop, strict=True)
    long = [edge for before, edge in pairs if length(edge) > (SMOOTH if _runs_on(before, edge) else SHORT)]
    if len(long) < 2:
        return loop
    met = [_begun(edge, before.b) for before, edge in zip((long[-1], *long[:-1]), long, strict=True)]
    found: list[Edge] = []
    for edge in met:
        if found and _one_line(found[-1], edge):
            found[-1] = line(found[-1].a, edge.b)
        else:
            found.append(edge)
    if len(found) > 2 and _one_line(found[-1], found[0]):
        found[0] = line(found.pop().a, found[0].b)
    return tuple(found) if len(found) > 1 and area_under(found) * area_under(loop) > 0 else loop


def _runs_on(before: Edge, edge: Edge) -> bool:
    (ax, ay), (bx, by) = tangent_at(before, 1.0), tangent_at(edge, 0.0)
    return abs(ax * by - ay * bx) <= KINK and ax * bx + ay * by > 0


def _begun(edge: Edge, a: Point2) -> Edge:
    """The edge from another point beside its own start: an arc is one about another middle then."""
    if edge.a == a or edge.centre is None:
        return replace(edge, a=a)
    return three_point_arc(a, middle_of(edge)[:2], edge.b)


def _one_line(a: Edge, b: Edge) -> bool:
    if a.centre is not None or b.centre is not None:
        return False
    (ax, ay), (bx, by) = tangent_at(a, 1.0), tangent_at(b, 0.0)
    return abs(ax * by - ay * bx) <= STRAIGHT and ax * bx + ay * by > 0


def straight(region: Region) -> Region:
    """The region with lines that bend by less than a micrometre made one, along the longer of both."""
    return Region(tuple(_straight(loop) for loop in region.loops))


def _straight(loop: Loop) -> Loop:
    found = list(loop)
    for k in range(len(loop) - 1, -1, -1):
        before, edge = found[k - 1], found[k]
        longer = length(before) >= length(edge)
        beside = (k + 1) % len(found) if longer else k - 2
        other = found[beside]
        if len(found) > 3 and other.centre is None and _hardly_bends(before, edge):
            merged = line(before.a, _foot(edge.b, before)) if longer else line(_foot(before.a, edge), edge.b)
            found[beside] = line(merged.b, other.b) if longer else line(other.a, merged.a)
            found[k - 1] = merged
            del found[k]
    return tuple(found)


def _hardly_bends(a: Edge, b: Edge) -> bool:
    if a.centre is not None or b.centre is not None:
        return False
    (ax, ay), (bx, by) = tangent_at(a, 1.0), tangent_at(b, 0.0)
    long, short = (a, b) if length(a) >= length(b) else (b, a)
    off = max(_off(short.a, long), _off(short.b, long))
    return ax * bx + ay * by > 0 and off <= COINCIDENT


def aligned(region: Region, border: Sequence[Edge], amount: float) -> Region:
    """The region with the corners of its lines put back on the lines they come from: a border moved out by ``amount``.

    Corners where borders nearly touch are merged within a micrometre; over a long wall that tilts it just enough for
    the kernel to take it and the part's own wall for neither one plane nor two.
    """
    known = [_moved(edge, amount) for edge in border if edge.centre is None]
    return Region(tuple(_aligned(loop, known) for loop in region.loops))


def _moved(edge: Edge, amount: float) -> Edge:
    tx, ty = tangent_at(edge, 0.0)
    dx, dy = amount * ty, -amount * tx
    return line((edge.a[0] + dx, edge.a[1] + dy), (edge.b[0] + dx, edge.b[1] + dy))


def _aligned(loop: Loop, lines: Sequence[Edge]) -> Loop:
    sources = [_source(edge, lines) for edge in loop]
    corners = [_corner(loop[i].a, sources[i - 1], sources[i]) for i in range(len(loop))]
    return tuple(replace(edge, a=corners[i], b=corners[(i + 1) % len(loop)]) for i, edge in enumerate(loop))


def _source(edge: Edge, lines: Sequence[Edge]) -> Edge | None:
    """The longest of the lines on which a straight edge lies."""
    if edge.centre is not None:
        return None
    found = [one for one in lines if max(_off(edge.a, one), _off(edge.b, one)) <= ASIDE]
    return max(found, key=length, default=None)


def _off(p: Point2, of: Edge) -> float:
    tx, ty = tangent_at(of, 0.0)
    return abs((p[0] - of.a[0]) * ty - (p[1] - of.a[1]) * tx)


def _corner(p: Point2, before: Edge | None, after: Edge | None) -> Point2:
    if before is None or after is None or before is after:
        one = before or after
        return p if one is None else _foot(p, one)
    (ax, ay), (bx, by) = tangent_at(before, 0.0), tangent_at(after, 0.0)
    det = ax * by - ay * bx
    if abs(det) < 1e-6:
        return _foot(p, before)
    t = ((after.a[0] - before.a[0]) * by - (after.a[1] - before.a[1]) * bx) / det
    met = (before.a[0] + t * ax, before.a[1] + t * ay)
    return met if distance(met, p) <= 10 * ASIDE else p


def _foot(p: Point2, of: Edge) -> Point2:
    tx, ty = tangent_at(of, 0.0)
    t = (p[0] - of.a[0]) * tx + (p[1] - of.a[1]) * ty
    return (of.a[0] + t * tx, of.a[1] + t * ty)
