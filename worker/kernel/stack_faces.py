"""Faces of a stack of prisms: level ones and upright walls, which share their edges and corners (mm)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace
from OCP.Geom import Geom_CylindricalSurface
from OCP.Geom2d import Geom2d_Line
from OCP.gp import gp_Ax3, gp_Dir2d, gp_Pln, gp_Pnt2d
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shell, TopoDS_Solid, TopoDS_Vertex, TopoDS_Wire

from schemas.base import Frame
from worker.kernel.errors import KernelError
from worker.kernel.planar_edge import Edge, Point2, middle_of, tangent_at
from worker.kernel.planar_meet import Known
from worker.kernel.shape import Body, to_dir, to_pnt
from worker.kernel.sweep import CONFUSION, kernel_circle, kernel_edge, off_arc, vertex

_BACKWARDS = TopAbs_Orientation.TopAbs_REVERSED


@dataclass(frozen=True)
class Piece:
    """A piece of a border at one height: its number there, those of its ends, and where it runs."""

    number: int
    start: int
    end: int
    edge: Edge


@dataclass(frozen=True)
class Place:
    """The pieces of one border edge at a height, from its start on."""

    z: float
    pieces: tuple[Piece, ...]


Corner = tuple[float, int]
"""A height, and the number of a point there."""
Key = tuple[object, ...]


class Builder:
    """Makes each corner and edge once. ``faces`` are those made so far, each with the keys of its edges."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self.faces: list[tuple[TopoDS_Face, tuple[Key, ...]]] = []
        self._corners: dict[Corner, TopoDS_Vertex] = {}
        self._edges: dict[Key, TopoDS_Edge] = {}
        self._foot: dict[Key, float] = {}

    def level(self, z: float, loops: Sequence[Sequence[tuple[Piece, bool]]], looks_up: bool) -> None:
        """A level face within a border and round holes, each piece with whether it runs backwards there."""
        plane = gp_Pln(to_pnt(self.frame.to_world((0.0, 0.0, z))), to_dir(self.frame.z))
        outer, *holes = (_wire([_turn(self._along(z, p), back) for p, back in loop]) for loop in loops)
        maker = BRepBuilderAPI_MakeFace(plane, outer, True)
        for hole in holes:
            maker.Add(hole)
        face = maker.Face()
        keys = tuple(_key(z, p) for loop in loops for p, _ in loop)
        self.faces.append((face if looks_up else TopoDS.Face_s(face.Reversed()), keys))

    def wall(self, edge: Edge, low: Place, high: Place, starts: Sequence[Corner], ends: Sequence[Corner]) -> None:
        """The upright wall over a border edge, which has the metal on its left; with the corners at its start and end,
        from the lowest up."""
        start, end = ([self._post(*two) for two in pairwise(corners)] for corners in (starts, ends))
        keys = [*(_key(low.z, p) for p in low.pieces), *end, *(_key(high.z, p) for p in high.pieces), *start]
        make = self._flat if edge.centre is None else self._round
        self.faces.append((make(edge, low, high, start, end), tuple(keys)))

    def border(self, place: Place) -> None:
        """The edges and corners of some pieces, for the walls that meet in them."""
        for p in place.pieces:
            self._along(place.z, p)

    def neighbours(self) -> Iterator[tuple[int, int]]:
        """Pairs of faces that share an edge."""
        first: dict[Key, int] = {}
        for number, (_, keys) in enumerate(self.faces):
            yield from ((first.setdefault(key, number), number) for key in keys)

    def solid(self, numbers: Iterable[int]) -> Body:
        """The solid that some of the faces bound."""
        shell, solid, builder = TopoDS_Shell(), TopoDS_Solid(), BRep_Builder()
        builder.MakeShell(shell)
        for number in sorted(numbers):
            builder.Add(shell, self.faces[number][0])
        shell.Closed(True)
        builder.MakeSolid(solid)
        builder.Add(solid, shell)
        return Body(solid)

    def _flat(self, edge: Edge, low: Place, high: Place, start: Sequence[Key], end: Sequence[Key]) -> TopoDS_Face:
        tx, ty = tangent_at(edge, 0.0)
        outward = to_dir(self.frame.direction_to_world((ty, -tx, 0.0)))
        plane = gp_Pln(to_pnt(self.frame.to_world((*edge.a, low.z))), outward)
        around = [*self._run(low), *(self._edges[key] for key in end), *_back(self._run(high))]
        return BRepBuilderAPI_MakeFace(plane, _wire([*around, *_back(self._edges[k] for k in start)]), True).Face()

    def _round(self, edge: Edge, low: Place, high: Place, start: Sequence[Key], end: Sequence[Key]) -> TopoDS_Face:
        """A part of a cylinder whose axis runs up where the border turns left, else down: u grows along the border."""
        face, builder, left = TopoDS_Face(), BRep_Builder(), edge.sweep > 0
        surface = Geom_CylindricalSurface(gp_Ax3(kernel_circle(edge, self.frame, low.z).Position()), edge.radius)
        builder.MakeFace(face, surface, CONFUSION)
        up, half = 1.0 if left else -1.0, abs(edge.sweep) / 2
        for place in (low, high):
            for p in place.pieces:
                line = Geom2d_Line(gp_Pnt2d(_turned(edge, p.edge), up * (place.z - low.z)), gp_Dir2d(1.0, 0.0))
                builder.UpdateEdge(self._along(place.z, p), line, face, CONFUSION)
        for keys, u in ((start, math.pi - half), (end, math.pi + half)):
            for key in keys:
                line = Geom2d_Line(gp_Pnt2d(u, up * (self._foot[key] - low.z)), gp_Dir2d(0.0, up))
                builder.UpdateEdge(self._edges[key], line, face, CONFUSION)
        rising, falling = [self._edges[key] for key in end], [self._edges[key] for key in start]
        if left:
            builder.Add(face, _wire([*self._run(low), *rising, *_back(self._run(high)), *_back(falling)]))
            return face
        builder.Add(face, _wire([*self._run(high), *_back(rising), *_back(self._run(low)), *falling]))
        return TopoDS.Face_s(face.Reversed())

    def _run(self, place: Place) -> list[TopoDS_Edge]:
        return [self._along(place.z, p) for p in place.pieces]

    def _corner(self, z: float, number: int, at: Point2, off: float) -> TopoDS_Vertex:
        key = (z, number)
        if key not in self._corners:
            self._corners[key] = vertex(self.frame.to_world((*at, z)), off)
        BRep_Builder().UpdateVertex(self._corners[key], max(CONFUSION, 1.5 * off))  # the widest counts
        return self._corners[key]

    def _along(self, z: float, p: Piece) -> TopoDS_Edge:
        """The kernel's edge of a piece at a height."""
        key = _key(z, p)
        if key not in self._edges:
            a = self._corner(z, p.start, p.edge.a, off_arc(p.edge, p.edge.a))
            b = self._corner(z, p.end, p.edge.b, off_arc(p.edge, p.edge.b))
            self._edges[key] = kernel_edge(p.edge, a, b, self.frame, z)
        return self._edges[key]

    def _post(self, low: Corner, high: Corner) -> Key:
        """The key of the upright edge between two corners."""
        key = ("post", low, high)
        if key not in self._edges:
            maker = BRepBuilderAPI_MakeEdge(self._corners[low], self._corners[high])
            if not maker.IsDone():
                raise KernelError("edge", "the kernel could not build an upright edge")
            self._edges[key], self._foot[key] = maker.Edge(), low[0]
        return key


def _key(z: float, p: Piece) -> Key:
    return ("piece", z, p.number)


def _turn(edge: TopoDS_Edge, backwards: bool) -> TopoDS_Edge:
    return TopoDS.Edge_s(edge.Oriented(_BACKWARDS)) if backwards else edge


def _back(edges: Iterable[TopoDS_Edge]) -> list[TopoDS_Edge]:
    """Edges that follow each other, walked the other way."""
    return [_turn(edge, True) for edge in list(edges)[::-1]]


def _turned(edge: Edge, piece: Edge) -> float:
    """By how much the angle on the edge's own cylinder is larger than that on the piece's circle."""
    x, y, _, _ = middle_of(piece)
    return (Known(edge).fraction((x, y)) - 0.5) * abs(edge.sweep)


def _wire(edges: Iterable[TopoDS_Edge]) -> TopoDS_Wire:
    """Edges that follow each other, as they are turned, to a ring."""
    wire, builder = TopoDS_Wire(), BRep_Builder()
    builder.MakeWire(wire)
    for edge in edges:
        builder.Add(wire, edge)
    wire.Closed(True)
    return wire
