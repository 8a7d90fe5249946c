"""Exact extents of patches from their boundary lines and arcs (mm); of free-form edges to 1e-4 mm."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from schemas.base import Vec3, add, dot, norm, scale, sub, unit
from schemas.tolerances import LENGTH, SAME_LENGTH, SQUARE
from worker.recognise.borders import free_reaches
from worker.recognise.bulges import BULGING, bulge_extent
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.ways_across import least_rectangle, narrow_way

MANY = 8
"""More free-form patches are asked together."""
ALIKE = math.sqrt(1 - SQUARE**2)
"""Cosine between lines of one direction."""


def extent(shape: PartShape, patches: Iterable[int], direction: Vec3) -> tuple[float, float]:
    """Least and greatest height of some patches along a direction, from their boundaries and what bulges past them."""
    patches = tuple(patches)
    if len(patches) > MANY:
        _remember(shape, patches, direction)
    spans = [span for p in patches if (span := _reach(shape, p, direction))]
    if not spans:
        spans = [shape.patches[p].span(direction) for p in patches]
    return min(s[0] for s in spans), max(s[1] for s in spans)


def _reach(shape: PartShape, index: int, direction: Vec3) -> tuple[float, float] | None:
    """The heights of one patch, remembered; None for one that has no boundary and does not bulge."""
    key = (index, direction)
    if key not in shape.reaches:
        patch = shape.patches[index]
        spans = [patch.border.reach(direction)] if patch.rims else []
        if patch.surface.kind in BULGING:
            spans.append(bulge_extent(patch, direction))
        shape.reaches[key] = (min(s[0] for s in spans), max(s[1] for s in spans)) if spans else None
    return shape.reaches[key]


def _remember(shape: PartShape, patches: Iterable[int], direction: Vec3) -> None:
    """Ask all free-form patches among some together how far they reach: thousands of them one by one take long."""
    new = [shape.patches[p] for p in patches if (p, direction) not in shape.reaches]
    kinds: dict[int, list[Patch]] = defaultdict(list)
    for patch in new:
        if patch.surface.kind == "other" and len(patch.corners) and patch.rims:
            kinds[patch.border.free_steps].append(patch)
    for steps, members in kinds.items():
        if steps and len(members) > MANY:
            low, high = free_reaches([patch.border for patch in members], direction)
            bulges = [patch.vertices @ np.array(direction) for patch in members]
            starts = np.cumsum([0, *map(len, bulges[:-1])])
            heights = np.concatenate(bulges)
            lows = np.minimum(low, np.minimum.reduceat(heights, starts)).tolist()
            highs = np.maximum(high, np.maximum.reduceat(heights, starts)).tolist()
            for patch, *span in zip(members, lows, highs, strict=True):
                shape.reaches[patch.index, direction] = span[0], span[1]


def extent_between(
    shape: PartShape, patches: Iterable[int], direction: Vec3, axis: Vec3, span: tuple[float, float]
) -> tuple[float, float]:
    """The same of what lies between two heights along an axis; of patches other than flat ones: of all of them."""
    found: list[tuple[float, float]] = []
    for index in patches:
        surface = shape.patches[index].surface
        level = abs(dot(surface.axis, axis)) > 1 - SQUARE
        places = _within(shape.patches[index].rims, axis, span) if surface.kind == "plane" and not level else []
        heights = [dot(p, direction) for p in places]
        found.append((min(heights), max(heights)) if heights else extent(shape, (index,), direction))
    return min(f[0] for f in found), max(f[1] for f in found)


def _passes(rim: Rim, axis: Vec3, height: float) -> list[Vec3]:
    """Where a boundary passes a height."""
    found: list[Vec3] = []
    for a, b in pairwise(rim.points):
        p, q = dot(a, axis), dot(b, axis)
        if (p < height) != (q < height):
            found.append(add(a, sub(b, a), (height - p) / (q - p)))
    return found


def _within(rims: Iterable[Rim], axis: Vec3, span: tuple[float, float]) -> list[Vec3]:
    """The corners of a boundary between two heights, and where it passes those."""
    low, high = span[0] + SAME_LENGTH, span[1] - SAME_LENGTH  # edges that run at these heights bound what lies beyond
    inside = [p for rim in rims for p in rim.points if low < dot(p, axis) < high]
    return inside + [p for rim in rims for z in (low, high) for p in _passes(rim, axis, z)]


def level_direction(shape: PartShape, patches: Iterable[int], axis: Vec3) -> Vec3:
    """The direction square to an axis in which most straight boundary of some patches runs.

    The sum of lengths counts, so that it does not matter how edges are divided. Where none runs, it is the way of
    their narrowest strip: across the mouth of a half bore.
    """
    patches = tuple(patches)
    level = [found for index in patches for rim in shape.patches[index].rims if (found := _level(rim, axis))]
    if not level:
        return narrow_way(shape, patches, axis)
    lines: list[tuple[Vec3, float]] = []
    known = np.zeros((len(level), 3))
    for line, size in level:
        alike = np.abs(known[: len(lines)] @ np.array(line)) > ALIKE
        k = int(alike.argmax()) if alike.any() else len(lines)
        if k == len(lines):
            lines.append((line, 0.0))
            known[k] = line
        lines[k] = (lines[k][0], lines[k][1] + size)
    best = _half(best_line(shape, patches, axis, [(_half(line), round(size, 2)) for line, size in lines]))
    return unit(add(best, axis, -dot(best, axis)))


def best_line(shape: PartShape, patches: tuple[int, ...], axis: Vec3, lines: Iterable[tuple[Vec3, float]]) -> Vec3:
    """Of lines square to an axis the longest; of those as long the one along the least rectangle round the patches.

    Which way the part lies comes last: it decides between lines that nothing else tells apart.
    """
    lines = list(lines)
    most = max(size for _, size in lines)
    tied = [line for line, size in lines if size > most - LENGTH]
    askew = any(SQUARE < abs(dot(tied[0], line)) < ALIKE for line in tied)
    if not askew:
        return max(tied)
    line = least_rectangle(shape, patches, axis, tied)
    return line if line in tied else _half(line)


def _level(rim: Rim, axis: Vec3) -> tuple[Vec3, float] | None:
    """Direction and length of a straight edge square to an axis; None for any other."""
    line = sub(rim.points[-1], rim.points[0])
    size = norm(line)
    if rim.curve != "line" or size < 1e-6 or abs(dot(line, axis)) > 1e-3 * size:
        return None
    return scale(line, 1 / size), size


def _half(line: Vec3) -> Vec3:
    """Of two opposite directions the one whose first large component is positive; rounded."""
    first = next((c for c in line if abs(c) > 1e-6), 1.0)
    turned = scale(line, 1.0 if first > 0 else -1.0)
    return (round(turned[0], 9), round(turned[1], 9), round(turned[2], 9))
