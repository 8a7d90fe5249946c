"""Mouths that something cuts off from their hole: what is left of a countersink, or of a counterbore's head, beside a
slot that is wider than the hole and goes down past where the two meet."""

from __future__ import annotations

import math

from schemas.base import Vec3, dot
from schemas.tolerances import LEDGE, LENGTH
from worker.recognise.extent import extent
from worker.recognise.holes import Bore, cell_of, crossings
from worker.recognise.patches import PartShape, Patch
from worker.recognise.turns import coaxial


def mouths_apart(shape: PartShape, mates: dict[int, Bore]) -> dict[int, list[int]]:
    """For bores and mouths that touch nowhere but belong together: each one's patches by those of the other."""
    bores = {bore.patches: bore for bore in mates.values()}.values()
    near: dict[int, list[Bore]] = {}
    for bore in bores:
        if shape.patches[bore.patches[0]].surface.kind == "cylinder":
            near.setdefault(cell_of(shape.patches[bore.patches[0]].surface), []).append(bore)
    found: dict[int, list[int]] = {}
    for mouth in (*_cones(shape, mates), *(b.patches for b in bores if _is_head(shape, b))):
        cell = cell_of(shape.patches[mouth[0]].surface)
        under = [b for c in (cell - 1, cell, cell + 1) for b in near.get(c, ()) if _leads_to(shape, mouth, b)]
        if under:
            bore = min(under, key=lambda b: (_gap(shape, mouth, b), b.patches))
            found.setdefault(mouth[0], []).append(bore.patches[0])
            found.setdefault(bore.patches[0], []).extend(mouth)
    for whole in _in_pieces(shape):
        joined = [p for p in whole if _is_joined(shape.patches[p], mates)]
        if joined and len(joined) < len(whole):
            found.setdefault(joined[0], []).extend(p for p in whole if p not in joined)
    return found


def _cones(shape: PartShape, mates: dict[int, Bore]) -> list[tuple[int, ...]]:
    """What something leaves of hollow cones that joins no bore any more."""
    return [g for g in _in_pieces(shape) if not any(_is_joined(shape.patches[p], mates) for p in g)]


def _in_pieces(shape: PartShape) -> list[tuple[int, ...]]:
    """Hollow cones on which nothing stands, each one's pieces together."""
    cones = [p for p in shape.patches if p.surface.kind == "cone" and p.surface.hollow]
    whole = [tuple(shape.of_carrier[c]) for c in sorted({shape.carriers[p.index] for p in cones})]
    return [g for g in whole if all(r.convexity == "convex" for p in g for r in shape.patches[p].rims)]


def _is_joined(patch: Patch, mates: dict[int, Bore]) -> bool:
    return any(o in mates for o in patch.neighbours)


def _is_head(shape: PartShape, bore: Bore) -> bool:
    """True for round walls that each stand on a flat floor in which no hole on their axis begins."""
    patches = [shape.patches[p] for p in bore.patches]
    return patches[0].surface.kind == "cylinder" and all(_on_flat_floor(shape, p) for p in patches)


def _on_flat_floor(shape: PartShape, wall: Patch) -> bool:
    floors = [shape.patches[o] for o in wall.concave]
    if len(floors) != 1 or floors[0].surface.kind != "plane" or floors[0].smooth:
        return False
    return not any(coaxial(shape.patches[o], wall.surface.origin, wall.surface.axis) for o in floors[0].convex)


def _leads_to(shape: PartShape, mouth: tuple[int, ...], bore: Bore) -> bool:
    """True for a narrower bore on a mouth's axis that begins below it, with nothing but air in between."""
    hole = shape.patches[bore.patches[0]].surface
    if not coaxial(shape.patches[mouth[0]], hole.origin, hole.axis):
        return False
    up = _way(shape, mouth)
    top, (low, high) = extent(shape, bore.patches, up)[1], extent(shape, mouth, up)
    narrower = hole.radius < _least_radius(shape, mouth) - LEDGE
    zero = dot(hole.origin, up)
    return narrower and top < low - LENGTH and not crossings(shape, hole.origin, up, top - zero, high - zero)


def _way(shape: PartShape, mouth: tuple[int, ...]) -> Vec3:
    """Out of the material: where a cone opens to, or what a head's floor faces."""
    first = shape.patches[mouth[0]]
    return first.surface.axis if first.surface.kind == "cone" else shape.patches[first.concave[0]].surface.axis


def _least_radius(shape: PartShape, mouth: tuple[int, ...]) -> float:
    surface = shape.patches[mouth[0]].surface
    if surface.kind == "cylinder":
        return surface.radius
    return (extent(shape, mouth, surface.axis)[0] - dot(surface.origin, surface.axis)) * math.tan(surface.half_angle)


def _gap(shape: PartShape, mouth: tuple[int, ...], bore: Bore) -> float:
    up = _way(shape, mouth)
    return round(extent(shape, mouth, up)[0] - extent(shape, bore.patches, up)[1], 3)
