"""The body as triangles that know their face: for visibility, extents and inside points (never for volumes)."""

from __future__ import annotations

import io
import struct
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from OCP.BinTools import BinTools_ShapeSet
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.gp import gp_Pnt
from OCP.IMeshTools import IMeshTools_MeshAlgoType, IMeshTools_Parameters
from OCP.Poly import Poly_Triangulation
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Compound, TopoDS_Face, TopoDS_Shape

from schemas.tolerances import MESH
from worker.kernel.errors import KernelError

TURN = 0.35
"""Largest turn of the normal between neighbouring chords (rad)."""

Corners = NDArray[np.float64]
Rows = NDArray[np.int32]


def face_triangles(shape: TopoDS_Shape, faces: tuple[TopoDS_Face, ...]) -> tuple[Corners, ...]:
    """Per face an array (n, 3, 3) of triangle corners, mm, counter-clockwise seen from outside the material.

    The triangulation is taken off the shape again, so that later bounding boxes do not depend on it.
    """
    BRepTools.Clean_s(shape)
    BRepMesh_IncrementalMesh(shape, _parameters())
    found = _read(faces)
    if not all(len(corners) for corners in found):
        BRepMesh_IncrementalMesh(shape, MESH, False, TURN, False)
        found = _read(faces)
    BRepTools.Clean_s(shape)
    return found


def _parameters() -> IMeshTools_Parameters:
    """Deflections, and the triangulator whose time does not explode on a plane with hundreds of holes."""
    found = IMeshTools_Parameters()
    found.Deflection = MESH
    found.Angle = TURN
    found.Relative = False
    found.InParallel = False
    found.MeshAlgo = IMeshTools_MeshAlgoType.IMeshTools_MeshAlgoType_Delabella
    return found


def _read(faces: tuple[TopoDS_Face, ...]) -> tuple[Corners, ...]:
    """The triangles that the kernel left on each face; none where it made none."""
    places = [TopLoc_Location() for _ in faces]
    meshes = [BRep_Tool.Triangulation_s(face, place) for face, place in zip(faces, places, strict=True)]
    arrays = iter(_arrays([mesh for mesh in meshes if mesh is not None]))
    return tuple(
        np.zeros((0, 3, 3)) if mesh is None else _corners(face, place, *next(arrays))
        for face, place, mesh in zip(faces, places, meshes, strict=True)
    )


def _corners(face: TopoDS_Face, placed: TopLoc_Location, nodes: Corners, triangles: Rows) -> Corners:
    """Corners of a face's triangles out of its nodes (n, 3), put where the face lies and turned to look outwards."""
    corners = _moved(nodes, placed)[triangles - 1]
    return corners[:, ::-1] if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else corners


def _moved(nodes: Corners, placed: TopLoc_Location) -> Corners:
    if placed.IsIdentity():
        return nodes
    move = placed.Transformation()
    return np.array([gp_Pnt(*node).Transformed(move).Coord() for node in nodes.tolist()])


def _arrays(meshes: Sequence[Poly_Triangulation]) -> list[tuple[Corners, Rows]]:
    """Nodes (n, 3) and node numbers of the triangles (m, 3; from 1) of each mesh.

    Read out of the kernel's binary form: asking it for one node after the other takes ten times as long. Faces may
    share one mesh (the ends of a prism do): the kernel writes that once.
    """
    written = {id(mesh): mesh for mesh in meshes}
    data = _bytes(list(written.values()))
    at = data.index(b"\n") + 1
    found: dict[int, tuple[Corners, Rows]] = {}
    for key, mesh in written.items():
        nodes, triangles, plane = struct.unpack_from("<ii?", data, at)
        if (nodes, triangles) != (mesh.NbNodes(), mesh.NbTriangles()):
            raise KernelError("mesh", "the kernel's binary form of triangles is not what it was")
        at += HEAD
        corners = np.frombuffer(data, "<f8", 3 * nodes, at).reshape(-1, 3)
        at += (40 if plane else 24) * nodes
        found[key] = (corners, np.frombuffer(data, "<i4", 3 * triangles, at).reshape(-1, 3))
        at += 12 * triangles
    return [found[id(mesh)] for mesh in meshes]


HEAD = 18
"""Bytes before the nodes of a mesh: two counts, whether it has plane nodes, whether normals, its deflection."""


def _bytes(meshes: Sequence[Poly_Triangulation]) -> bytes:
    builder, whole = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(whole)
    for mesh in meshes:
        bare = TopoDS_Face()
        builder.MakeFace(bare, mesh)
        builder.Add(whole, bare)
    writer, stream = BinTools_ShapeSet(), io.BytesIO()
    writer.SetWithTriangles(True)
    writer.Add(whole)
    writer.WriteTriangulation(stream)
    return stream.getvalue()
