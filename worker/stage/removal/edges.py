"""Where a pointed cutter runs along a chamfer, and what stands in its way there (setup's frame, mm).

Its flank lies on the chamfer, so its axis runs beside the chamfer's lower edge, the farther off the deeper the tip
goes; where that edge slopes, the tip climbs with it. Distances are exact, taken at points along the edge; a column of
metal below a height bars all that is wider than the tool's distance from it at any height below.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame
from schemas.tolerances import COINCIDENT, LENGTH
from schemas.tool import NEEDS_ANGLE, Tool
from worker.kernel.planar import Bounds, Region, disc, grow, polygon, subtract
from worker.kernel.rim import swept
from worker.kernel.shadow import Shown, Skyline, face_facts, flank_of
from worker.kernel.shape import Body
from worker.stage.removal.facets import away_above, is_bent
from worker.stage.removal.rims import STEP, Rim
from worker.stage.removal.slants import Flank, deepest, leaning

Floats = NDArray[np.float64]
SLOPES = 8
"""Heights at which a face that is not flat is looked at."""
CREST = 5e-3
"""How far below its top (mm) the last of them lies."""
SLACK = 0.05
"""Share of a face's box by which the box may be too small: those of free-form faces are of points on them."""
MOST = 60
"""Heights between them at most; what is still open then is told on the safe side."""
CLOSED = 5e-3
"""How much deeper (mm) than found the flank may reach into a face that is not flat."""
TOUCH = LENGTH + CLOSED
"""What reaches no deeper (mm) may have been taken for clear, looked at from other heights."""
TIPS = 12
"""Depths of the tip that are tried between the least and the most."""
FINE = 5e-3
"""The least depth that clears is found to this (mm)."""
THREAD = 1e-3
"""Half the width (mm) of the line that stands for the axis's path where a solid is made of it."""


@dataclass(frozen=True)
class Hit:
    """The worst place of a path: ``over`` is how far the tool reaches into what stands there, a column that ends at
    height ``top``; ``at`` the axis point, ``tip`` the tip's height there."""

    over: float
    top: float
    at: tuple[float, float]
    tip: float


CLEAR = Hit(-math.inf, 0.0, (0.0, 0.0), 0.0)


def flank_of_tool(tool: Tool) -> Flank | None:
    """The cone of a pointed tool; None for every other."""
    half = tool.flank_half_angle
    if tool.type not in NEEDS_ANGLE or half is None or half >= 90:
        return None
    return Flank((tool.tip_diameter or 0.0) / 2, math.tan(math.radians(half)), tool.radius)


def axis_off(flank: Flank, rim: Rim, tip: float) -> Floats:
    """How far the axis runs outside the lower edge (n,): the flank touches its foot or the upper edge first."""
    below = flank.blunt + (rim.low - tip - rim.base) * flank.rise
    return np.asarray(below + np.maximum(rim.tall * flank.rise - rim.width, 0.0))


def axis_points(flank: Flank, rims: Sequence[Rim], tip: float) -> Floats:
    """Points of the axis's path (n, 2) for all rims, in their order."""
    return np.concatenate([rim.points + axis_off(flank, rim, tip)[:, None] * rim.off for rim in rims])


def axis_tips(rims: Sequence[Rim], tip: float) -> Floats:
    """Height of the tip (n,) at each of them; ``tip`` is the lowest of all."""
    return np.concatenate([tip + rim.base + rim.climb for rim in rims])


@dataclass(frozen=True, eq=False)
class Column:
    """Distances (n,) of axis points from the metal that stands higher than ``top`` on one face; negative inside."""

    top: float
    away: Floats


def near_faces(sky: Skyline, points: Floats, above: float, margin: float) -> Iterator[Shown]:
    """The faces of a body that look up, rise above a height and may come within a margin of some point."""
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    for shown in sky.upward(above, (x0 - margin, y0 - margin, x1 + margin, y1 + margin)):
        if (box_gaps(shown.bounds, points) <= margin + LENGTH).any():
            yield shown


def box_gaps(box: Bounds, points: Floats) -> Floats:
    """Lower bounds of the distances of points from a face with that box; 0 where it may hold them."""
    low, high = np.array(box[:2]), np.array(box[2:])
    off = np.maximum(np.maximum(low - points, points - high), 0.0)
    return np.asarray(np.maximum(np.hypot(*off.T) - SLACK * float((high - low).max()), 0.0))


def columns(sky: Skyline, points: Floats, above: float, margin: float) -> Iterator[Column]:
    """What of a body rises above a height within a margin of the points: flat tops whole, others in steps;
    not bent faces."""
    for shown in (s for s in near_faces(sky, points, above, margin) if not is_bent(sky, s)):
        for z in _looked_at(shown, above):
            yield Column(z, away_above(sky, shown, z, points, margin))


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
    points, tips = axis_points(flank, rims, tip), axis_tips(rims, tip)
    high = np.concatenate([rim.low + rim.climb + rim.tall for rim in rims])
    over = np.full((2, len(points)), -np.inf)
    tops = np.zeros((2, len(points)))
    for sky in skies:
        for shown in near_faces(sky, points, tip + above, flank.radius):
            gaps = box_gaps(shown.bounds, points)
            low = float(tips[gaps <= flank.radius + LENGTH].min())
            near = np.flatnonzero(_highest_reach(flank, shown, tips) > gaps)
            for into, top in met(flank, sky, shown, points[near], tips[near], above, low) if len(near) else ():
                taller = (top > high[near] + LENGTH).astype(int)
                for k in (0, 1):
                    more = (taller == k) & (into > over[k, near])
                    over[k, near[more]], tops[k, near[more]] = into[more], top[more]
    over[0][_in_corners(flank, rims, tip, over.max(axis=0))] = -np.inf
    row, n = divmod(int(np.argmax(over)), len(points))
    if over[row, n] == -np.inf:
        return CLEAR
    return Hit(float(over[row, n]), float(tops[row, n]), (float(points[n, 0]), float(points[n, 1])), float(tips[n]))


def _highest_reach(flank: Flank, shown: Shown, tips: Floats) -> Floats:
    """Upper bounds (n,) of the tool's radius at any height of a face; -inf where the face ends below the tip."""
    high = shown.high + SLACK * (shown.high - shown.low) + CLOSED  # of free forms heights too are of points on them
    return flank.at(high - tips)


def met(
    flank: Flank, sky: Skyline, shown: Shown, points: Floats, tips: Floats, above: float, low: float
) -> Iterator[tuple[Floats, Floats]]:
    """How far the tool reaches into one face at each place (n,), and at which height (n,), in several ways that each
    see some of it; looked at ``above`` the height ``low`` of a tip, and higher."""
    for one in () if is_bent(sky, shown) else _closely(flank, sky, shown, points, tips, low + above):
        held = one.top - tips >= above - COINCIDENT
        yield np.where(held, _into(flank, one.top, one.away, tips), -np.inf), np.full(len(points), one.top)
    slant = leaning(sky, shown, points, flank.radius)
    if slant is not None:
        yield deepest(slant, flank, points, tips, above)


def _closely(flank: Flank, sky: Skyline, shown: Shown, points: Floats, tips: Floats, above: float) -> Iterator[Column]:
    """The columns of one face above a height, at more heights wherever between two of them the flank could reach deeper
    by CLOSED: what rises above one is never nearer than its column, what ends below the next never meets more of the
    flank."""

    def at(z: float) -> Column:
        return Column(z, away_above(sky, shown, z, points, flank.radius))

    found = [at(z) for z in _looked_at(shown, above)]
    yield from found
    if _is_plain(flank, sky, shown):
        return
    best = np.max([_into(flank, one.top, one.away, tips) for one in found], axis=0)
    open_, tries = list(pairwise(found)), 0
    while open_:
        low, high = open_.pop()
        if not (_into(flank, high.top, low.away, tips) > np.maximum(best, LENGTH) + CLOSED).any():
            continue
        if tries == MOST:  # on the safe side
            yield Column(high.top, low.away)
            continue
        middle, tries = at((low.top + high.top) / 2), tries + 1
        best = np.maximum(best, _into(flank, middle.top, middle.away, tips))
        open_ += [(low, middle), (middle, high)]
        yield middle


def _into(flank: Flank, z: float, away: Floats, tips: Floats) -> Floats:
    return np.asarray(flank.at(z - tips) - away)


def _is_plain(flank: Flank, sky: Skyline, shown: Shown) -> bool:
    """Whether some heights will do: of a face that leans as the flank does, which has the same in common with it at
    all of them, and of a plane one, of which a closed form tells the rest. (One that ends where the chamfer does
    touches the flank all the way up: no heights would be enough.)"""
    slope = flank_of(sky.body, shown.index, sky.frame)
    if shown.flat or slope is None or face_facts(sky.body)[shown.index].kind == "plane":
        return shown.flat or slope is not None
    return abs(math.tan(math.radians(slope)) - flank.rise) <= COINCIDENT


def _in_corners(flank: Flank, rims: Sequence[Rim], tip: float, over: Floats) -> NDArray[np.bool_]:
    """Barred places no farther from one that is free, and from an edge before them, than the tool is wide there."""
    edge, off = (np.concatenate(values) for values in zip(*((r.points, r.off) for r in rims), strict=True))
    wide = np.concatenate([axis_off(flank, r, tip) + r.width + STEP for r in rims])
    found, free = over > LENGTH, edge[over <= LENGTH]
    for n in np.flatnonzero(found):
        gap = _beside(edge, edge[n], wide[n])
        before = (np.hypot(*gap.T) <= wide[n]) & (gap @ off[n] > LENGTH)
        found[n] = bool(before.any() and (np.hypot(*_beside(free, edge[n], wide[n]).T) <= wide[n]).any())
    return np.asarray(found)


def _beside(points: Floats, at: Floats, far: float) -> Floats:
    """Ways (n, 2) from a place to those of the points that lie no farther off it along one axis."""
    return np.asarray(points[np.abs(points[:, 0] - at[0]) <= far] - at)


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
    room = flank.height - max(rim.high - first - rim.base for rim in rims)
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
    least = flank.blunt + flank.rise * (max(rim.high - rim.base for rim in rims) - tip) + LENGTH
    narrow = Flank(flank.blunt, flank.rise, least)
    if worst(narrow, rims, tip, skies).over > LENGTH:
        return None
    points, tips = axis_points(flank, rims, tip), axis_tips(rims, tip)
    near = [one for sky in skies for one in columns(sky, points, max(rim.high for rim in rims), flank.radius)]
    cone = [flank.blunt + flank.rise * (one.top - tips) for one in near]
    barred = [one.away[one.away < r - LENGTH].min(initial=flank.radius) for one, r in zip(near, cone, strict=True)]
    found = _made_to_clear(flank, rims, tip, skies, max(float(min(barred, default=flank.radius)), least))
    return found if found is not None and found >= least else None


def _made_to_clear(
    flank: Flank, rims: Sequence[Rim], tip: float, skies: Sequence[Skyline], radius: float
) -> float | None:
    """The radius, smaller by what it still reaches into slopes between the heights looked at; None where none does."""
    for _ in range(TIPS):
        over = worst(Flank(flank.blunt, flank.rise, radius), rims, tip, skies).over
        if over <= LENGTH:
            return radius
        radius -= over
    return None


def tool_bodies(flank: Flank, rims: Sequence[Rim], tip: float, top: float, frame: Frame) -> tuple[Body, ...]:
    """What the tool below its neck passes through while its tip runs at a height along level edges; up to ``top``."""
    width, shoulder = flank.radius - flank.blunt, min(tip + flank.height, top)
    outline = [(width, tip), (flank.radius - float(flank.at(shoulder - tip)), shoulder), (0.0, top), (width, top)]
    outline = outline if shoulder < top else [outline[0], outline[1], outline[3]]
    paths = [path for rim in rims if rim.level for path in _paths(rim, float(axis_off(flank, rim, tip).max()))]
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
