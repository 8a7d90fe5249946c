"""Edges of faces that get an elementary surface: splines made the lines and conics they are, and laid on the face."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepLib import BRepLib
from OCP.BRepTools import BRepTools_WireExplorer
from OCP.ElCLib import ElCLib
from OCP.Geom import (
    Geom_Circle,
    Geom_Curve,
    Geom_CylindricalSurface,
    Geom_ElementarySurface,
    Geom_Ellipse,
    Geom_Line,
    Geom_Plane,
    Geom_Surface,
    Geom_ToroidalSurface,
)
from OCP.Geom2d import Geom2d_Line
from OCP.GeomConvert import GeomConvert_CurveToAnaCurve
from OCP.gp import gp_Ax2, gp_Circ, gp_Dir2d, gp_Elips, gp_Lin, gp_Pln, gp_Pnt2d, gp_Vec2d
from OCP.IntAna import IntAna_QuadQuadGeo, IntAna_ResultType
from OCP.ShapeAnalysis import ShapeAnalysis_Surface
from OCP.ShapeFix import ShapeFix_Edge
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Wire
from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape

from worker.kernel.planar_edge import Point2
from worker.kernel.shape import Body, edges, pop_all, sub_shapes, to_dir, to_pnt

EXACT = 1e-7
"""A spline lies this near (mm) to the surface or curve that it is: within the kernel's own confusion distance."""
WHOLE = 1e-9
"""An arc that ends this near (rad) to where it begins goes all round."""
SAMPLES = 13
"""Points at which a curve is compared."""
HERE = TopLoc_Location()
FORWARD, REVERSED = TopAbs_Orientation.TopAbs_FORWARD, TopAbs_Orientation.TopAbs_REVERSED
Array = NDArray[np.float64]


class Curve(NamedTuple):
    """A simple curve and the parameters between which an edge lies on it."""

    curve: Geom_Curve
    first: float
    last: float


def stripped(face: TopoDS_Face, surface: Geom_ElementarySurface) -> None:
    """Gives the face another surface; its edges lose what they were on the old one."""
    builder, old = BRep_Builder(), BRep_Tool.Surface_s(face)
    for edge in edges(face):
        builder.UpdateEdge(edge, None, old, HERE, BRep_Tool.Tolerance_s(edge))
    builder.UpdateFace(face, surface, HERE, BRep_Tool.Tolerance_s(face))


def straightened(body: Body) -> None:
    """Gives edges between elementary surfaces the line, circle or ellipse that they are."""
    owners, builder = TopTools_IndexedDataMapOfShapeListOfShape(), BRep_Builder()
    TopExp.MapShapesAndAncestors_s(body.wrapped, TopAbs_ShapeEnum.TopAbs_EDGE, TopAbs_ShapeEnum.TopAbs_FACE, owners)
    for edge in edges(body.wrapped):
        beside = [BRep_Tool.Surface_s(TopoDS.Face_s(face)) for face in pop_all(owners.FindFromKey(edge))]
        if BRep_Tool.Degenerated_s(edge) or not all(isinstance(one, Geom_ElementarySurface) for one in beside):
            continue
        found = _simple(edge, beside)
        if found is not None:
            builder.UpdateEdge(edge, found.curve, BRep_Tool.Tolerance_s(edge))
            builder.Range(edge, found.first, found.last)


def _simple(edge: TopoDS_Edge, beside: Sequence[Geom_Surface]) -> Curve | None:
    """The line, circle or ellipse that an edge's spline is; None of edges of any other kind."""
    curve, (first, last) = BRep_Tool.Curve_s(edge, 0.0, 0.0), BRep_Tool.Range_s(edge)
    if isinstance(curve, Geom_Line | Geom_Circle | Geom_Ellipse):
        return None
    bounds = (curve, EXACT, first, last, 0.0, 0.0, 0.0)
    line = GeomConvert_CurveToAnaCurve.ComputeLine_s(*bounds)
    if isinstance(line, Geom_Line):
        return Curve(line, *(_place(line.Lin(), curve, t) for t in (first, last)))
    circle = GeomConvert_CurveToAnaCurve.ComputeCircle_s(*bounds)
    if isinstance(circle, Geom_Circle):
        return _arc(circle, circle.Circ(), curve, first, last)
    ellipse = next((found for one in beside if (found := _ellipse(curve, first, last, one)) is not None), None)
    return None if ellipse is None else _arc(Geom_Ellipse(ellipse), ellipse, curve, first, last)


def _place(conic: gp_Lin | gp_Circ | gp_Elips, curve: Geom_Curve, t: float) -> float:
    return float(ElCLib.Parameter_s(conic, curve.Value(t)))


def _arc(found: Geom_Curve, conic: gp_Circ | gp_Elips, curve: Geom_Curve, first: float, last: float) -> Curve:
    start, end = (_place(conic, curve, t) for t in (first, last))
    return Curve(found, start, end + (math.tau if end <= start + WHOLE else 0.0))


def _ellipse(curve: Geom_Curve, first: float, last: float, surface: Geom_Surface) -> gp_Elips | None:
    """The ellipse in which a cylinder is cut by the plane of a spline on it, run through as the spline is."""
    points = np.array([curve.Value(float(t)).Coord() for t in np.linspace(first, last, SAMPLES)])
    middle = points.mean(axis=0)
    normal = np.linalg.svd(points - middle, full_matrices=False)[2][2]
    if not isinstance(surface, Geom_CylindricalSurface) or np.ptp((points - middle) @ normal) > EXACT:
        return None
    plane = gp_Pln(to_pnt(tuple(middle)), to_dir(tuple(normal)))
    cut = IntAna_QuadQuadGeo(plane, surface.Cylinder(), WHOLE, EXACT)
    if cut.TypeInter() != IntAna_ResultType.IntAna_Ellipse:
        return None
    found = cut.Ellipse(1)
    stops = [ElCLib.Parameter_s(found, to_pnt(tuple(point))) for point in points]
    if max(math.dist(ElCLib.Value_s(t, found).Coord(), p) for t, p in zip(stops, points, strict=True)) > EXACT:
        return None
    return found if (stops[1] - stops[0]) % math.tau < math.pi else _back(found)


def _back(ellipse: gp_Elips) -> gp_Elips:
    """The ellipse the other way round."""
    axes = gp_Ax2(ellipse.Location(), ellipse.Axis().Direction().Reversed(), ellipse.XAxis().Direction())
    return gp_Elips(axes, ellipse.MajorRadius(), ellipse.MinorRadius())


def laid(face: TopoDS_Face) -> bool:
    """Lays the edges of a face on its surface; False where the kernel does not find how. On a plane they lie as they
    are."""
    if isinstance(BRep_Tool.Surface_s(face), Geom_Plane):
        return True
    front = TopoDS.Face_s(face.Oriented(FORWARD))  # a seam's two sides are told apart by the way that it is run through
    return all(_laid_round(TopoDS.Wire_s(w), front) for w in sub_shapes(front, TopAbs_ShapeEnum.TopAbs_WIRE))


def _laid_round(wire: TopoDS_Wire, face: TopoDS_Face) -> bool:
    ring = _ring(wire)
    for edge in ring:
        if BRep_Tool.Degenerated_s(edge):
            continue
        if _is_seam(edge, ring):
            _lay_seam(edge, face)
        elif not ShapeFix_Edge().FixAddPCurve(edge, face, False):
            return False
    _join(ring, face)
    for n, edge in enumerate(ring):
        if BRep_Tool.Degenerated_s(edge):
            after = ring[(n + 1) % len(ring)]
            _lay_point(edge, face, _end(ring[n - 1], face, last=True), _end(after, face, last=False))
        BRepLib.SameParameter_s(edge, EXACT)
    return True


def _ring(wire: TopoDS_Wire) -> list[TopoDS_Edge]:
    """The edges of a wire as they follow one another."""
    found, walk = [], BRepTools_WireExplorer(wire)
    while walk.More():
        found.append(walk.Current())
        walk.Next()
    return found


def _is_seam(edge: TopoDS_Edge, ring: Sequence[TopoDS_Edge]) -> bool:
    return sum(bool(one.IsSame(edge)) for one in ring) > 1


def _lay_seam(edge: TopoDS_Edge, face: TopoDS_Face) -> None:
    """Where the surface begins and where it ends after a turn: that way round for which the face lies between."""
    surface, curve = BRep_Tool.Surface_s(face), BRep_Tool.Curve_s(edge, 0.0, 0.0)
    first, last = BRep_Tool.Range_s(edge)
    start, part = ShapeAnalysis_Surface(surface).ValueOfUV(curve.Value(first), EXACT).Y(), (last - first) / 8
    later = curve.Value(first + part)
    way = min((1.0, -1.0), key=lambda w: later.Distance(surface.Value(0.0, start + w * part)))
    lines = [Geom2d_Line(gp_Pnt2d(u, start - way * first), gp_Dir2d(0.0, way)) for u in (math.tau, 0.0)]
    ahead = TopoDS.Edge_s(edge.Oriented(FORWARD))
    BRep_Builder().UpdateEdge(ahead, *lines[:: int(way)], face, BRep_Tool.Tolerance_s(edge))


def _join(ring: Sequence[TopoDS_Edge], face: TopoDS_Face) -> None:
    """Moves curves by whole turns, so that each begins where the one before ends."""
    start = next((n for n, edge in enumerate(ring) if _is_seam(edge, ring)), 0)
    turns = (math.tau, math.tau if isinstance(BRep_Tool.Surface_s(face), Geom_ToroidalSurface) else math.inf)
    for before, edge in pairwise([*ring[start:], *ring[:start]]):
        if any(BRep_Tool.Degenerated_s(one) for one in (before, edge)) or _is_seam(edge, ring):
            continue
        ends = zip(_end(before, face, last=True), _end(edge, face, last=False), turns, strict=True)
        off = [turn * round((a - b) / turn) if math.isfinite(turn) else 0.0 for a, b, turn in ends]
        if any(off):
            curve = BRep_Tool.CurveOnSurface_s(edge, face, 0.0, 0.0).Translated(gp_Vec2d(*off))
            BRep_Builder().UpdateEdge(edge, curve, face, BRep_Tool.Tolerance_s(edge))


def _end(edge: TopoDS_Edge, face: TopoDS_Face, *, last: bool) -> Point2:
    """Where an edge begins or ends in the parameters of the face, as it is run through."""
    curve = BRep_Tool.CurveOnSurface_s(edge, face, 0.0, 0.0)
    u, v = curve.Value(BRep_Tool.Range_s(edge)[last != (edge.Orientation() == REVERSED)]).Coord()
    return (u, v)


def _lay_point(edge: TopoDS_Edge, face: TopoDS_Face, start: Point2, end: Point2) -> None:
    """The apex of a cone or a pole of a sphere: a point in space, a line in the parameters of the face."""
    a, b = (end, start) if edge.Orientation() == REVERSED else (start, end)
    line, builder = Geom2d_Line(gp_Pnt2d(*a), gp_Dir2d(b[0] - a[0], b[1] - a[1])), BRep_Builder()
    builder.UpdateEdge(edge, line, face, BRep_Tool.Tolerance_s(edge))
    builder.Range(edge, 0.0, math.dist(a, b))
