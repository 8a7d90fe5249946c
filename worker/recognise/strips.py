"""Strips between two parallel edges: which of them are lands between grooves, and break no edge."""

from __future__ import annotations

from collections.abc import Collection, Container, Iterable
from dataclasses import dataclass

import numpy as np

from schemas.base import Vec3, cross, dot, norm, scale, sub, unit
from schemas.tolerances import SQUARE, STRIP
from worker.recognise.extent import extent
from worker.recognise.patches import PartShape, Patch, Rim


def straight(rims: Iterable[Rim]) -> list[Rim]:
    """The straight ones."""
    return [r for r in rims if r.curve == "line" and r.length > 1e-6]


def line_of(rim: Rim) -> Vec3:
    """Direction of a straight rim."""
    return unit(sub(rim.points[-1], rim.points[0]))


def long_sides(patch: Patch) -> tuple[Rim, Rim] | None:
    """The two parallel convex sides of a strip that follow the edge it replaces."""
    convex = [r for r in straight(patch.rims) if r.convexity == "convex"]
    ordered = sorted(zip(_sides(convex), convex, strict=True), key=lambda s: (-round(s[0].length, 6), s[1].edge))
    lines = np.array([line_of(rim) for _, rim in ordered])
    others = np.array([rim.other for _, rim in ordered])
    for i, (_, first) in enumerate(ordered):
        opposite = (lines[i + 1 :] @ lines[i] < -1 + STRIP) & (others[i + 1 :] != others[i])
        if opposite.any():
            return first, ordered[i + 1 + int(opposite.argmax())][1]
    return None


@dataclass(eq=False)
class _LongSide:
    """All edges along one line with one neighbour, however many a side is drawn with."""

    line: Vec3
    length: float = 0.0


def _sides(rims: list[Rim]) -> list[_LongSide]:
    """The side that each edge is of."""
    known: dict[int, list[_LongSide]] = {}
    found = []
    for rim in rims:
        line, beside = line_of(rim), known.setdefault(rim.other, [])
        side = next((s for s in beside if abs(dot(s.line, line)) > 1 - STRIP), None)
        if side is None:
            side = _LongSide(line)
            beside.append(side)
        side.length += rim.length
        found.append(side)
    return found


def is_land(shape: PartShape, index: int, chamfers: Container[int]) -> bool:
    """True for a strip of a plane that grooves divide, of which more is no chamfer: the land between two grooves."""
    twins = [p for p in shape.of_carrier[shape.carriers[index]] if p not in chamfers]
    return sum(shape.patches[p].area for p in twins) > shape.patches[index].area


def is_crest(shape: PartShape, index: int, outer: Collection[int]) -> bool:
    """True for the flat top of a ridge: others lie beside it on its plane, or it lies level with the part's foot over
    slopes that stand on something; and across from neither slope lies a side of the part, as it does from the faces of
    a stair whose edges are broken."""
    patch, twins = shape.patches[index], shape.of_carrier[shape.carriers[index]]
    sides = long_sides(patch)
    if sides is None or any(_has_side_across(shape, s.other, outer) for s in sides):
        return False
    slopes = [shape.patches[s.other] for s in sides]
    if all(s.concave and s.index not in outer for s in slopes) and _has_side_across(shape, index, outer):
        return True
    if len(twins) < 2:
        return False
    way = cross(patch.surface.axis, line_of(sides[0]))
    low, high = extent(shape, (index,), way)
    return any(a > high or b < low for a, b in (extent(shape, (p,), way) for p in twins))


def _has_side_across(shape: PartShape, index: int, outer: Collection[int]) -> bool:
    away = scale(shape.patches[index].surface.axis, -1.0)
    return any(norm(sub(shape.patches[p].surface.axis, away)) < SQUARE for p in outer)
