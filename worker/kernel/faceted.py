"""A solid of plane faces from a closed mesh: triangles of one plane face become one face again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeVertex
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Shell, TopoDS_Solid, TopoDS_Vertex, TopoDS_Wire

from schemas.tolerances import BALANCE, FACETS
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.measure import volume
from worker.kernel.merge import merge
from worker.kernel.meshes import Corners, Piece, Points, mesh_of, pieces, split_by
from worker.kernel.shape import Body, compound
from worker.kernel.validity import kernel_accepts, shell_faults

if TYPE_CHECKING:
    from manifold3d import Manifold

Loop = list[int]
REACHED = TopAbs_Orientation.TopAbs_FORWARD
TURNED = TopAbs_Orientation.TopAbs_REVERSED


def faceted(mesh: Manifold) -> Body:
    """The mesh as a body of plane faces, one solid a piece; faces that go on in one plane are joined."""
    return compound([merge(solid_of(piece)).body for piece in pieces(mesh)])


def cut_by_meshes(stock: Body, tools: Sequence[Body]) -> Body:
    """The stock without all tools, as a faceted body. Raises KernelError."""
    return faceted(split_by(mesh_of(stock, FACETS), tools, FACETS)[1].solid)


def solid_of(piece: Piece) -> Body:
    """The piece as a solid. Raises KernelError when its shells are at fault, or when the kernel's own check stands
    against it and it has not the mesh's volume either.
    """
    with kernel_step("mesh"):
        made = Body(_Maker(piece.points).solid(_faces(piece)))
    if shell_faults(made) or not (kernel_accepts(made.wrapped) or _weighs(made, piece.volume)):
        raise KernelError("mesh", "the faceted solid is not sound")
    return made


def _weighs(body: Body, mesh_volume: float) -> bool:
    return abs(volume(body) - mesh_volume) <= BALANCE * mesh_volume


def _faces(piece: Piece) -> Iterator[tuple[int, Corners, list[Loop]]]:
    """For each face: its skin, its triangles, and its border as closed loops of points."""
    order = np.lexsort((piece.face, piece.source, piece.skin))
    other = np.diff(piece.skin[order]) | np.diff(piece.source[order]) | np.diff(piece.face[order])
    for group in np.split(order, np.flatnonzero(other) + 1):
        triangles, skin = piece.corners[group], int(piece.skin[group[0]])
        loops = None if len(group) == 1 else _border(triangles)
        if loops is not None:
            yield skin, triangles, loops
        else:
            for triangle in triangles:
                yield skin, triangle[None], [triangle.tolist()]


def _border(triangles: Corners) -> list[Loop] | None:
    """The loops round some triangles, metal on the left; None where their border meets itself at a point."""
    edges = {(int(a), int(b)) for t in triangles for a, b in ((t[0], t[1]), (t[1], t[2]), (t[2], t[0]))}
    after: dict[int, int] = {}
    for a, b in sorted(edges):
        if (b, a) in edges:
            continue
        if a in after:
            return None
        after[a] = b
    loops = []
    while after:
        start = min(after)
        loop = [start]
        while (following := after.pop(loop[-1])) != start:
            loop.append(following)
        loops.append(loop)
    return loops


class _Maker:
    """Vertices and edges, each made once."""

    def __init__(self, points: Points) -> None:
        self._points = points
        self._vertices: dict[int, TopoDS_Vertex] = {}
        self._edges: dict[tuple[int, int], TopoDS_Edge] = {}
        self._builder = BRep_Builder()

    def solid(self, faces: Iterator[tuple[int, Corners, list[Loop]]]) -> TopoDS_Solid:
        """One shell a skin."""
        shells: dict[int, TopoDS_Shell] = {}
        for skin, triangles, loops in faces:
            if skin not in shells:
                shells[skin] = TopoDS_Shell()
                self._builder.MakeShell(shells[skin])
            for face in self._face(triangles, loops):
                self._builder.Add(shells[skin], face)
        solid = TopoDS_Solid()
        self._builder.MakeSolid(solid)
        for shell in shells.values():
            shell.Closed(True)
            self._builder.Add(solid, shell)
        return solid

    def _face(self, triangles: Corners, loops: list[Loop]) -> Iterator[TopoDS_Face]:
        normal = self._normal(triangles)
        areas = [float(self._area(loop) @ normal) for loop in loops]
        if sum(area > 0 for area in areas) != 1:  # several parts in one plane: each triangle by itself
            if len(triangles) > 1:
                for triangle in triangles:
                    yield from self._face(triangle[None], [triangle.tolist()])
            return
        outer = int(np.argmax(areas))
        plane = gp_Pln(gp_Pnt(*self._points[loops[outer][0]].tolist()), gp_Dir(*normal.tolist()))
        maker = BRepBuilderAPI_MakeFace(plane, self._wire(loops[outer]), True)
        for number, loop in enumerate(loops):
            if number != outer:
                maker.Add(self._wire(loop))
        yield maker.Face()

    def _normal(self, triangles: Corners) -> Points:
        a, b, c = (self._points[triangles[:, k]] for k in range(3))
        total = np.cross(b - a, c - a)
        best = total[np.argmax(np.linalg.norm(total, axis=1))]
        return np.asarray(best / np.linalg.norm(best), np.float64)

    def _area(self, loop: Sequence[int]) -> Points:
        """Twice the area of a loop as a vector along its normal."""
        at = self._points[loop] - self._points[loop[0]]
        return np.asarray(np.cross(at, np.roll(at, -1, axis=0)).sum(axis=0), np.float64)

    def _wire(self, loop: Loop) -> TopoDS_Wire:
        wire = TopoDS_Wire()
        self._builder.MakeWire(wire)
        for a, b in zip(loop, [*loop[1:], loop[0]], strict=True):
            self._builder.Add(wire, self._edge(a, b))
        wire.Closed(True)
        return wire

    def _edge(self, a: int, b: int) -> TopoDS_Edge:
        key = (min(a, b), max(a, b))
        if key not in self._edges:
            self._edges[key] = BRepBuilderAPI_MakeEdge(self._vertex(key[0]), self._vertex(key[1])).Edge()
        return self._edges[key].Oriented(REACHED if a < b else TURNED)

    def _vertex(self, number: int) -> TopoDS_Vertex:
        if number not in self._vertices:
            self._vertices[number] = BRepBuilderAPI_MakeVertex(gp_Pnt(*self._points[number].tolist())).Vertex()
        return self._vertices[number]
