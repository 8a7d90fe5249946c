"""Plane regions without the specks that offsets leave where walls and their continuations meet (mm)."""

from __future__ import annotations

from dataclasses import replace

from worker.kernel.planar import Region
from worker.kernel.planar_edge import Edge, area_under, length, line, tangent_at
from worker.kernel.planar_trace import Loop

SHORT = 1e-4
"""Shorter edges are left out: two offsets of one wall that differ by rounding cross this far from its end at most."""
STRAIGHT = 1e-9
"""Sine between two lines that are one."""
SAME_AREA = 1e-9


def tidied(region: Region) -> Region:
    """The region with short edges left out and lines in one line joined; unchanged where that would matter."""
    found = Region(tuple(_loop(loop) for loop in region.loops))
    return found if abs(found.area - region.area) <= SAME_AREA * region.area else region


def _loop(loop: Loop) -> Loop:
    long = [edge for edge in loop if length(edge) > SHORT]
    if len(long) < 2:
        return loop
    met = [replace(edge, a=before.b) for before, edge in zip((long[-1], *long[:-1]), long, strict=True)]
    found: list[Edge] = []
    for edge in met:
        if found and _one_line(found[-1], edge):
            found[-1] = line(found[-1].a, edge.b)
        else:
            found.append(edge)
    if len(found) > 2 and _one_line(found[-1], found[0]):
        found[0] = line(found.pop().a, found[0].b)
    return tuple(found) if len(found) > 1 and area_under(found) * area_under(loop) > 0 else loop


def _one_line(a: Edge, b: Edge) -> bool:
    if a.centre is not None or b.centre is not None:
        return False
    (ax, ay), (bx, by) = tangent_at(a, 1.0), tangent_at(b, 0.0)
    return abs(ax * by - ay * bx) <= STRAIGHT and ax * bx + ay * by > 0
