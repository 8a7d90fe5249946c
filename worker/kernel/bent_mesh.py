"""Triangles of a bent face together with its surface's own normals at their corners."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Face

from worker.kernel.errors import KernelError
from worker.kernel.facefacts import normal_at
from worker.kernel.mesh import ANGLE, placed_arrays

Array = NDArray[np.float64]
LEVEL = (0.0, 0.0, 0.0)


def bent_triangles(face: TopoDS_Face, deflection: float) -> Array:
    """Corners of a face's triangles and the outward unit normals there (n, 3, 6): x, y, z, then the normal, null where
    the surface has none. Chords stay within ``deflection`` mm. Raises KernelError where the kernel makes none.
    """
    BRepTools.Clean_s(face)
    BRepMesh_IncrementalMesh(face, deflection, False, ANGLE, False)
    location = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, location)
    if mesh is None or not mesh.HasUVNodes():
        raise KernelError("mesh", "a bent face could not be triangulated")
    places, triangles = placed_arrays(mesh, location)
    adaptor, sign = BRepAdaptor_Surface(face), _side(face)
    spots = [mesh.UVNode(n) for n in range(1, mesh.NbNodes() + 1)]
    normals = sign * np.array([normal_at(adaptor, spot.X(), spot.Y()) or LEVEL for spot in spots])
    BRepTools.Clean_s(face)  # faces are shared between stages: leave no triangles on them
    return np.concatenate((places, normals), axis=1)[triangles]


def _side(face: TopoDS_Face) -> float:
    return -1.0 if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
