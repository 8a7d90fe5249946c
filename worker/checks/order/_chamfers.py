"""Chamfers and edge rounds that are cut while metal still stands on the faces beside them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence, Set

from schemas.base import Vec3, add, cross, scale, sub, unit
from schemas.feature import HOLES, Feature
from worker.checks.api import Context
from worker.checks.metal import place_of, stands_at
from worker.checks.order._faults import OrderFault
from worker.kernel import measure
from worker.kernel.graph import EdgeFact, border_of
from worker.kernel.graph_surface import Surface, normal_at
from worker.kernel.shape import is_empty
from worker.stage.model import Cut, Stage

TRANSITIONS = frozenset({"chamfer", "edge_round"})
BESIDE = 0.05
"""How far beside the chamfer's edge the neighbouring face is looked at (mm)."""
ABOVE = 0.01
"""…and how far above that face (mm)."""
END = math.radians(80)
"""An edge of the chamfer over which the surface turns further bounds its end: a wall that a later step cuts through."""

FACET = 1.5
"""Sides of a facet where chamfers meet are no longer than so many times their width."""


def chamfer_faults(context: Context) -> Iterator[OrderFault]:
    """Where the neighbouring face is still covered, and free at the end: a later step cuts it."""
    for stage, cut in context.sequence:
        for feature in cut.features:
            if feature.class_ in TRANSITIONS and cut.step.operation != "edge_breaking":
                yield from _covered(context, stage, cut, feature)


def _covered(context: Context, stage: Stage, cut: Cut, feature: Feature) -> Iterator[OrderFault]:
    faces = {n for f in context.part.features if f.class_ in TRANSITIONS for n in f.faces}
    edges, surfaces = context.once("part.chamfers", lambda: border_of(context.part.body, faces))
    number = place_of(stage, cut)
    for edge in edges:
        inner = [f for f in edge.faces if f in feature.faces]
        outer = [f for f in edge.faces if f not in feature.faces]
        if len(inner) != 1 or len(outer) != 1 or abs(edge.angle) > END or _is_no_matter(context, outer[0]):
            continue
        if _is_facet(context, outer[0], faces, feature.width or 0.0):
            continue
        point = _beside(edge, outer[0], surfaces[outer[0]])
        if point is None or not stands_at(context, stage, number, point):
            continue
        late = _who_cuts(context, cut, point)
        if late is None:
            continue
        words = f"cuts {feature.id} while metal stands on the face beside it"
        yield OrderFault((stage, cut), late, (feature.id,), words, point)
        return


def _is_no_matter(context: Context, face: int) -> bool:
    """A hole's mouth may be chamfered before the hole is drilled; other chamfers are no faces to wait for."""
    owners = [f.class_ for f in (*context.part.features, *_as_cut(context)) if face in f.faces]
    return any(c in TRANSITIONS or c in HOLES for c in owners)


def _is_facet(context: Context, face: int, faces: Set[int], wide: float) -> bool:
    """Whether the face is what chamfers leave where they meet: they lie all round it, and it is no longer than they are
    wide. It may be cut before them or after them."""
    edges, _ = border_of(context.part.body, {face})
    return all(set(edge.faces) - {face} <= faces and edge.length < FACET * wide for edge in edges)


def _as_cut(context: Context) -> tuple[Feature, ...]:
    """What the steps cut, as they cut it: a flank makes a chamfer of a plane face that leans."""
    return context.once("order.as-cut", lambda: tuple(f for _, cut in context.sequence for f in cut.features))


def _beside(edge: EdgeFact, outer: int, surface: Surface) -> Vec3 | None:
    """A point just above the outer face and just off the edge: seen from outside, a face lies to the left of its edge
    where that runs forward."""
    if len(edge.points) < 2 or surface.kind == "other":
        return None
    middle, way = _half_way(edge.points)
    normal = normal_at(surface, middle)
    along = scale(unit(cross(normal, way)), 1.0 if outer == edge.faces[0] else -1.0)
    return add(add(middle, along, BESIDE), normal, ABOVE)


def _half_way(points: Sequence[Vec3]) -> tuple[Vec3, Vec3]:
    """A point of the edge and the way that it runs there. Of a bent edge one of its own points: between two of them
    the chord lies within the metal, or off the face."""
    half = len(points) // 2
    if len(points) == 2:
        return add(points[0], sub(points[1], points[0]), 0.5), sub(points[1], points[0])
    return points[half], sub(points[half + 1], points[half - 1])


def _who_cuts(context: Context, cut: Cut, point: Vec3) -> tuple[Stage, Cut] | None:
    """The later step that takes the metal at the point; None when nobody or the chamfering step itself does."""
    for stage, other in context.later(cut):
        if not is_empty(other.removal) and measure.contains(other.removal, point) != "out":
            return (stage, other)
    return None
