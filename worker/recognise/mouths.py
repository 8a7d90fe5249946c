"""Free-form chamfers: they go on where a chamfer of another form ends, or run all round a mouth."""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Sequence

from schemas.base import dot
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.transitions import NARROW, OPEN, SLIGHT, STEEP, UPRIGHT


def bent_chamfers(shape: PartShape, known: Container[int]) -> list[int]:
    """Free-form strips that go on where a chamfer of another form ends, as round the mouth of a pocket in a bar."""
    return [p.index for p in shape.patches if p.surface.kind == "other" and _goes_on(shape, p, known)]


def _goes_on(shape: PartShape, patch: Patch, known: Container[int]) -> bool:
    """True for a strip between two faces that it breaks the edge of, with a chamfer at both of its ends or at one.

    Its long sides are convex, as wide open as a chamfer's are, and long for what it covers.
    """
    ends = set(patch.smooth)
    sides = [r for r in patch.rims if r.other not in ends]
    if patch.concave or not ends or not all(e in known for e in ends) or len({r.other for r in sides}) != 2:
        return False
    leans = all(r.convexity == "convex" and SLIGHT < r.angle < UPRIGHT for r in sides)
    return leans and patch.area < NARROW * (sum(r.length for r in sides) / 2) ** 2


def broken_mouth(shape: PartShape, group: Iterable[int]) -> dict[str, float] | None:
    """Width (across), depth (leg) and angle (degrees) of a free-form ring that breaks the edge between two faces, as
    round the mouth of a bore across a bar; None for any other.

    Narrow as a cone that breaks an edge is: against the radius of a circle as long as the ring.
    """
    members = set(group)
    rims = [r for p in members for r in shape.patches[p].rims if r.other not in members]
    if not all(r.convexity == "convex" and SLIGHT < r.angle < UPRIGHT for r in rims):
        return None
    beside = sorted({shape.carriers[r.other] for r in rims})
    if len(beside) != 2 or any(shape.patches[p].surface.kind != "other" for p in members):
        return None
    angles = [_mean_angle([r for r in rims if shape.carriers[r.other] == c]) for c in beside]
    if sum(angles) > OPEN or _look_apart(shape, beside):
        return None
    length = sum(r.length for r in rims) / 2
    width = sum(shape.patches[p].area for p in members) / length
    sizes = {"width": width, "depth": width * math.sin(min(angles)), "angle": math.degrees(min(angles))}
    return sizes if width < STEEP * length / (2 * math.pi) else None


def _look_apart(shape: PartShape, carriers: Sequence[int]) -> bool:
    """True for two planes that look away from each other: what lies between them is a rim of its own, no edge."""
    first, second = (shape.patches[shape.of_carrier[c][0]].surface for c in carriers)
    return first.kind == second.kind == "plane" and dot(first.axis, second.axis) < math.cos(OPEN)


def _mean_angle(rims: Iterable[Rim]) -> float:
    """Of some edges, by their lengths."""
    known = [(r.angle * r.length, r.length) for r in rims]
    return sum(a for a, _ in known) / sum(length for _, length in known)
