"""What a body shows to a direction: the projections of its faces that look up, and the shadow they throw.

Every upright line through metal leaves it through a face that looks up. So the area that metal above a height
covers is the union of the projections of the upward faces above that height: no section and no boolean is needed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

from OCP.TopoDS import TopoDS_Face

from schemas.base import Frame, Vec3, add
from schemas.tolerances import COINCIDENT, MESH
from worker.kernel import mesh
from worker.kernel.clip import (
    extent,
    half_plane_above,
    lying_cylinder_above,
    silhouette_plane,
    stands,
    upper_faces,
    upper_part,
    upright_cone_above,
)
from worker.kernel.facefacts import (
    FaceFacts,
    Look,
    concave_radius,
    face_facts,
    flank_of,
    lies,
    look_of,
    roofed,
    round_walls,
    sampled_extent,
)
from worker.kernel.outline import Curve, Round, curves, heights, projected
from worker.kernel.planar import NOWHERE, Bounds, Region, boxes_meet, inside_of, intersect, union
from worker.kernel.planar_edge import Edge, bounds, line, reverse
from worker.kernel.shape import KEPT, Body
from worker.kernel.view import View, view_of

__all__ = ["Look", "Shown", "Skyline", "concave_radius", "face_facts", "flank_of"]


@dataclass(frozen=True)
class Shown:
    """One face as a direction sees it: where it looks, its heights, and the box of its projection."""

    index: int
    look: Look
    low: float
    high: float
    bounds: Bounds

    @property
    def flat(self) -> bool:
        """True for a face square to the direction."""
        return self.high - self.low <= COINCIDENT


class _Seen:
    """The faces of a body as a direction sees them, each worked out when first asked for."""

    def __init__(self, body: Body, view: View) -> None:
        self.body, self.view = body, view
        self._regions: dict[int, Region] = {}
        self._parts: dict[tuple[int, float], Region] = {}

    @cached_property
    def _facts(self) -> tuple[FaceFacts, ...]:
        return face_facts(self.body)

    @cached_property
    def _curves(self) -> tuple[Curve, ...]:
        return curves(self.body)

    @cached_property
    def outlines(self) -> tuple[tuple[Edge, ...], ...]:
        """The projection of each edge, in kernel order."""
        return tuple(projected(c, self.view, self._rounds) for c in self._curves)

    @cached_property
    def _rounds(self) -> tuple[Round, ...]:
        return round_walls(self._facts, self.view)

    @cached_property
    def shown(self) -> tuple[Shown, ...]:
        """All faces in kernel order."""
        spans = [heights(c, self.view) if c.kind != "point" else None for c in self._curves]
        boxes = [_box(edges) for edges in self.outlines]
        points = [_point_box(c, self.view) for c in self._curves]
        return tuple(self._show(i, spans, boxes, points) for i in range(len(self._facts)))

    def _show(
        self,
        index: int,
        spans: list[tuple[float, float] | None],
        boxes: list[Bounds | None],
        points: list[Bounds],
    ) -> Shown:
        facts = self._facts[index]
        numbers = [n for n, _ in facts.border]
        zs = [z for n in numbers for z in spans[n] or ()]
        rects = [boxes[n] or points[n] for n in numbers if spans[n] is not None]
        if facts.kind in ("sphere", "torus", "other") or not rects:
            low, high, rect = sampled_extent(facts, self.view)
            zs, rects = [*zs, low, high], [*rects, rect]
        return Shown(index, look_of(facts, self.view), min(zs), max(zs), _hull(rects))

    def region(self, index: int) -> Region:
        """The projection of the upward part of a face; empty for faces that look down or stand upright."""
        if index not in self._regions:
            self._regions[index] = self._project(index)
        return self._regions[index]

    def _project(self, index: int) -> Region:
        look = self.shown[index].look
        if look in ("down", "upright"):
            return NOWHERE
        facts = self._facts[index]
        if look == "up":
            return inside_of(self.border(index))
        if roofed(facts, self._curves):
            return NOWHERE
        plane = silhouette_plane(facts, self.view)
        return self._meshed(index) if plane is None else upper_part(facts, [plane], self.view, self._rounds)

    def _meshed(self, index: int) -> Region:
        """The upward triangles of a face, joined: within MESH of the true projection."""
        vertices, triangles, owner = _triangles(self.body)
        own = triangles[owner == index]
        flat = {
            i: self.view.to_local((x, y, z)) for i in set(own.ravel().tolist()) for x, y, z in [vertices[i].tolist()]
        }
        sides = set()
        for a, b, c in own.tolist():
            if _turns_left(flat[a], flat[b], flat[c]):
                sides |= {(a, b), (b, c), (c, a)}
        return inside_of([line(flat[i][:2], flat[j][:2]) for i, j in sorted(sides) if (j, i) not in sides])

    def border(self, index: int) -> list[Edge]:
        """The projected edges of a face, in the direction in which its border runs."""
        found: list[Edge] = []
        for number, backwards in self._facts[index].border:
            outline = self.outlines[number]
            found += [reverse(e) for e in outline[::-1]] if backwards else outline
        return found

    def part_above(self, shown: Shown, z: float) -> Region:
        """The projection of the part of a face that lies above ``z``."""
        key = (shown.index, z)
        if key not in self._parts:
            self._parts[key] = self._part_above(shown, z)
        return self._parts[key]

    def _part_above(self, shown: Shown, z: float) -> Region:
        region = self.region(shown.index)
        if shown.low >= z - COINCIDENT or not region:
            return region
        facts = self._facts[shown.index]
        if facts.kind == "plane":
            return intersect(region, half_plane_above(facts, self.view, z, region.bounds))
        if facts.kind == "cylinder" and lies(facts, self.view):
            return lying_cylinder_above(facts, self.view, z, region)
        if facts.kind == "cone" and stands(facts, self.view):
            return upright_cone_above(facts, self.view, z, region)
        return self._cut_above(facts, shown, z)

    def is_bent(self, shown: Shown) -> bool:
        """True for a face whose lines of one height are no lines or circles by closed form."""
        facts = self._facts[shown.index]
        if facts.kind == "cylinder":
            return not lies(facts, self.view)
        return facts.kind != "plane" and not (facts.kind == "cone" and stands(facts, self.view))

    def _cut_above(self, facts: FaceFacts, shown: Shown, z: float) -> Region:
        level = (add(self.view.origin, self.view.z, z), self.view.z)
        turn = silhouette_plane(facts, self.view) if shown.look == "both" else None
        if shown.look == "both" and turn is None:
            return self.region(shown.index)
        return upper_part(facts, [level, turn] if turn else [level], self.view, self._rounds)


@lru_cache(maxsize=4)
def _triangles(body: Body) -> tuple[mesh.Vertices, mesh.Triangles, mesh.Triangles]:
    """The body's triangles, kept: each of its faces that needs them is looked up, from several directions."""
    return mesh.triangulate(body, MESH)


@lru_cache(maxsize=KEPT)
def _seen(body: Body, view: View) -> _Seen:
    """Kept for each body: many steps of a setup look at one stock and one workholding."""
    return _Seen(body, view)


class Skyline:
    """A body seen along a frame's z. Heights are z, regions are x, y of that frame."""

    def __init__(self, body: Body, frame: Frame) -> None:
        self.body, self.frame = body, frame
        self.view = view_of(frame)
        self._seen = _seen(body, self.view)
        self._above: dict[float, Region] = {}
        self._rises: dict[int, tuple[float, float]] = {}

    @property
    def shown(self) -> tuple[Shown, ...]:
        """All faces in kernel order."""
        return self._seen.shown

    def region(self, index: int) -> Region:
        """The projection of the upward part of a face; empty for faces that look down or stand upright."""
        return self._seen.region(index)

    def border(self, index: int) -> list[Edge]:
        """The projected edges of a face, in the direction in which its border runs."""
        return self._seen.border(index)

    def upper(self, index: int) -> list[TopoDS_Face]:
        """A face that looks up, of one that also looks down what looks up of it; empty where no plane parts it."""
        facts, look = face_facts(self.body)[index], self.shown[index].look
        if look != "both":
            return [facts.face] if look == "up" else []
        plane = silhouette_plane(facts, self.view)
        return [] if plane is None else upper_faces(facts, [plane], self.view)

    def rise(self, index: int) -> tuple[float, float]:
        """Lowest and highest z of what looks up of a face; of one that no plane parts, of all of it."""
        shown = self.shown[index]
        if shown.look != "both":
            return shown.low, shown.high
        if index not in self._rises:
            self._rises[index] = extent(self.upper(index), self.view) or (shown.low, shown.high)
        return self._rises[index]

    def upward(self, z: float, within: Bounds | None = None) -> list[Shown]:
        """Faces that look up (at least in part) and reach above ``z`` (within a box of x, y)."""
        return [
            s
            for s in self.shown
            if s.look in ("up", "both") and s.high > z + COINCIDENT and (within is None or boxes_meet(s.bounds, within))
        ]

    def above(self, z: float) -> Region:
        """The shadow of all metal above ``z``: what a tool from above may not pass at that height."""
        key = round(z, 6)
        if key not in self._above:
            self._above[key] = self._shadow(z)
        return self._above[key]

    def _shadow(self, z: float) -> Region:
        """Built on the shadow of the next higher level that is known: only faces that reach below it are new."""
        start = min((k for k in self._above if k >= z), default=math.inf)
        fresh = [s for s in self.upward(z) if s.low < start - COINCIDENT or s.high <= start + COINCIDENT]
        known = [self._above[start]] if start in self._above else []
        return union([*known, *(self.part_above(s, z) for s in fresh)])

    def part_above(self, shown: Shown, z: float) -> Region:
        """The projection of the part of a face that lies above ``z``."""
        return self._seen.part_above(shown, z)

    def is_bent(self, shown: Shown) -> bool:
        """True for a face whose lines of one height are no lines or circles by closed form."""
        return self._seen.is_bent(shown)


def _box(edges: tuple[Edge, ...]) -> Bounds | None:
    return _hull([bounds(e) for e in edges]) if edges else None


def _hull(boxes: list[Bounds]) -> Bounds:
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return (min(x0), min(y0), max(x1), max(y1))


def _point_box(curve: Curve, view: View) -> Bounds:
    x, y, _ = view.to_local(curve.a)
    return (x, y, x, y)


def _turns_left(a: Vec3, b: Vec3, c: Vec3) -> bool:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) > 1e-12
