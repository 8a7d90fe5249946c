"""Faces of one carrier surface that touch, joined to patches: what recognition works on.

An exporter may split a face, or deliver a bore in two halves; a patch is whole whatever the file did.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, add
from worker.kernel import linked
from worker.kernel.graph import EdgeFact, FaceFact, FaceGraph
from worker.kernel.graph_curves import CurveKind
from worker.kernel.graph_normals import away_from
from worker.kernel.graph_surface import Surface, crossed
from worker.kernel.graph_turns import Convexity
from worker.recognise.borders import Border, border_of
from worker.recognise.carriers import cell_of, same_carrier
from worker.recognise.levelled import levelled

Corners = NDArray[np.float64]

FEW = 500
"""So many corners of a part, about, are looked at before all are."""
ZERO = np.zeros(3)


@dataclass(frozen=True, slots=True)
class Rim:
    """One boundary edge as its patch sees it; ``points`` run with the patch on the left, seen from outside."""

    edge: int
    other: int
    convexity: Convexity
    angle: float
    curve: CurveKind
    length: float
    points: tuple[Vec3, ...]
    start: int
    end: int
    cloud: Corners | None = field(default=None, compare=False, repr=False)
    """The points of a free-form edge as an array (n, 3)."""


@dataclass(frozen=True, eq=False)
class Patch:
    """Touching faces of one carrier surface. Lengths in mm."""

    index: int
    surface: Surface
    faces: tuple[int, ...]
    corners: Corners
    area: float
    point: Vec3
    normal: Vec3
    rims: tuple[Rim, ...]

    @cached_property
    def neighbours(self) -> tuple[int, ...]:
        """The patches it touches along an edge, in order."""
        return tuple(sorted({rim.other for rim in self.rims}))

    @cached_property
    def concave(self) -> tuple[int, ...]:
        """The patches it meets in a concave edge."""
        return tuple(sorted({rim.other for rim in self.rims if rim.convexity == "concave"}))

    @cached_property
    def convex(self) -> tuple[int, ...]:
        """The patches it meets in a convex edge."""
        return tuple(sorted({rim.other for rim in self.rims if rim.convexity == "convex"}))

    @cached_property
    def smooth(self) -> tuple[int, ...]:
        """The patches it runs into smoothly."""
        return tuple(sorted({rim.other for rim in self.rims if rim.convexity == "smooth"}))

    @cached_property
    def carrying(self) -> tuple[Rim, ...]:
        """The edges in which something stands on it, or runs into it smoothly."""
        return tuple(rim for rim in self.rims if rim.convexity in ("concave", "smooth"))

    @cached_property
    def loops(self) -> tuple[tuple[Rim, ...], ...]:
        """The boundary as closed chains of rims; of a plane the outer one first (largest area)."""
        return _loops(self)

    @cached_property
    def border(self) -> Border:
        """The boundary as arrays."""
        return border_of(self.rims)

    @cached_property
    def vertices(self) -> Corners:
        """All triangle corners, (n, 3)."""
        return self.corners.reshape(-1, 3)

    @cached_property
    def looks(self) -> Vec3:
        """Its normals summed over its area (mm2), from its boundary (Stokes): however it is divided."""
        total: Vec3 = (0.0, 0.0, 0.0)
        for lines in (*self.border.free, *(np.array([r.points]) for r in self.rims if r.curve != "other")):
            rest = lines - np.array(self.point)
            (_, xy, xz), (yx, _, yz), (zx, zy, _) = (
                rest[:, :-1].reshape(-1, 3).T @ rest[:, 1:].reshape(-1, 3)
            ).tolist()
            total = add(total, (yz - zy, zx - xz, xy - yx), 0.5)
        return total

    @cached_property
    def order(self) -> tuple[float, ...]:
        """What orders patches where nothing else does, however faces are numbered: flat ones, then large ones first."""
        low, high = (self.vertices.min(axis=0), self.vertices.max(axis=0)) if len(self.corners) else (ZERO, ZERO)
        return (self.surface.kind != "plane", -round(self.area, 2), *np.round((low + high) / 2, 2).tolist(), self.index)

    def span(self, direction: Vec3) -> tuple[float, float]:
        """Least and greatest height of the patch along a direction."""
        heights = self.vertices @ np.array(direction)
        return (float(heights.min()), float(heights.max())) if len(heights) else (0.0, 0.0)


@dataclass(frozen=True, eq=False)
class PartShape:
    """The patches of one part, which patch each face went to, and the threads on them."""

    patches: tuple[Patch, ...]
    of_face: tuple[int, ...]
    threads: dict[int, str] = field(default_factory=dict)
    """Designations of the threads that patches carry, by patch."""
    reaches: dict[tuple[int, Vec3], tuple[float, float] | None] = field(default_factory=dict)
    """How far patches reach along directions that were asked for (``extent``)."""
    supports: dict[tuple[float, ...], float] = field(default_factory=dict)
    """How far the part reaches along directions that were asked for."""

    @cached_property
    def corners(self) -> Corners:
        """All triangles of the part, (n, 3, 3)."""
        return np.concatenate([p.corners for p in self.patches])

    @cached_property
    def owner(self) -> NDArray[np.int64]:
        """The patch of each triangle."""
        return np.concatenate([np.full(len(p.corners), p.index, dtype=np.int64) for p in self.patches])

    @cached_property
    def slices(self) -> tuple[slice, ...]:
        """Where each patch's triangles lie among all of them."""
        ends = np.cumsum([0, *(len(p.corners) for p in self.patches)]).tolist()
        return tuple(slice(a, b) for a, b in pairwise(ends))

    @cached_property
    def _columns(self) -> Corners:
        """The x, y and z of all triangles' corners, (3, n, 3)."""
        return np.ascontiguousarray(self.corners.transpose(2, 0, 1))

    def along(self, axis: Vec3, triangles: NDArray[np.intp] | slice = slice(None)) -> Corners:
        """How far triangles' corners lie along an axis, (n, 3); of all, unless some are given."""
        x, y, z = self._columns[:, triangles]
        found = np.asarray(x * axis[0])
        found += y * axis[1]
        found += z * axis[2]
        return found

    def of_patches(self, best: np.ufunc, values: Corners, empty: float) -> Corners:
        """The least or greatest of the triangles' values (n, ...), patch by patch; ``empty`` where there are none."""
        starts = np.array([s.start for s in self.slices])
        filled = np.array([s.stop > s.start for s in self.slices])
        found = np.full((len(self.slices), *values.shape[1:]), empty)
        found[filled] = best.reduceat(values, starts[filled])
        return found

    @cached_property
    def boxes(self) -> tuple[Corners, Corners]:
        """Lowest and highest coordinates of each patch's triangles, (n, 3) each; of none: infinite, inside out."""
        low, high = self.bounds
        return self.of_patches(np.minimum, low, np.inf), self.of_patches(np.maximum, high, -np.inf)

    def support(self, way: tuple[float, ...]) -> float:
        """How far the part's triangles reach along a direction; remembered."""
        if way not in self.supports:
            self.supports[way] = float((self.corners.reshape(-1, 3) @ np.array(way)).max())
        return self.supports[way]

    @cached_property
    def normals(self) -> Corners:
        """Unit normal of each triangle, out of the material: the carrier's own at the triangle's middle."""
        surfaces = [patch.surface for patch in self.patches]
        found = np.array([s.axis for s in surfaces])[self.owner]
        for kind in sorted({s.kind for s in surfaces} - {"plane"}):
            own = np.flatnonzero(np.array([s.kind == kind for s in surfaces])[self.owner])
            found[own] = _normals(self.corners[own], kind, surfaces, self.owner[own])
        return found

    @cached_property
    def areas(self) -> NDArray[np.float64]:
        """Area of each triangle (mm2)."""
        flat = crossed(self.corners[:, 1] - self.corners[:, 0], self.corners[:, 2] - self.corners[:, 0])
        found: NDArray[np.float64] = np.linalg.norm(flat, axis=1) / 2
        return found

    @cached_property
    def middles(self) -> Corners:
        """The middle of each triangle, (n, 3)."""
        return np.asarray(self.corners.mean(axis=1))

    @cached_property
    def bounds(self) -> tuple[Corners, Corners]:
        """Lowest and highest coordinates of each triangle, (n, 3) each."""
        a, b, c = (self.corners[:, k] for k in range(3))
        return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)

    @cached_property
    def diagonal(self) -> float:
        """Size of the part (mm)."""
        points = self.corners.reshape(-1, 3)
        return float(np.linalg.norm(points.max(axis=0) - points.min(axis=0)))

    @cached_property
    def carriers(self) -> tuple[int, ...]:
        """A number per patch; patches of one plane or round surface, on the same side of it, have the same one."""
        cells: dict[tuple[str, int], list[int]] = {}
        found: list[int] = []
        for patch in self.patches:
            kind, cell = patch.surface.kind, cell_of(patch.surface)
            near = [q for c in (cell - 1, cell, cell + 1) for q in cells.get((kind, c), ())]
            twin = next((q for q in near if same_carrier(self.patches[q].surface, patch.surface)), None)
            found.append(patch.index if twin is None else found[twin])
            if twin is None:
                cells.setdefault((kind, cell), []).append(patch.index)
        return tuple(found)

    @cached_property
    def of_carrier(self) -> dict[int, tuple[int, ...]]:
        """The patches that lie on each carrier, by its number."""
        found: dict[int, list[int]] = {}
        for index, carrier in enumerate(self.carriers):
            found.setdefault(carrier, []).append(index)
        return {carrier: tuple(members) for carrier, members in found.items()}

    @cached_property
    def few(self) -> Corners:
        """Some corners from all over the part, (n, 3): what one of them tells need not be asked of all."""
        points = self.corners.reshape(-1, 3)
        return points[:: 1 + len(points) // FEW]

    def spans(self, axis: Vec3) -> Corners:
        """Least and greatest height of each patch that has triangles along an axis, (n, 2)."""
        a, b, c = self.along(axis).T
        starts = [s.start for s in self.slices if s.stop > s.start]
        low, high = (best.reduceat(best(best(a, b), c), starts) for best in (np.minimum, np.maximum))
        return np.stack([low, high], axis=1)

    def faces(self, patches: Iterable[int]) -> tuple[int, ...]:
        """The part's faces of some patches, sorted."""
        return tuple(sorted(f for p in set(patches) for f in self.patches[p].faces))


def _normals(corners: Corners, kind: str, surfaces: Sequence[Surface], owner: NDArray[np.int64]) -> Corners:
    """Unit normals of triangles on surfaces of one kind, each on that of its owner."""
    if kind == "other":
        flat = crossed(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    else:
        sides = np.array([-1.0 if s.hollow else 1.0 for s in surfaces])[owner, None]
        flat = away_from(corners.mean(axis=1), kind, surfaces, owner) * sides
    size = np.linalg.norm(flat, axis=1)
    unit: Corners = flat / np.where(size > 1e-12, size, 1.0)[:, None]
    return unit


def part_shape(graph: FaceGraph, turned: Sequence[tuple[frozenset[int], Surface]] = ()) -> PartShape:
    """Join the faces of each carrier that touch, and turn edges into rims.

    ``turned``: sets of faces that count as one round face each (threads), with the carrier they are read as.
    """
    graph = levelled(graph)
    taken = {face for members, _ in turned for face in members}
    groups = [kept for g in _groups(graph) if (kept := [f for f in g if f not in taken])]
    groups = sorted([*groups, *(sorted(members) for members, _ in turned)])
    carriers = {min(members): surface for members, surface in turned}
    of_face = [0] * len(graph.faces)
    for number, group in enumerate(groups):
        for face in group:
            of_face[face] = number
    rims: list[list[Rim]] = [[] for _ in groups]
    for edge in graph.edges:
        a, b = of_face[edge.faces[0]], of_face[edge.faces[1]]
        if a != b:
            rims[a].append(_rim(edge, b, True))
            rims[b].append(_rim(edge, a, False))
    patches = tuple(
        _patch(i, [graph.faces[f] for f in group], rims[i], carriers.get(group[0])) for i, group in enumerate(groups)
    )
    return PartShape(patches, tuple(of_face))


def _groups(graph: FaceGraph) -> list[list[int]]:
    smooth = (edge.faces for edge in graph.edges if edge.convexity == "smooth")
    surfaces = [face.surface for face in graph.faces]
    return linked.groups(len(surfaces), ((a, b) for a, b in smooth if same_carrier(surfaces[a], surfaces[b])))


def _rim(edge: EdgeFact, other: int, forward: bool) -> Rim:
    start, end = edge.vertices if forward else edge.vertices[::-1]
    points = edge.points if forward else edge.points[::-1]
    cloud = edge.cloud if forward or edge.cloud is None else edge.cloud[::-1]
    return Rim(edge.index, other, edge.convexity, edge.angle, edge.curve, edge.length, points, start, end, cloud)


def _patch(index: int, facts: list[FaceFact], rims: list[Rim], carrier: Surface | None) -> Patch:
    largest = max(facts, key=lambda f: f.area)
    return Patch(
        index,
        carrier or largest.surface,
        tuple(f.index for f in facts),
        np.concatenate([f.triangles for f in facts]),
        sum(f.area for f in facts),
        largest.point,
        largest.normal,
        tuple(rims),
    )


def _loops(patch: Patch) -> tuple[tuple[Rim, ...], ...]:
    loops = chained(patch.rims)
    if patch.surface.kind == "plane" and len(loops) > 1:
        loops.sort(key=lambda loop: -_signed_area(loop, patch.surface.axis))
    return tuple(loops)


def chained(rims: Sequence[Rim]) -> list[tuple[Rim, ...]]:
    """Rims put end to end, as closed chains where they close."""
    waiting: dict[int, list[Rim]] = {}
    for rim in rims:
        waiting.setdefault(rim.start, []).append(rim)
    loops = []
    for rim in rims:
        if rim not in waiting.get(rim.start, ()):
            continue
        chain = [rim]
        waiting[rim.start].remove(rim)
        while chain[-1].end != chain[0].start and waiting.get(chain[-1].end):
            chain.append(waiting[chain[-1].end].pop(0))
        loops.append(tuple(chain))
    return loops


def loop_points(loop: Iterable[Rim]) -> Corners:
    """The corner points of a chain, (n, 3), without repetition."""
    return np.array([p for rim in loop for p in rim.points[:-1]])


def _signed_area(loop: tuple[Rim, ...], normal: Vec3) -> float:
    points = loop_points(loop)
    rest = points - points[0]
    total = crossed(rest, np.roll(rest, -1, axis=0)).sum(axis=0)
    return float(total @ np.array(normal)) / 2
