"""The faces of a body that upright lines cross: their outlines and the law of their heights, or triangles of them (mm).

Planes, and cones that stand upright, are known exactly by what borders them. Other faces are triangulated, and with
them all that meet them in a curve: chords and curve would leave gaps between them. Upright faces meet no upright line.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepTools import BRepTools
from OCP.gp import gp_Ax1
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face
from OCP.TopTools import TopTools_IndexedMapOfShape

from schemas.base import Frame, cross, norm
from schemas.tolerances import MESH
from worker.kernel.facefacts import UPRIGHT, normal_at, surface_kind
from worker.kernel.mesh import triangles_of
from worker.kernel.outline import curve_of, projected
from worker.kernel.planar import Bounds
from worker.kernel.planar_edge import Edge, Floats, bounds, monotone
from worker.kernel.shape import Body, border_edges, faces, of_xyz, shape_map
from worker.kernel.view import View, view_of

Turn = Literal["up", "down", "upright", "unknown"]
Law = tuple[float, float, float, float, float, float]
LEVEL = 1e-9
"""Sine below which an axis is upright enough for a cone's heights to be those of its outline."""


@dataclass(frozen=True, eq=False)
class Relief:
    """What upright lines cross, in the x, y, z of a frame.

    ``pieces`` (n, 8) are outlines as of ``planar_edge.monotone``, ``owner`` (n,) the number of the face that each
    bounds. ``laws`` (m, 6) give the height on each face: a + b x + c y + d hypot(x - e, y - f); ``up`` (m,) whether
    it looks up. ``triangles`` (k, 3, 3), outward, are those of all other faces. ``bounds`` is the box in x, y; None
    for a body without metal.
    """

    pieces: Floats
    owner: NDArray[np.int64]
    laws: Floats
    up: NDArray[np.bool_]
    triangles: Floats
    bounds: Bounds | None


@dataclass(frozen=True, eq=False)
class _Face:
    """One face: which way it looks, its law where its outline is all that must be known."""

    face: TopoDS_Face
    turn: Turn
    law: Law | None


def relief_of(body: Body, frame: Frame, *, tops: bool = False) -> Relief:
    """The relief of a body; with ``tops`` without what looks down. Triangles are within MESH of their faces."""
    view = view_of(frame)
    seen = [_face(face, view) for face in faces(body)]
    outlines = _Outlines(body, view)
    chords = _with_neighbours(seen, outlines)
    exact = [f for n, f in enumerate(seen) if n not in chords and f.law and not (tops and f.turn == "down")]
    rough = [f.face for n, f in enumerate(seen) if n in chords and not (tops and f.turn == "down")]
    borders = [outlines.of(f.face) for f in exact]
    points, corners, _ = triangles_of(rough, MESH)
    triangles = _local(points[corners], frame)
    pieces = [[m for e in border for m in monotone(e)] for border in borders]
    return Relief(
        np.array([m for own in pieces for m in own]).reshape(-1, 8),
        np.repeat(np.arange(len(pieces)), [len(own) for own in pieces]),
        np.array([f.law for f in exact], np.float64).reshape(-1, 6),
        np.array([f.turn == "up" for f in exact], np.bool_),
        triangles,
        _box([e for border in borders for e in border], triangles),
    )


def _face(face: TopoDS_Face, view: View) -> _Face:
    adaptor = BRepAdaptor_Surface(face, False)
    kind = surface_kind(adaptor)
    if kind == "plane":
        return _plane(face, adaptor, view)
    if kind == "cylinder" and _off_upright(adaptor.Cylinder().Axis(), view) <= UPRIGHT:
        return _Face(face, "upright", None)
    if kind == "cone" and _off_upright(adaptor.Cone().Axis(), view) <= LEVEL:
        return _cone(face, adaptor, view)
    return _Face(face, "unknown", None)


def _off_upright(axis: gp_Ax1, view: View) -> float:
    """Sine between an axis and the view's z."""
    return norm(cross(of_xyz(axis.Direction()), view.z))


def _plane(face: TopoDS_Face, adaptor: BRepAdaptor_Surface, view: View) -> _Face:
    normal = normal_at(adaptor, 0.0, 0.0)
    assert normal is not None  # a plane has one everywhere
    nx, ny, nz = view.direction_to_local(normal)
    if abs(nz) <= UPRIGHT:
        return _Face(face, "upright", None)
    x, y, z = view.to_local(of_xyz(adaptor.Plane().Location()))
    law = (z + (nx * x + ny * y) / nz, -nx / nz, -ny / nz, 0.0, 0.0, 0.0)
    return _Face(face, _turn(face, nz), law)


def _cone(face: TopoDS_Face, adaptor: BRepAdaptor_Surface, view: View) -> _Face:
    """An upright cone's height grows evenly with the distance from its axis."""
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    u, v = (u0 + u1) / 2, (v0 + v1) / 2
    x, y, z = view.to_local(of_xyz(adaptor.Cone().Apex()))
    px, py, pz = view.to_local(of_xyz(adaptor.Value(u, v)))
    normal = normal_at(adaptor, u, v)
    if normal is None:
        return _Face(face, "unknown", None)
    rise = (pz - z) / math.hypot(px - x, py - y)
    return _Face(face, _turn(face, view.direction_to_local(normal)[2]), (z, 0.0, 0.0, rise, x, y))


def _turn(face: TopoDS_Face, nz: float) -> Turn:
    outward = -nz if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else nz
    return "up" if outward > 0 else "down"


class _Outlines:
    """The edges of a body as they are seen, each projected once."""

    def __init__(self, body: Body, view: View) -> None:
        self._view = view
        self._numbers: TopTools_IndexedMapOfShape = shape_map(body.wrapped, TopAbs_ShapeEnum.TopAbs_EDGE)
        self._known: dict[int, tuple[Edge, ...]] = {}

    def of(self, face: TopoDS_Face) -> list[Edge]:
        """The outline of a face; its sense does not matter."""
        return [e for number, edge in self.edges(face) for e in self._edge(number, edge)]

    def edges(self, face: TopoDS_Face) -> Iterator[tuple[int, TopoDS_Edge]]:
        """The edges of a face, with their numbers; a seam comes twice."""
        return ((self._numbers.FindIndex(edge), edge) for edge, _ in border_edges(face))

    def bent(self, face: TopoDS_Face) -> set[int]:
        """Numbers of its edges that are seen as anything but a straight line."""
        return {number for number, edge in self.edges(face) if _is_bent(self._edge(number, edge))}

    def _edge(self, number: int, edge: TopoDS_Edge) -> tuple[Edge, ...]:
        if number not in self._known:
            self._known[number] = projected(curve_of(edge), self._view)
        return self._known[number]


def _is_bent(outline: Sequence[Edge]) -> bool:
    return any(e.centre is not None for e in outline)


def _with_neighbours(seen: Sequence[_Face], outlines: _Outlines) -> set[int]:
    """The faces that are triangulated: unknown ones, and what hangs together with them by bent edges."""
    found = {n for n, f in enumerate(seen) if f.turn == "unknown"}
    if not found:
        return found
    bent = [outlines.bent(f.face) for f in seen]
    fresh = set(found)
    while fresh:
        theirs = set().union(*(bent[n] for n in fresh))
        fresh = {n for n in range(len(seen)) if n not in found and bent[n] & theirs}
        found |= fresh
    return found


def _local(triangles: Floats, frame: Frame) -> Floats:
    axes = np.array([frame.x, frame.y, frame.z])
    return np.asarray((triangles - np.array(frame.location)) @ axes.T, dtype=np.float64)


def _box(edges: Sequence[Edge], triangles: Floats) -> Bounds | None:
    boxes = np.array([bounds(e) for e in edges]).reshape(-1, 4)
    points = triangles[:, :, :2].reshape(-1, 2)
    if not len(boxes) and not len(points):
        return None
    x0, y0 = np.concatenate((boxes[:, :2], points)).min(axis=0).tolist()
    x1, y1 = np.concatenate((boxes[:, 2:], points)).max(axis=0).tolist()
    return (x0, y0, x1, y1)
