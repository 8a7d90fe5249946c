"""Triangles left on faces by the swift of the kernel's two ways of joining points, without its danger.

The swift way kills the process at plane faces like a quarter of a disc, or what such a quarter leaves of its square:
points of one circle that lie alike on both sides of the middle between the plane's two axes. Of such faces with fine
chords one in ten did. So plane faces of straight and bent borders are done on a twin: the same borders in a plane with
axes turned by an angle that no drawing uses, where none lie alike. Thin horns between two arcs a twin may fill.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.Geom import Geom_Plane
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.GeomAdaptor import GeomAdaptor_Surface
from OCP.gp import gp_Pln
from OCP.IMeshTools import IMeshTools_MeshAlgoType, IMeshTools_Parameters
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Iterator, TopoDS_TShape

from worker.kernel.shape import compound_of, edges

ASKEW = 0.7391
"""By which a twin's axes are turned (rad)."""
QUARTER, SAME_TURN, WIDE = math.pi / 2, 1e-3, 16.0
"""An arc that turns so far (rad), nearly, of such a radius (mm) at least: with coarse chords no others did harm."""


def leave_triangles(of: Sequence[TopoDS_Face], deflection: float, angle: float, *, coarse: bool = False) -> None:
    """Leave triangles on faces that have none, chords within a deflection (mm) and an angle (rad). ``coarse``: only
    faces with a wide quarter are done on twins, so that others keep their thin horns."""
    twins: dict[TopoDS_TShape, TopoDS_Face] = {}
    for face in of:
        if face.TShape() not in twins:
            twins[face.TShape()] = _done_on(face, coarse)
    placed = [twins[face.TShape()].Located(face.Location()).Oriented(face.Orientation()) for face in of]
    found = parameters(deflection, angle)
    found.MeshAlgo = IMeshTools_MeshAlgoType.IMeshTools_MeshAlgoType_Delabella
    BRepMesh_IncrementalMesh(compound_of(placed), found)
    for face in of:
        BRep_Builder().UpdateFace(face, BRep_Tool.Triangulation_s(twins[face.TShape()], TopLoc_Location()))


def parameters(deflection: float, angle: float) -> IMeshTools_Parameters:
    """Of the usual way, in one thread."""
    found = IMeshTools_Parameters()
    found.Deflection, found.Angle, found.Relative, found.InParallel = deflection, angle, False, False
    return found


def _done_on(face: TopoDS_Face, coarse: bool) -> TopoDS_Face:
    """What is triangulated for a face, where it is made: its twin, or the face itself."""
    bare, place = TopoDS.Face_s(face.Located(TopLoc_Location())), TopLoc_Location()
    surface = BRep_Tool.Surface_s(bare, place)
    if surface is None or not place.IsIdentity():
        return bare
    adapted = GeomAdaptor_Surface(surface)
    if adapted.GetType() != GeomAbs_SurfaceType.GeomAbs_Plane or not _is_in_danger(bare, coarse):
        return bare
    return _twin(bare, adapted.Plane())


def _twin(face: TopoDS_Face, plane: gp_Pln) -> TopoDS_Face:
    """The face's own borders in its plane with turned axes."""
    twin, builder = TopoDS_Face(), BRep_Builder()
    builder.MakeFace(twin, Geom_Plane(plane.Rotated(plane.Axis(), ASKEW)), BRep_Tool.Tolerance_s(face))
    borders = TopoDS_Iterator(face, False, False)
    while borders.More():
        builder.Add(twin, borders.Value())
        borders.Next()
    return twin


def _is_in_danger(face: TopoDS_Face, coarse: bool) -> bool:
    """Whether a plane face has straight and bent borders, with ``coarse`` chords a wide quarter."""
    curves = [BRepAdaptor_Curve(edge) for edge in edges(face)]
    if coarse:
        return any(_is_wide_quarter(curve) for curve in curves)
    return len({curve.GetType() == GeomAbs_CurveType.GeomAbs_Line for curve in curves}) == 2


def _is_wide_quarter(curve: BRepAdaptor_Curve) -> bool:
    if curve.GetType() != GeomAbs_CurveType.GeomAbs_Circle:
        return False
    turn = curve.LastParameter() - curve.FirstParameter()
    return bool(curve.Circle().Radius() >= WIDE and abs(turn - QUARTER) <= SAME_TURN)
