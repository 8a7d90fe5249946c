"""A solid of plane faces from a closed mesh: triangles of one plane become one face."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from OCP.BRep import BRep_Builder
from OCP.Geom import Geom_Line, Geom_Plane
from OCP.gp import gp_Dir, gp_Pnt
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Shell, TopoDS_Solid, TopoDS_Vertex, TopoDS_Wire

from schemas.tolerances import BALANCE, FACETS
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.flats import CONFUSION, Flat, Flats, Loop, flats_of
from worker.kernel.meshes import Piece, mesh_of, pieces, split_by
from worker.kernel.shape import Body, compound
from worker.kernel.validity import shell_faults

if TYPE_CHECKING:
    from manifold3d import Manifold

FORWARD = TopAbs_Orientation.TopAbs_FORWARD
REVERSED = TopAbs_Orientation.TopAbs_REVERSED


def faceted(mesh: Manifold) -> Body:
    """The mesh as a body of plane faces, one solid a piece; faces that go on in one plane are joined."""
    return compound([solid_of(piece) for piece in pieces(mesh)])


def cut_by_meshes(stock: Body, tools: Sequence[Body]) -> Body:
    """The stock without all tools, as a faceted body. Raises KernelError."""
    return faceted(split_by(mesh_of(stock, FACETS), tools, FACETS)[1].solid)


def solid_of(piece: Piece, share: float = BALANCE) -> Body:
    """The piece as a solid; ``share``: of its volume that may go astray.

    Raises KernelError when its shells are at fault or its faces have not the mesh's volume. Every edge is shared by its
    faces, so the shells close as the mesh does. Points may lie beside their faces by the kernel's own tolerance, which
    for a thin crescent is more than a share of its volume.
    """
    flats = flats_of(piece)
    if abs(flats.volume - piece.volume) > max(share * piece.volume, CONFUSION * _surface(piece)):
        raise KernelError("mesh", "the faceted solid has not the volume of its mesh")
    with kernel_step("mesh"):
        made = Body(_Maker(flats).solid())
    if fault := shell_faults(made):
        raise KernelError("mesh", f"the faceted solid is not sound: {fault[0]}")
    return made


def _surface(piece: Piece) -> float:
    a, b, c = np.moveaxis(piece.points[piece.corners], 1, 0)
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2


class _Maker:
    """Vertices and edges, each made once."""

    def __init__(self, flats: Flats) -> None:
        self._flats = flats
        self._points = [gp_Pnt(*point) for point in flats.points.tolist()]
        self._off: list[float] = (flats.off * 1.01).clip(min=CONFUSION).tolist()
        self._vertices: dict[int, TopoDS_Vertex] = {}
        self._edges: dict[tuple[int, int], TopoDS_Edge] = {}
        self._builder = BRep_Builder()

    def solid(self) -> TopoDS_Solid:
        """One shell a skin."""
        shells: dict[int, TopoDS_Shell] = {}
        for flat in self._flats.faces:
            if flat.skin not in shells:
                shells[flat.skin] = TopoDS_Shell()
                self._builder.MakeShell(shells[flat.skin])
            self._builder.Add(shells[flat.skin], self._face(flat))
        solid = TopoDS_Solid()
        self._builder.MakeSolid(solid)
        for shell in shells.values():
            shell.Closed(True)
            self._builder.Add(solid, shell)
        return solid

    def _face(self, flat: Flat) -> TopoDS_Face:
        face = TopoDS_Face()
        plane = Geom_Plane(self._points[flat.loops[0][0]], gp_Dir(*flat.normal.tolist()))
        self._builder.MakeFace(face, plane, TopLoc_Location(), CONFUSION)
        for loop in flat.loops:
            self._builder.Add(face, self._wire(loop))
        return face

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
            self._edges[key] = self._new_edge(*key)
        return self._edges[key].Oriented(FORWARD if a < b else REVERSED)

    def _new_edge(self, a: int, b: int) -> TopoDS_Edge:
        start, end = self._points[a], self._points[b]
        size = start.Distance(end)
        edge = TopoDS_Edge()
        along = gp_Dir(end.X() - start.X(), end.Y() - start.Y(), end.Z() - start.Z())
        self._builder.MakeEdge(edge, Geom_Line(start, along), max(self._off[a], self._off[b]))
        self._builder.Add(edge, self._vertex(a).Oriented(FORWARD))
        self._builder.Add(edge, self._vertex(b).Oriented(REVERSED))
        self._builder.Range(edge, 0.0, size)
        return edge

    def _vertex(self, number: int) -> TopoDS_Vertex:
        if number not in self._vertices:
            self._vertices[number] = TopoDS_Vertex()
            self._builder.MakeVertex(self._vertices[number], self._points[number], self._off[number])
        return self._vertices[number]
