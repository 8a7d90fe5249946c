"""Triangles of a body, and bodies as bytes (for caches and child processes)."""

from __future__ import annotations

import io
import math
import struct
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from OCP.BinTools import BinTools, BinTools_ShapeSet
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.Poly import Poly_Triangulation
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Face, TopoDS_Iterator, TopoDS_Shape

from schemas.base import Frame
from schemas.tolerances import MESH
from worker.kernel.errors import KernelError
from worker.kernel.measure import area
from worker.kernel.shape import Body, compound_of, faces, is_empty
from worker.kernel.swift_mesh import leave_triangles, parameters

DIGITS = 6
"""Decimals (mm) to which the triangles of two faces end in the same places along an edge of both."""
SPREAD = np.uint64(0x9E3779B97F4A7C15)
"""2^64 by the golden ratio: its multiples are spread evenly."""
Vertices = NDArray[np.float64]
Triangles = NDArray[np.int32]

ANGLE = math.radians(20.0)
"""Largest angle between neighbouring chords: keeps small holes round."""
SPECK = 1e-3
"""A face of this area (mm2) that the kernel cannot triangulate is a sliver between two cuts, and stands for nothing."""


def triangulate(
    body: Body, deflection: float = MESH, angle: float = ANGLE, *, swift: bool = False
) -> tuple[Vertices, Triangles, Triangles]:
    """Vertices (N, 3) in mm, triangles (M, 3) counter-clockwise from outside, and the face index of each triangle (M,).

    Chords stay within ``deflection`` mm of the surface. Vertices are shared within a face, not across faces. ``swift``
    takes the kernel's other way of joining points: ten times faster where fine chords bound a face with many holes.
    It may fill notches in a face's border: where triangles do not close, all is done the other way, and kept if these
    do (those of solids with a face in common close neither way). Faces of no size that the kernel cannot triangulate
    are left out. Raises KernelError where it fails at others.
    """
    if is_empty(body):
        return NO_TRIANGLES
    found = _triangulated(body.wrapped, faces(body), deflection, angle, swift)
    if not swift or _closes(found[0], found[1]):
        return found
    other = _triangulated(body.wrapped, faces(body), deflection, angle, False)
    return other if _closes(other[0], other[1]) else found


def _closes(points: Vertices, corners: Triangles) -> bool:
    """Whether every side of a triangle is another's the other way round, by the places of its ends: told by a sum of
    numbers that such a pair takes away from each other, so that nothing need be sorted."""
    x, y, z = np.round(points * 10**DIGITS).astype(np.int64).view(np.uint64).T
    place = _mixed(_mixed(_mixed(x) + y) + z)
    a, b = place[corners], place[corners[:, (1, 2, 0)]]
    return not (_mixed(a * SPREAD + b) - _mixed(b * SPREAD + a)).sum()


def _mixed(numbers: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Other numbers, of which none can be told from another that is near it (multiplicative hashing, after Knuth)."""
    spread = (numbers ^ numbers >> np.uint64(31)) * SPREAD
    return np.asarray(spread ^ spread >> np.uint64(29))


def triangles_of(
    some: Sequence[TopoDS_Face], deflection: float = MESH, angle: float = ANGLE
) -> tuple[Vertices, Triangles, Triangles]:
    """The same of some faces alone, outward as in their body; those that share an edge meet in the same points."""
    if not some:
        return NO_TRIANGLES
    return _triangulated(compound_of(some), some, deflection, angle, False)


NO_TRIANGLES: tuple[Vertices, Triangles, Triangles] = (
    np.zeros((0, 3)), np.zeros((0, 3), np.int32), np.zeros(0, np.int32)
)  # fmt: skip


def _triangulated(
    shape: TopoDS_Shape, of: Sequence[TopoDS_Face], deflection: float, angle: float, swift: bool
) -> tuple[Vertices, Triangles, Triangles]:
    _mesh(shape, of, deflection, angle, swift)
    points, corners, owner, offset = [], [], [], 0
    for index, face in enumerate(of):
        location = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(face, location)
        if mesh is None:
            if area(face) <= SPECK:
                continue
            raise KernelError("mesh", f"face {index} could not be triangulated")
        at, triangles = placed_arrays(mesh, location)
        if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
            triangles = triangles[:, ::-1]
        points.append(at)
        corners.append(triangles + offset)
        owner.append(np.full(len(triangles), index, np.int32))
        offset += len(at)
    BRepTools.Clean_s(shape)  # faces are shared between stages: leave no triangles on them
    return np.concatenate(points), np.concatenate(corners).astype(np.int32), np.concatenate(owner)


def _mesh(shape: TopoDS_Shape, of: Sequence[TopoDS_Face], deflection: float, angle: float, swift: bool) -> None:
    """Leave triangles on faces; where the swift way leaves a face without, all is done the other way."""
    BRepTools.Clean_s(shape)
    if swift:
        leave_triangles(of, deflection, angle)
        if all(BRep_Tool.Triangulation_s(face, TopLoc_Location()) is not None for face in of):
            return
        BRepTools.Clean_s(shape)
    BRepMesh_IncrementalMesh(shape, parameters(deflection, angle))


def placed_arrays(mesh: Poly_Triangulation, location: TopLoc_Location) -> tuple[Vertices, Triangles]:
    """Nodes (n, 3) of one face's triangles, put where it lies, and the numbers of their corners (m, 3), from 0.

    Read out of the kernel's binary form: asking it for one node after the other takes twenty times as long.
    """
    data = _written(mesh)
    at = data.index(b"\n") + 1
    nodes, triangles, plane = struct.unpack_from("<ii?", data, at)
    if (nodes, triangles) != (mesh.NbNodes(), mesh.NbTriangles()):
        raise KernelError("mesh", "the kernel's binary form of triangles is not what it was")
    places = np.frombuffer(data, "<f8", 3 * nodes, at + HEAD).reshape(-1, 3)
    past = at + HEAD + (40 if plane else 24) * nodes
    corners = np.frombuffer(data, "<i4", 3 * triangles, past).reshape(-1, 3)
    return _moved(places, location), corners - 1


HEAD = 18
"""Bytes before the nodes of a mesh: two counts, whether it has plane nodes, whether normals, its deflection."""


def _written(mesh: Poly_Triangulation) -> bytes:
    """By itself: of faces that share one mesh the kernel would write it once."""
    bare, writer, stream = TopoDS_Face(), BinTools_ShapeSet(), io.BytesIO()
    BRep_Builder().MakeFace(bare, mesh)
    writer.SetWithTriangles(True)
    writer.Add(bare)
    writer.WriteTriangulation(stream)
    return stream.getvalue()


def _moved(nodes: Vertices, location: TopLoc_Location) -> Vertices:
    if location.IsIdentity():
        return nodes
    motion = location.Transformation()
    turn, (x, y, z) = motion.VectorialPart(), nodes.T
    rows = ([turn.Value(row, column) for column in (1, 2, 3)] for row in (1, 2, 3))
    shift = motion.TranslationPart().Coord()
    return np.stack([a * x + b * y + c * z + d for (a, b, c), d in zip(rows, shift, strict=True)], axis=1)


def extent_below(body: Body, frame: Frame, axis: int, top: float, deflection: float) -> tuple[float, float] | None:
    """Least and greatest coordinate along a frame's axis (0, 1, 2) of what lies at or below z = ``top`` in it, by
    triangles; None when nothing does.
    """
    points, corners, _ = triangulate(body, deflection)
    local = (points - frame.location) @ np.array([frame.x, frame.y, frame.z]).T
    ends = local[corners[:, [0, 1, 1, 2, 2, 0]]].reshape(-1, 2, 3)
    rise = ends[:, :, 2] - top
    found = [ends[rise <= 0][:, axis]]
    crossing = rise[:, 0] * rise[:, 1] < 0
    share = rise[crossing, 0] / (rise[crossing, 0] - rise[crossing, 1])
    found.append(ends[crossing, 0, axis] + share * (ends[crossing, 1, axis] - ends[crossing, 0, axis]))
    every = np.concatenate(found)
    return (float(every.min()), float(every.max())) if len(every) else None


def to_bytes(body: Body) -> bytes:
    """The body in the kernel's own binary form: exact, for this version of the kernel, not for keeping."""
    stream = io.BytesIO()
    BinTools.Write_s(body.wrapped, stream)
    return stream.getvalue()


def from_bytes(data: bytes) -> Body:
    """The body of :func:`to_bytes`; trusted bytes only."""
    shape = TopoDS_Shape()
    BinTools.Read_s(shape, io.BytesIO(data))
    return Body(shape)


def bodies_to_bytes(bodies: Sequence[Body]) -> bytes:
    """Several bodies as :func:`to_bytes` writes one; what they share is written once."""
    return to_bytes(Body(compound_of(body.wrapped for body in bodies)))


def bodies_from_bytes(data: bytes) -> tuple[Body, ...]:
    """The bodies of :func:`bodies_to_bytes`, in order, sharing what they shared; trusted bytes only."""
    whole = from_bytes(data)  # must outlive the iterator
    members, found = TopoDS_Iterator(whole.wrapped), []
    while members.More():
        found.append(Body(members.Value()))
        members.Next()
    return tuple(found)
