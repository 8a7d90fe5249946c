"""Where a pointed cutter runs along a chamfer, and what stands in its way there (setup's frame, mm).

Its flank lies on the chamfer, so its axis runs beside the chamfer's lower edge, the farther off the deeper the tip
goes. Distances are exact, taken at points along the edge; a column of metal below a height bars all that is wider
than the tool's distance from it at any height below.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, dot
from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from schemas.tool import NEEDS_ANGLE, Tool
from worker.kernel.planar import Bounds, Region, boxes_meet, disc, grow, polygon, subtract
from worker.kernel.planar_edge import Edge, length, point_at
from worker.kernel.rim import swept
from worker.kernel.shadow import Shown, Skyline, face_facts, flank_of
from worker.kernel.shape import Body

Floats = NDArray[np.float64]
STEP = 0.25
"""Points along an edge are no further apart (mm): between two of them a round pin of 4 stands 4 um nearer at most."""
SLOPES = 8
"""Heights at which a face that is not flat is looked at."""
CREST = 5e-3
"""How far below its top (mm) the last of them lies."""
SLACK = 0.05
"""Share of a face's box by which the box may be too small: those of free-form faces are of points on them."""
TIPS = 12
"""Depths of the tip that are tried between the least and the most."""
FINE = 5e-3
"""The least depth that clears is found to this (mm)."""
THREAD = 1e-3
"""Half the width (mm) of the line that stands for the axis's path where a solid is made of it."""


@dataclass(frozen=True)
class Flank:
    """A pointed tool below its neck: ``blunt`` radius at the tip, ``rise`` of radius per height, largest ``radius``."""

    blunt: float
    rise: float
    radius: float

    @property
    def height(self) -> float:
        """Height of the cone."""
        return (self.radius - self.blunt) / self.rise

    def at(self, heights: Floats | float) -> Floats:
        """The radius at heights above the tip; nothing below it."""
        h = np.asarray(heights, float)
        return np.where(h < 0, -np.inf, np.minimum(self.blunt + h * self.rise, self.radius))


@dataclass(frozen=True, eq=False)
class Rim:
    """One chamfer face: points (n, 2) of its lower edge, the ways off the metal there (n, 2), its heights, and how
    far it comes in from its lower to its upper edge. ``edges`` are the lower edge itself."""

    points: Floats
    off: Floats
    low: float
    high: float
    width: float
    edges: tuple[Edge, ...]


@dataclass(frozen=True)
class Hit:
    """The worst place of a path: ``over`` is how far the tool reaches into what stands there, a column that ends at
    height ``top``; ``at`` the axis point."""

    over: float
    top: float
    at: tuple[float, float]


CLEAR = Hit(-math.inf, 0.0, (0.0, 0.0))


def flank_of_tool(tool: Tool) -> Flank | None:
    """The cone of a pointed tool; None for every other."""
    half = tool.flank_half_angle
    if tool.type not in NEEDS_ANGLE or half is None or half >= 90:
        return None
    return Flank((tool.tip_diameter or 0.0) / 2, math.tan(math.radians(half)), tool.radius)


def rims_of(sky: Skyline, frame: Frame, features: Sequence[Feature]) -> list[Rim]:
    """The level lower edges of chamfers that look up; faces of other kinds, and sloping ones, have none."""
    indices = [i for f in features if f.class_ == "chamfer" for i in f.faces if sky.shown[i].look == "up"]
    found = (_rim(sky, frame, i) for i in indices)
    return [rim for rim in found if rim is not None]


def _rim(sky: Skyline, frame: Frame, index: int) -> Rim | None:
    facts, slope = face_facts(sky.body)[index], flank_of(sky.body, index, frame)
    if slope is None:
        return None
    if facts.kind == "plane":
        return _straight(sky, frame, index, math.tan(math.radians(slope)))
    axis = facts.adaptor.Cone().Axis().Direction() if facts.kind == "cone" else None
    if axis is not None and abs(dot((axis.X(), axis.Y(), axis.Z()), frame.z)) > 1 - 1e-9:
        return _round(sky, frame, index, math.tan(math.radians(slope)))
    return None


def _straight(sky: Skyline, frame: Frame, index: int, rise: float) -> Rim | None:
    shown, facts = sky.shown[index], face_facts(sky.body)[index]
    nx, ny, nz = frame.direction_to_local(facts.normals[0])
    spot = facts.adaptor.Plane().Location()
    x, y, z = frame.to_local((spot.X(), spot.Y(), spot.Z()))

    def height(p: tuple[float, float]) -> float:
        return z - (nx * (p[0] - x) + ny * (p[1] - y)) / nz

    level = [
        e for e in sky.border(index) if e.centre is None and max(height(e.a), height(e.b)) < shown.low + LENGTH
    ]  # fmt: skip
    size = math.hypot(nx, ny)
    return _along(level, lambda p: np.broadcast_to([nx / size, ny / size], p.shape), shown, rise)


def _round(sky: Skyline, frame: Frame, index: int, rise: float) -> Rim | None:
    shown, cone = sky.shown[index], face_facts(sky.body)[index].adaptor.Cone()
    apex = cone.Apex()
    x, y, z = frame.to_local((apex.X(), apex.Y(), apex.Z()))
    radius, out = abs(shown.low - z) * rise, 1.0 if z > shown.low else -1.0
    level = [e for e in sky.border(index) if e.centre is not None and abs(e.radius - radius) < LENGTH]

    def off(p: Floats) -> Floats:
        away = p - np.array([x, y])
        return np.asarray(out * away / np.maximum(np.hypot(*away.T), COINCIDENT)[:, None])

    return _along(level, off, shown, rise)


def _along(edges: Sequence[Edge], off: Callable[[Floats], Floats], shown: Shown, rise: float) -> Rim | None:
    if not edges:
        return None
    points = np.array([point_at(e, t) for e in edges for t in np.linspace(0, 1, int(length(e) / STEP) + 2)])
    ways = off(points)
    return Rim(points, ways, shown.low, shown.high, (shown.high - shown.low) * rise, tuple(edges))


def axis_off(flank: Flank, rim: Rim, tip: float) -> float:
    """How far the axis runs outside the lower edge: the flank touches the chamfer's lower or its upper edge first."""
    below = flank.blunt + (rim.low - tip) * flank.rise
    above = flank.blunt + (rim.high - tip) * flank.rise - rim.width
    return max(below, above)


def axis_points(flank: Flank, rims: Sequence[Rim], tip: float) -> Floats:
    """Points of the axis's path (n, 2) for all rims, in their order."""
    return np.concatenate([rim.points + axis_off(flank, rim, tip) * rim.off for rim in rims])


@dataclass(frozen=True, eq=False)
class Column:
    """Distances (n,) of axis points from the metal that stands higher than ``top`` on one face; negative inside."""

    top: float
    away: Floats


def columns(sky: Skyline, points: Floats, above: float, margin: float) -> Iterator[Column]:
    """What of a body rises above a height within a margin of the points: flat tops whole, others in steps."""
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    box: Bounds = (x0 - margin, y0 - margin, x1 + margin, y1 + margin)
    for shown in sky.upward(above, box):
        if not _may_come_near(shown.bounds, points, margin):
            continue
        for z in _looked_at(shown, above):
            region = sky.part_above(shown, z)
            if region and boxes_meet(region.bounds, box):
                yield Column(z, _away(region, points, margin))


def _may_come_near(box: Bounds, points: Floats, margin: float) -> bool:
    """Whether a face with that box can come within the margin of some point."""
    low, high = np.array(box[:2]), np.array(box[2:])
    room = margin + SLACK * float((high - low).max()) + LENGTH
    return bool(np.all((points >= low - room) & (points <= high + room), axis=1).any())


def _away(region: Region, points: Floats, margin: float) -> Floats:
    """Distances from a region, negative inside; +inf where it is surely farther than the margin."""
    low, high = np.array(region.bounds[:2]) - margin, np.array(region.bounds[2:]) + margin
    near = np.all((points >= low) & (points <= high), axis=1)
    away = np.full(len(points), np.inf)
    if near.any():
        away[near] = -region.signed_distance(points[near])
    return away


def _looked_at(shown: Shown, above: float) -> list[float]:
    if shown.flat:
        return [shown.high]
    low = max(shown.low, above)
    crest = shown.high - min(CREST, (shown.high - low) / SLOPES)
    return [float(z) for z in np.linspace(low, crest, SLOPES + 1)]


def worst(flank: Flank, rims: Sequence[Rim], tip: float, skies: Sequence[Skyline], above: float = LENGTH) -> Hit:
    """The place where the tool, its flank on the chamfer, reaches farthest into what stands higher than ``above`` over
    its tip.

    Below the chamfer's upper edge metal beside a place may bar it that the tool passes nearby: in an inner corner a
    round flank leaves a crumb.
    """
    points = axis_points(flank, rims, tip)
    high = np.concatenate([np.full(len(rim.points), rim.high) for rim in rims])
    over = np.full((2, len(points)), -np.inf)
    tops = np.zeros((2, len(points)))
    for sky in skies:
        for one in columns(sky, points, tip + above, flank.radius):
            into = flank.at(one.top - tip) - one.away
            taller = (one.top > high + LENGTH).astype(int)
            for k in (0, 1):
                more = (taller == k) & (into > over[k])
                over[k][more], tops[k][more] = into[more], one.top
    over[0][_in_corners(flank, rims, tip, over.max(axis=0))] = -np.inf
    row, n = divmod(int(np.argmax(over)), len(points))
    if over[row, n] == -np.inf:
        return CLEAR
    return Hit(float(over[row, n]), float(tops[row, n]), (float(points[n, 0]), float(points[n, 1])))


def _in_corners(flank: Flank, rims: Sequence[Rim], tip: float, over: Floats) -> NDArray[np.bool_]:
    """Barred places no farther from one that is free, and from an edge before them, than the tool is wide there."""
    edge, off = (np.concatenate(values) for values in zip(*((r.points, r.off) for r in rims), strict=True))
    wide = np.concatenate([np.full(len(r.points), axis_off(flank, r, tip) + r.width + STEP) for r in rims])
    found, free = over > LENGTH, edge[over <= LENGTH]
    for n in np.flatnonzero(found):
        gap = edge - edge[n]
        before = (np.hypot(*gap.T) <= wide[n]) & (gap @ off[n] > LENGTH)
        found[n] = bool(before.any() and len(free) and np.hypot(*(free - edge[n]).T).min() <= wide[n])
    return np.asarray(found)


def tip_for(flank: Flank, rims: Sequence[Rim], skies: Sequence[Skyline]) -> float:
    """The highest tip from which the flank takes the chamfers and clears the bodies; the highest of all where none
    does. All of the chamfer's height lies on the flank."""
    first = min(rim.low for rim in rims)

    def clear(depth: float) -> bool:
        return worst(flank, rims, first - depth, skies).over <= LENGTH

    bad = 0.0
    for good in _depths(flank, rims, skies):
        if clear(good):
            break
        bad = good
    else:
        return first
    while good - bad > FINE:
        middle = (good + bad) / 2
        good, bad = (middle, bad) if clear(middle) else (good, middle)
    return first - good


def _depths(flank: Flank, rims: Sequence[Rim], skies: Sequence[Skyline]) -> Iterator[float]:
    """Depths of the tip below the lowest edge that leave the chamfers on the flank: some, and down to each top."""
    first = min(rim.low for rim in rims)
    room = flank.height - max(rim.high - first for rim in rims)
    yield 0.0
    if room > LENGTH:
        tops = {first - s.high for sky in skies for s in sky.upward(first - room) if s.high < first - LENGTH}
        yield from sorted({*tops, *(room * (k + 1) / TIPS for k in range(TIPS))})


def widest(flank: Flank, rims: Sequence[Rim], skies: Sequence[Skyline], tip: float | None) -> float | None:
    """The largest radius of a tool with this point that clears the bodies, at a given tip or the best one."""
    first = min(rim.low for rim in rims)
    tips = [first - d for d in _depths(flank, rims, skies)] if tip is None else [tip]
    found = [_widest_at(flank, rims, t, skies) for t in tips]
    return max((r for r in found if r is not None), default=None)


def _widest_at(flank: Flank, rims: Sequence[Rim], tip: float, skies: Sequence[Skyline]) -> float | None:
    """The same at one tip: no narrower than the chamfers need."""
    least = flank.blunt + flank.rise * (max(rim.high for rim in rims) - tip) + LENGTH
    narrow = Flank(flank.blunt, flank.rise, least)
    if worst(narrow, rims, tip, skies).over > LENGTH:
        return None
    points = axis_points(flank, rims, tip)
    near = [one for sky in skies for one in columns(sky, points, max(rim.high for rim in rims), flank.radius)]
    cone = [flank.blunt + flank.rise * (one.top - tip) for one in near]
    barred = [one.away[one.away < r].min(initial=np.inf) for one, r in zip(near, cone, strict=True)]
    return max(float(min(barred, default=flank.radius)), least)


def tool_bodies(flank: Flank, rims: Sequence[Rim], tip: float, top: float, frame: Frame) -> tuple[Body, ...]:
    """What the tool below its neck passes through while its tip runs at a height; up to ``top``."""
    width, shoulder = flank.radius - flank.blunt, min(tip + flank.height, top)
    outline = [(width, tip), (flank.radius - float(flank.at(shoulder - tip)), shoulder), (0.0, top), (width, top)]
    outline = outline if shoulder < top else [outline[0], outline[1], outline[3]]
    paths = [path for rim in rims for path in _paths(rim, axis_off(flank, rim, tip))]
    return tuple(b for path in paths for b in swept(grow(path, flank.radius), frame, tip, top, outline))


def _paths(rim: Rim, off: float) -> Iterator[Region]:
    """The axis's path as hair-thin regions."""
    if rim.edges[0].centre is None:
        nx, ny = rim.off[0].tolist()
        for e in rim.edges:
            ends = ((e.a, off - THREAD), (e.b, off - THREAD), (e.b, off + THREAD), (e.a, off + THREAD))
            yield polygon([(p[0] + d * nx, p[1] + d * ny) for p, d in ends])
        return
    edge = rim.edges[0]
    assert edge.centre is not None
    out = float(np.sign(np.dot(rim.off[0], np.array(edge.a) - np.array(edge.centre))))
    radius = max(edge.radius + out * off, 0.0)
    inner = radius - THREAD
    ring = disc(edge.centre, radius + THREAD)
    yield subtract(ring, [disc(edge.centre, inner)]) if inner > THREAD else ring
