"""Vees that end at a wall: read from the plane that both flanks begin at, not from the open end."""

from __future__ import annotations

from itertools import combinations

from schemas.base import Vec3, add, cross, dot, norm, unit
from schemas.tolerances import LIMIT, SQUARE
from worker.recognise.extent import extent
from worker.recognise.patches import PartShape
from worker.recognise.strips import line_of


def out_of_closed_vee(shape: PartShape, group: tuple[int, ...]) -> Vec3 | None:
    """The way out of two flanks that meet in a sharp line between walls square to it, no deeper than long.

    Where one flank hangs over, that is half way between them. None for any other group: three planes square to each
    other are a corner, what begins at two planes is a notch in the part's edge, and what has one upright flank is a
    pocket that gets deeper.
    """
    flat = {shape.carriers[p]: shape.patches[p].surface for p in group}
    if not 3 <= len(flat) <= 4 or any(surface.kind != "plane" for surface in flat.values()):
        return None
    ways = {carrier: surface.axis for carrier, surface in flat.items()}
    pairs = [(a, b) for a, b in combinations(sorted(ways), 2) if _is_across(ways, a, b)]
    if len(pairs) != 1:
        return None
    flanks = [tuple(p for p in group if shape.carriers[p] == carrier) for carrier in pairs[0]]
    line = unit(cross(*(ways[carrier] for carrier in pairs[0])))
    mouths = _begins_at(shape, flanks[0], line) & _begins_at(shape, flanks[1], line)
    meet = any(o in flanks[1] for p in flanks[0] for o in shape.patches[p].concave)
    if not meet or len(mouths) != 1:
        return None
    out = shape.patches[shape.of_carrier[mouths.pop()][0]].surface.axis
    leans = [dot(out, ways[carrier]) for carrier in pairs[0]]
    if any(abs(lean) < SQUARE for lean in leans):
        return None
    a, b = (ways[carrier] for carrier in pairs[0])
    out = out if min(leans) > 0 else unit(add(a, b))
    (low, high), (floor, top) = extent(shape, group, line), extent(shape, group, out)
    return out if high - low > top - floor - LIMIT else None


def _is_across(ways: dict[int, Vec3], a: int, b: int) -> bool:
    """True for two planes that meet in a line to which all others stand square."""
    line = cross(ways[a], ways[b])
    rest = [way for carrier, way in ways.items() if carrier not in (a, b)]
    return norm(line) > SQUARE and all(abs(dot(unit(line), way)) > 1 - SQUARE**2 for way in rest)


def _begins_at(shape: PartShape, flank: tuple[int, ...], line: Vec3) -> set[int]:
    """The carriers of the planes at whose edge along a line a flank begins."""
    rims = [r for p in flank for r in shape.patches[p].rims if r.convexity == "convex" and r.curve == "line"]
    rims = [r for r in rims if shape.patches[r.other].surface.kind == "plane"]
    return {shape.carriers[r.other] for r in rims if norm(cross(line_of(r), line)) < SQUARE}
