"""Triangles left on faces by the swift of the kernel's two ways of joining points, where that is worth its danger.

The swift way kills the process at plane faces like a quarter of a disc, or what such a quarter leaves of its square:
points of one circle that lie alike on both sides of the middle between two axes. Of such faces with fine chords one in
ten did, of those with 16 holes one in a hundred, with 36 none. So plane faces of few borders, straight and bent, are
done the usual way; thin crescents between arcs only the swift way puts where they are. Outlines of nothing but straight
edges can do the same harm where they repeat themselves half a turn on (a strip with notches at both ends did, and hung
on the last bit of where it lay): those of few edges are done the usual way with any chords, which costs them nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.IMeshTools import IMeshTools_MeshAlgoType, IMeshTools_Parameters
from OCP.TopoDS import TopoDS_Face, TopoDS_Shape

from worker.kernel.shape import compound_of, edges

FEW = 24
"""Borders up to which a plane face is done the usual way: with fine chords it takes 0.1 s there, 0.01 s the other."""
SIDES = 200
"""Edges up to which an outline of straight ones is done the usual way: 5 ms there, 3 ms the other; its time grows with
their square."""
QUARTER, SAME_TURN, WIDE = math.pi / 2, 1e-3, 16.0
"""An arc that turns so far (rad), nearly, of such a radius (mm) at least: with coarse chords no others did harm."""


def leave_triangles(
    shape: TopoDS_Shape, of: Sequence[TopoDS_Face], deflection: float, angle: float, *, coarse: bool = False
) -> None:
    """Leave triangles on the shape's faces, chords within a deflection (mm) and an angle (rad); faces that already have
    some keep them. ``coarse``: of faces with bent edges only wide quarters are done the usual way, which loses the tips
    of thin horns."""
    plain = [face for face in of if _is_plain(face, coarse)]
    if plain:
        BRepMesh_IncrementalMesh(compound_of(plain), parameters(deflection, angle))
    if len(plain) < len(of):
        found = parameters(deflection, angle)
        found.MeshAlgo = IMeshTools_MeshAlgoType.IMeshTools_MeshAlgoType_Delabella
        BRepMesh_IncrementalMesh(shape, found)


def parameters(deflection: float, angle: float) -> IMeshTools_Parameters:
    """Of the usual way, in one thread."""
    found = IMeshTools_Parameters()
    found.Deflection, found.Angle, found.Relative, found.InParallel = deflection, angle, False, False
    return found


def _is_plain(face: TopoDS_Face, coarse: bool) -> bool:
    if face.NbChildren() > FEW or BRep_Tool.Surface_s(face) is None:
        return False
    if BRepAdaptor_Surface(face, False).GetType() != GeomAbs_SurfaceType.GeomAbs_Plane:
        return False
    curves = [BRepAdaptor_Curve(edge) for edge in edges(face)]
    straight = {curve.GetType() == GeomAbs_CurveType.GeomAbs_Line for curve in curves}
    if straight == {True}:
        return len(curves) <= SIDES
    return len(straight) == 2 and (not coarse or any(map(_is_wide_quarter, curves)))


def _is_wide_quarter(curve: BRepAdaptor_Curve) -> bool:
    if curve.GetType() != GeomAbs_CurveType.GeomAbs_Circle:
        return False
    turn = curve.LastParameter() - curve.FirstParameter()
    return bool(curve.Circle().Radius() >= WIDE and abs(turn - QUARTER) <= SAME_TURN)
