"""Triangles left on faces by the swift of the kernel's two ways of joining points, without its danger.

The swift way kills the process at plane faces like a quarter of a disc, or what such a quarter leaves of its square:
points of one circle that lie alike on both sides of the middle between the plane's two axes. Of such faces with fine
chords one in ten did. So plane faces of straight and bent borders are done on a twin: the same borders in a plane with
axes turned by an angle that no drawing uses, where none lie alike. Thin horns between two arcs a twin may fill.

Outlines of nothing but straight edges can do the same harm where they repeat themselves half a turn on (a strip with
notches at both ends did, and hung on the last bit of where it lay): those of few edges are done the usual way, which
costs them nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.Geom import Geom_Plane
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.GeomAdaptor import GeomAdaptor_Surface
from OCP.IMeshTools import IMeshTools_MeshAlgoType, IMeshTools_Parameters
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Iterator, TopoDS_TShape

from worker.kernel.shape import compound_of, edges

ASKEW = 0.7391
"""By which a twin's axes are turned (rad)."""
FEW, SIDES = 24, 200
"""Borders and edges up to which an outline of straight ones is done the usual way: 5 ms there, 3 ms the other; its time
grows with their square."""
QUARTER, SAME_TURN, WIDE = math.pi / 2, 1e-3, 16.0
"""An arc that turns so far (rad), nearly, of such a radius (mm) at least: with coarse chords no others did harm."""

Way = Literal["usual", "twin", "itself"]


def leave_triangles(of: Sequence[TopoDS_Face], deflection: float, angle: float, *, coarse: bool = False) -> None:
    """Leave triangles on faces that have none, chords within a deflection (mm) and an angle (rad). ``coarse``: of faces
    with bent edges only those with a wide quarter are done on twins, so that others keep their thin horns."""
    ways = [_way(face, coarse) for face in of]
    usual = [face for face, way in zip(of, ways, strict=True) if way == "usual"]
    if usual:
        BRepMesh_IncrementalMesh(compound_of(usual), parameters(deflection, angle))
    others = [(face, way == "twin") for face, way in zip(of, ways, strict=True) if way != "usual"]
    if others:
        _leave_swiftly(others, deflection, angle)


def _leave_swiftly(faces: Sequence[tuple[TopoDS_Face, bool]], deflection: float, angle: float) -> None:
    """Each face, and whether on its twin; one that stands in several places once for all."""
    done: dict[TopoDS_TShape, TopoDS_Face] = {}
    for face, twin in faces:
        if face.TShape() not in done:
            bare = TopoDS.Face_s(face.Located(TopLoc_Location()))
            done[face.TShape()] = _twin(bare) if twin else bare
    placed = [done[face.TShape()].Located(face.Location()).Oriented(face.Orientation()) for face, _ in faces]
    found = parameters(deflection, angle)
    found.MeshAlgo = IMeshTools_MeshAlgoType.IMeshTools_MeshAlgoType_Delabella
    BRepMesh_IncrementalMesh(compound_of(placed), found)
    for face, _ in faces:
        BRep_Builder().UpdateFace(face, BRep_Tool.Triangulation_s(done[face.TShape()], TopLoc_Location()))


def parameters(deflection: float, angle: float) -> IMeshTools_Parameters:
    """Of the usual way, in one thread."""
    found = IMeshTools_Parameters()
    found.Deflection, found.Angle, found.Relative, found.InParallel = deflection, angle, False, False
    return found


def _way(face: TopoDS_Face, coarse: bool) -> Way:
    """How a face's triangles are found: the usual way, or the swift one on its twin or on itself."""
    surface, place = _surface(face)
    if surface is None or not place.IsIdentity() or surface.GetType() != GeomAbs_SurfaceType.GeomAbs_Plane:
        return "itself"
    curves = [BRepAdaptor_Curve(edge) for edge in edges(face)]
    straight = {curve.GetType() == GeomAbs_CurveType.GeomAbs_Line for curve in curves}
    if straight == {True}:
        return "usual" if face.NbChildren() <= FEW and len(curves) <= SIDES else "twin"
    danger = any(map(_is_wide_quarter, curves)) if coarse else len(straight) == 2
    return "twin" if danger else "itself"


def _surface(face: TopoDS_Face) -> tuple[GeomAdaptor_Surface | None, TopLoc_Location]:
    """What a face lies on where it is made, and where that is put there."""
    place = TopLoc_Location()
    surface = BRep_Tool.Surface_s(TopoDS.Face_s(face.Located(TopLoc_Location())), place)
    return (GeomAdaptor_Surface(surface) if surface is not None else None), place


def _twin(face: TopoDS_Face) -> TopoDS_Face:
    """A plane face's own borders in its plane with turned axes."""
    plane = GeomAdaptor_Surface(BRep_Tool.Surface_s(face)).Plane()
    twin, builder = TopoDS_Face(), BRep_Builder()
    builder.MakeFace(twin, Geom_Plane(plane.Rotated(plane.Axis(), ASKEW)), BRep_Tool.Tolerance_s(face))
    borders = TopoDS_Iterator(face, False, False)
    while borders.More():
        builder.Add(twin, borders.Value())
        borders.Next()
    return twin


def _is_wide_quarter(curve: BRepAdaptor_Curve) -> bool:
    if curve.GetType() != GeomAbs_CurveType.GeomAbs_Circle:
        return False
    turn = curve.LastParameter() - curve.FirstParameter()
    return bool(curve.Circle().Radius() >= WIDE and abs(turn - QUARTER) <= SAME_TURN)
