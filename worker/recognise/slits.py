"""Slits: slots of which only the two cheeks are left, since they run out into something else on every side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from schemas.base import Frame, Vec3, add, cross, dot, scale
from schemas.tolerances import LIMIT, SQUARE
from worker.recognise.access import Sight
from worker.recognise.curved import LONG
from worker.recognise.extent import extent, level_direction
from worker.recognise.holes import crossings
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape

SHARE = 0.5
"""Two planes are cheeks of one slit when at least this share of each lies over the other, in both directions."""


def slit_drafts(shape: PartShape, sight: Sight, planes: Sequence[int]) -> list[Draft]:
    """The slits among planes that belong to nothing else: pairs over air, close to each other or in one bore's wall."""
    found: list[Draft] = []
    taken: set[int] = set()
    for gap, a, b in _gaps(shape, planes):
        if a in taken or b in taken or not _over(shape, a, b, gap):
            continue
        draft = _slit(shape, sight, (a, b), gap)
        if draft:
            taken |= {a, b}
            found.append(draft)
    return found


def _gaps(shape: PartShape, planes: Sequence[int]) -> list[tuple[float, int, int]]:
    """How far planes that face each other over a gap are apart (mm), and which they are; the narrowest first."""
    found: list[tuple[float, int, int]] = []
    surfaces = [shape.patches[p].surface for p in planes]
    a, b, c = np.array([s.axis for s in surfaces]).reshape(-1, 3).T
    x, y, z = np.array([s.origin for s in surfaces]).reshape(-1, 3).T
    for i, surface in enumerate(surfaces[:-1], 1):
        (u, v, w), (p, q, r) = surface.axis, surface.origin
        gaps = (x[i:] - p) * u + (y[i:] - q) * v + (z[i:] - r) * w
        facing = u * a[i:] + v * b[i:] + w * c[i:] < -1 + SQUARE**2
        met = np.flatnonzero(facing & (gaps > 0))
        found += [(gap, planes[i - 1], planes[i + k]) for gap, k in zip(gaps[met].tolist(), met.tolist(), strict=True)]
    return sorted(found)


def _over(shape: PartShape, a: int, b: int, gap: float) -> bool:
    """True when the planes lie over each other, close for their size, with nothing but air half-way between."""
    normal = shape.patches[a].surface.axis
    x = level_direction(shape, (a,), normal)
    lows, highs, sides = [], [], []
    for d in (x, cross(normal, x)):
        spans = [extent(shape, (p,), d) for p in (a, b)]
        lows.append(max(s[0] for s in spans))
        highs.append(min(s[1] for s in spans))
        sides.append(max(s[1] - s[0] for s in spans))
    if any(h - w < SHARE * s - LIMIT for w, h, s in zip(lows, highs, sides, strict=True)):
        return False
    if max(sides) < LONG * gap - LIMIT and not _open_into_one_bore(shape, a, b):
        return False
    middle = [(w + h) / 2 for w, h in zip(lows, highs, strict=True)]
    place = add(scale(x, middle[0]), cross(normal, x), middle[1])
    start = add(place, normal, dot(shape.patches[a].surface.origin, normal))
    return not crossings(shape, start, normal, gap * 0.01, gap * 0.99)


def _open_into_one_bore(shape: PartShape, a: int, b: int) -> bool:
    """Whether both planes end at the edge of one bore: what parts its wall is one slot, however wide."""
    ends = [{shape.carriers[o] for o in shape.patches[p].convex if _is_bore(shape, o)} for p in (a, b)]
    return bool(ends[0] & ends[1])


def _is_bore(shape: PartShape, patch: int) -> bool:
    surface = shape.patches[patch].surface
    return surface.kind == "cylinder" and surface.hollow


def _slit(shape: PartShape, sight: Sight, cheeks: tuple[int, int], gap: float) -> Draft | None:
    """The slit between two cheeks, from the side on which it is least deep; none that nothing sees."""
    normal = shape.patches[cheeks[0]].surface.axis
    x = level_direction(shape, cheeks, normal)
    ways: list[Vec3] = [d for line in (x, cross(normal, x)) for d in (line, scale(line, -1.0))]
    access = tuple(d for d in sight.distinct(ways) if sight.sees(cheeks, d))
    if not access:
        return None
    axis = min(access, key=lambda d: (round(_length(shape, cheeks, d), 3), -d[2], -d[1], -d[0]))
    along = cross(axis, normal)
    sizes: dict[str, object] = {
        "length": _length(shape, cheeks, along),
        "width": gap,
        "depth": _length(shape, cheeks, axis),
        "ends": "open open",
        "open_sides": 2,
        "bottom": "through",
    }
    middle = add(scale(along, sum(extent(shape, cheeks, along)) / 2), axis, extent(shape, cheeks, axis)[1])
    middle = add(middle, normal, dot(shape.patches[cheeks[0]].surface.origin, normal) + gap / 2)
    return Draft("slot", cheeks, Frame(location=middle, axis=axis, ref_direction=along), access, sizes)


def _length(shape: PartShape, cheeks: tuple[int, int], direction: Vec3) -> float:
    low, high = extent(shape, cheeks, direction)
    return high - low
