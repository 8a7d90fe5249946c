"""The body as triangles that know their face: for visibility, extents and inside points (never for volumes)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.ShapeFix import ShapeFix_Edge
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shape

from schemas.tolerances import COINCIDENT, MESH
from worker.kernel.mesh import placed_arrays
from worker.kernel.swift_mesh import leave_triangles

TURN = 0.35
"""Largest turn of the normal between neighbouring chords (rad)."""

Corners = NDArray[np.float64]


def face_triangles(shape: TopoDS_Shape, faces: tuple[TopoDS_Face, ...], *, swift: bool = True) -> tuple[Corners, ...]:
    """Per face an array (n, 3, 3) of triangle corners, mm, counter-clockwise seen from outside the material.

    The triangulation is taken off the shape again, so that later bounding boxes do not depend on it. Where the
    ``swift`` triangulator leaves a face without triangles, the kernel's usual one is taken, then that on a mended copy.
    """
    BRepTools.Clean_s(shape)
    found: tuple[Corners, ...] = ()
    if swift:
        leave_triangles(faces, MESH, TURN, coarse=True)
        found = _read(faces)
    if not swift or not all(len(corners) for corners in found):
        BRepMesh_IncrementalMesh(shape, MESH, False, TURN, False)
        found = _read(faces)
    BRepTools.Clean_s(shape)
    return tuple(corners if len(corners) else redrawn(face) for face, corners in zip(faces, found, strict=True))


def redrawn(face: TopoDS_Face) -> Corners:
    """The triangles of a face with its edges' curves in its parameters drawn anew: for one that has none as it stands.

    Writers that divide round faces leave such as run on parameters of their own; half a bore would be missing.
    """
    if BRep_Tool.Surface_s(face) is None:
        return np.zeros((0, 3, 3))
    own, mend = TopoDS.Face_s(BRepBuilderAPI_Copy(face).Shape()), ShapeFix_Edge()
    found = TopExp_Explorer(own, TopAbs_ShapeEnum.TopAbs_EDGE)
    while found.More():
        edge = TopoDS.Edge_s(found.Current())
        if not BRep_Tool.Degenerated_s(edge):
            mend.FixRemovePCurve(edge, own)
            mend.FixAddPCurve(edge, own, BRep_Tool.IsClosed_s(edge, own), COINCIDENT)
        found.Next()
    BRepMesh_IncrementalMesh(own, MESH, False, TURN, False)
    return _corners(own)


def _read(faces: tuple[TopoDS_Face, ...]) -> tuple[Corners, ...]:
    """The triangles that the kernel left on each face; none where it made none."""
    return tuple(_corners(face) for face in faces)


def _corners(face: TopoDS_Face) -> Corners:
    """Corners of a face's triangles, where the face lies, turned to look outwards."""
    place = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, place)
    if mesh is None:
        return np.zeros((0, 3, 3))
    nodes, triangles = placed_arrays(mesh, place)
    corners = nodes[triangles]
    return corners[:, ::-1] if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else corners
