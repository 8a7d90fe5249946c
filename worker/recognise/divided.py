"""One broken edge in several stretches: a slot or keyway that crosses a chamfer or round divides its face."""

from __future__ import annotations

from collections.abc import Iterable

from schemas.base import Vec3, cross, norm, unit
from schemas.tolerances import SAME_ANGLE, SAME_LENGTH
from worker.recognise.extent import extent
from worker.recognise.patches import PartShape
from worker.recognise.strips import straight


def whole(shape: PartShape, groups: Iterable[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """The groups with those put together that are stretches of one edge."""
    found: list[tuple[int, ...]] = []
    for group in sorted(groups):
        mates = [g for g in found if any(_one_edge(shape, a, b) for a in g for b in group)]
        found = [g for g in found if g not in mates]
        found.append(tuple(sorted({*group, *(p for g in mates for p in g)})))
    return sorted(found)


def _one_edge(shape: PartShape, a: int, b: int) -> bool:
    """True for stretches of one surface between the same two faces, nearer to each other than the longer is long.

    Stretches further apart belong to things that only happen to stand in one line. Round ones may also end at the same
    faces, as at two flats of a disc.
    """
    common = _beside(shape, a) & _beside(shape, b)
    if shape.carriers[a] != shape.carriers[b] or len(common) < 2:
        return False
    surface = shape.patches[a].surface
    if surface.kind in ("cone", "torus"):
        spans = [extent(shape, (p,), surface.axis) for p in (a, b)]
        return all(abs(p - q) < SAME_LENGTH for p, q in zip(*spans, strict=True))
    if len(common) > 2:
        return False
    along = surface.axis if surface.kind == "cylinder" else _edge_line(shape, common)
    if along is None:
        return False
    first, second = sorted(extent(shape, (p,), along) for p in (a, b))
    return second[0] - first[1] <= max(first[1] - first[0], second[1] - second[0])


def _edge_line(shape: PartShape, beside: set[int]) -> Vec3 | None:
    """Direction of the edge in which two planes meet; None for a part's two ends, which meet nowhere."""
    one, other = (shape.patches[p].surface for p in sorted(beside))
    along = cross(one.axis, other.axis)
    return unit(along) if one.kind == other.kind == "plane" and norm(along) > SAME_ANGLE else None


def _beside(shape: PartShape, index: int) -> set[int]:
    """Carriers of the faces that the edge lies between; a straight one meets them in lines, a groove at its end not."""
    patch = shape.patches[index]
    rims = patch.rims if patch.surface.kind in ("cone", "torus") else straight(patch.rims)
    return {shape.carriers[r.other] for r in rims if r.convexity in ("convex", "smooth")}
