"""Facets that chamfers leave between them where their edges meet."""

from __future__ import annotations

import math
from collections.abc import Collection, Container, Sequence

from schemas.base import Vec3, any_frame, dot
from schemas.tolerances import STRIP
from worker.recognise.extent import extent
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.strips import line_of, long_sides, straight

CORNER = 3
"""So many chamfers at least round a facet make it their corner."""


def corner_facets(shape: PartShape, chamfers: Container[int]) -> list[int]:
    """Plane facets that three or more chamfers leave between them where their edges meet: no faces of their own."""
    flat = (p for p in shape.patches if p.surface.kind == "plane" and p.index not in chamfers)
    return [p.index for p in flat if _lies_between(shape, p, chamfers)]


def _lies_between(shape: PartShape, patch: Patch, chamfers: Container[int]) -> bool:
    sides = straight(patch.rims)
    ends = all(r.convexity == "convex" and r.other in chamfers and _ends_at(shape, r) for r in sides)
    return ends and len(sides) == len(patch.rims) and len({shape.carriers[r.other] for r in sides}) >= CORNER


def _ends_at(shape: PartShape, rim: Rim) -> bool:
    """Whether the strip beyond an edge ends there, and does not run along it."""
    sides = long_sides(shape.patches[rim.other])
    return sides is not None and abs(dot(line_of(sides[0]), line_of(rim))) < 1 - STRIP


def corner_draft(shape: PartShape, facet: int, access: Sequence[Vec3], sides: Collection[Vec3]) -> Draft:
    """A chamfer without a length, since it runs along no edge: how steep it is, and how deep, as the side of the part
    sees it that looks most its way."""
    patch = shape.patches[facet]
    normal = patch.surface.axis
    sizes: dict[str, object] = {}
    square = [d for d in access if d in sides]
    if square:
        way = max(square, key=lambda d: (round(dot(d, normal), 6), d))
        low, high = extent(shape, (facet,), way)
        sizes = {"depth": high - low, "angle": math.degrees(math.acos(dot(normal, way)))}
    areas = shape.areas[shape.slices[facet]]
    x, y, z = (areas @ patch.corners.mean(axis=1) / areas.sum()).tolist()
    return Draft("chamfer", (facet,), any_frame((x, y, z), normal), tuple(access), sizes)
