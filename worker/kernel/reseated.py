"""Edges of a file laid anew where their two faces meet: exporters write splines that lie micrometres beside both.

The kernel takes all that lies within an edge's tolerance of it for one place: metal that a pass leaves beside such an
edge is told as gone or not by chance, and booleans fail. An edge that lies on its faces, but is said to lie beside
them, does the same harm: it keeps its curves and loses that tolerance.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import cast

from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.Geom import Geom_BSplineCurve, Geom_Surface
from OCP.Geom2d import Geom2d_BSplineCurve
from OCP.Geom2dAPI import Geom2dAPI_Interpolate
from OCP.GeomAPI import GeomAPI_Interpolate
from OCP.gp import gp_Pnt, gp_Pnt2d, gp_Vec
from OCP.ShapeFix import ShapeFix_ShapeTolerance
from OCP.TColgp import TColgp_HArray1OfPnt, TColgp_HArray1OfPnt2d
from OCP.TColStd import TColStd_HArray1OfReal
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Vertex
from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape

from schemas.base import Vec3, add, cross, dot, norm, scale, sub
from schemas.tolerances import COINCIDENT, EDGE_GAP, LAID
from worker.kernel.accepted import kernel_accepts
from worker.kernel.planar_edge import Point2
from worker.kernel.shape import Body, compound_of, copied, edges, faces, of_xyz, pop_all, to_pnt, vertices
from worker.kernel.validity import faults

FEWEST, MOST = 16, 256
"""Pieces of the splines that are tried, twice as many each time."""
BETWEEN = (0.25, 0.5, 0.75)
"""Where between two points of theirs splines are compared."""
STEPS = 20
"""Steps of Newton's method towards a point of both faces: where they cross, four or five do."""
CROSSING = 0.05
"""Faces that meet at a smaller sine have no line in common that would be sure."""
LEAST = 1e-7
"""The kernel's own confusion distance (mm): no tolerance is smaller."""


OnFace = tuple[Geom_Surface, Geom2d_BSplineCurve]


@dataclass(frozen=True)
class Place:
    """A point that lies on both faces of an edge, with its parameters on each."""

    at: Vec3
    uvs: tuple[Point2, Point2]


@dataclass(frozen=True)
class Sides:
    """The two surfaces that meet along an edge."""

    first: Geom_Surface
    second: Geom_Surface


@dataclass(frozen=True)
class Laid:
    """What replaces an edge's curves: in space and on each face, within ``off`` mm of each other."""

    curve: Geom_BSplineCurve
    flat: tuple[Geom2d_BSplineCurve, Geom2d_BSplineCurve]
    off: float


def reseated(body: Body) -> Body:
    """The body with each edge that lies more than LAID beside its faces laid where these meet; the same body where
    there is none. Faces that the kernel then refuses keep their edges. Faces and edges keep their order."""
    loose = {number for number, edge in enumerate(edges(body.wrapped)) if _is_loose(edge)}
    for _ in range(2 if loose else 0):
        made = copied(body)
        owners = _owners(made, TopAbs_ShapeEnum.TopAbs_EDGE, TopAbs_ShapeEnum.TopAbs_FACE)
        every = edges(made.wrapped)
        moved = [every[n] for n in sorted(loose) if _lay(every[n], _faces_of(owners, every[n]))]
        if not moved:
            break
        _tighten(made, owners, moved)
        if not faults(made):
            return made
        refused = [face for face in faces(made) if not kernel_accepts(face)]
        loose -= {n for n in loose if any(face.IsSame(one) for face in _faces_of(owners, every[n]) for one in refused)}
    return body


def _is_loose(edge: TopoDS_Edge) -> bool:
    return not BRep_Tool.Degenerated_s(edge) and LAID < BRep_Tool.Tolerance_s(edge) <= EDGE_GAP


def _owners(body: Body, kind: TopAbs_ShapeEnum, owner: TopAbs_ShapeEnum) -> TopTools_IndexedDataMapOfShapeListOfShape:
    found = TopTools_IndexedDataMapOfShapeListOfShape()
    TopExp.MapShapesAndAncestors_s(body.wrapped, kind, owner, found)
    return found


def _faces_of(owners: TopTools_IndexedDataMapOfShapeListOfShape, edge: TopoDS_Edge) -> list[TopoDS_Face]:
    return [TopoDS.Face_s(face) for face in pop_all(owners.FindFromKey(edge))]


def _lay(edge: TopoDS_Edge, beside: Sequence[TopoDS_Face]) -> bool:
    """Whether the edge has curves that lie on both its faces, by its own or by new ones."""
    if len(beside) != 2 or beside[0].IsSame(beside[1]):
        return False
    off = _runs_beside(edge, beside)
    if off <= LAID / 2:  # its tolerance is left over from what its faces were written as
        ShapeFix_ShapeTolerance().SetTolerance(edge, max(1.5 * off, LEAST), TopAbs_ShapeEnum.TopAbs_EDGE)
        return True
    laid = _laid(edge, beside)
    if laid is None:
        return False
    builder, tolerance = BRep_Builder(), max(1.5 * laid.off, LEAST)
    builder.UpdateEdge(edge, laid.curve, tolerance)
    for curve, face in zip(laid.flat, beside, strict=True):
        builder.UpdateEdge(edge, curve, face, tolerance)
    builder.Range(edge, laid.curve.FirstParameter(), laid.curve.LastParameter())
    ShapeFix_ShapeTolerance().SetTolerance(edge, tolerance, TopAbs_ShapeEnum.TopAbs_EDGE)
    return True


def _runs_beside(edge: TopoDS_Edge, beside: Sequence[TopoDS_Face]) -> float:
    """How far (mm) an edge's curves on its faces run beside the one in space, at as many places as are ever tried."""
    own = BRepAdaptor_Curve(edge)
    first, last = own.FirstParameter(), own.LastParameter()
    flat = [BRep_Tool.CurveOnSurface_s(edge, face, 0.0, 0.0) for face in beside]
    if None in flat:
        return math.inf
    on = [(BRep_Tool.Surface_s(face), curve) for face, curve in zip(beside, flat, strict=True)]
    found = 0.0
    for t in (first + (last - first) * i / MOST for i in range(MOST + 1)):
        at = of_xyz(own.Value(t))
        found = max(found, *(math.dist(of_xyz(side.Value(*curve.Value(t).Coord())), at) for side, curve in on))
        if found > LAID / 2:
            break
    return found


def _laid(edge: TopoDS_Edge, beside: Sequence[TopoDS_Face]) -> Laid | None:
    """Splines through so many points of both faces that they lie within COINCIDENT of each other between these; None
    where the faces do not cross all along the edge, or too far from it."""
    sides, own = Sides(*(BRep_Tool.Surface_s(face) for face in beside)), BRepAdaptor_Curve(edge)
    first, last = own.FirstParameter(), own.LastParameter()
    known: dict[float, Place] = {}
    count = FEWEST
    while count <= MOST:
        stops = [first + (last - first) * i / count for i in range(count)] + [last]
        for t in stops:
            place = known.get(t) or _met(edge, own, beside, sides, t)
            if place is None:
                return None
            known[t] = place
        laid = _through([known[t] for t in stops], sides)
        if laid is None or laid.off <= (COINCIDENT if count < MOST else LAID / 2):
            return laid
        count *= 2
    return None


def _met(
    edge: TopoDS_Edge, own: BRepAdaptor_Curve, beside: Sequence[TopoDS_Face], sides: Sides, t: float
) -> Place | None:
    """The point of both faces nearest to the edge's at a parameter, square to the edge, or to the vertex where it ends;
    None where the faces hardly cross there or meet farther off than any sound edge lies."""
    at, along = gp_Pnt(), gp_Vec()
    own.D1(t, at, along)
    ends = {own.FirstParameter(): TopExp.FirstVertex_s, own.LastParameter(): TopExp.LastVertex_s}
    at = BRep_Tool.Pnt_s(ends[t](edge)) if t in ends else at
    uvs = [_parameters(edge, face, t) for face in beside]
    if along.Magnitude() <= LEAST or None in uvs:
        return None
    found = _crossed(sides, cast("list[Point2]", uvs), of_xyz(at), of_xyz(along.Normalized()))
    return found if found is not None and math.dist(found.at, of_xyz(at)) <= EDGE_GAP else None


def _parameters(edge: TopoDS_Edge, face: TopoDS_Face, t: float) -> Point2 | None:
    curve = BRep_Tool.CurveOnSurface_s(edge, face, 0.0, 0.0)
    if curve is None:
        return None
    place = curve.Value(t)
    return (place.X(), place.Y())


def _crossed(sides: Sides, uvs: Sequence[Point2], at: Vec3, along: Vec3) -> Place | None:
    """Where both surfaces cross the plane through a point: Newton's method, the surfaces' tangent planes for them."""
    a, b = uvs
    for _ in range(STEPS):
        (p, pu, pv), (q, qu, qv) = _tangents(sides.first, a), _tangents(sides.second, b)
        m, n = cross(pu, pv), cross(qu, qv)
        volume = dot(cross(m, n), along)
        if norm(cross(m, n)) < CROSSING * norm(m) * norm(n) or abs(volume) < CROSSING * norm(cross(m, n)):
            return None
        if max(math.dist(p, q), abs(dot(sub(p, at), along))) < LEAST / 1000:
            return Place(p, (a, b))
        met = add(scale(cross(n, along), dot(m, p)), cross(along, m), dot(n, q))
        met = scale(add(met, cross(m, n), dot(along, at)), 1.0 / volume)
        a, b = _nearer(a, sub(met, p), pu, pv), _nearer(b, sub(met, q), qu, qv)
    return None


def _tangents(surface: Geom_Surface, uv: Point2) -> tuple[Vec3, Vec3, Vec3]:
    """The point at some parameters, and how it moves with each."""
    at, u, v = gp_Pnt(), gp_Vec(), gp_Vec()
    surface.D1(*uv, at, u, v)
    return of_xyz(at), of_xyz(u), of_xyz(v)


def _nearer(uv: Point2, off: Vec3, u: Vec3, v: Vec3) -> Point2:
    """The parameters of a point that lies so far off in the tangent plane."""
    uu, vv, mixed, along_u, along_v = dot(u, u), dot(v, v), dot(u, v), dot(off, u), dot(off, v)
    size = uu * vv - mixed * mixed
    return (uv[0] + (along_u * vv - along_v * mixed) / size, uv[1] + (along_v * uu - along_u * mixed) / size)


def _through(places: Sequence[Place], sides: Sides) -> Laid | None:
    """Splines in space and on each face through the places, by the length of the chords: the file's own parameter runs
    unevenly."""
    stops = [0.0, *accumulate(math.dist(a.at, b.at) for a, b in pairwise(places))]
    if min(b - a for a, b in pairwise(stops)) <= LEAST:
        return None
    points, at = TColgp_HArray1OfPnt(1, len(stops)), TColStd_HArray1OfReal(1, len(stops))
    flat = [TColgp_HArray1OfPnt2d(1, len(stops)) for _ in range(2)]
    for i, (t, place) in enumerate(zip(stops, places, strict=True), start=1):
        at.SetValue(i, t)
        points.SetValue(i, to_pnt(place.at))
        for some, uv in zip(flat, place.uvs, strict=True):
            some.SetValue(i, gp_Pnt2d(*uv))
    makers = [GeomAPI_Interpolate(points, at, False, 0.0), *(Geom2dAPI_Interpolate(f, at, False, 0.0) for f in flat)]
    for maker in makers:
        maker.Perform()
    curve, first, second = (maker.Curve() for maker in makers)
    return Laid(curve, (first, second), _off(curve, ((sides.first, first), (sides.second, second)), stops))


def _off(curve: Geom_BSplineCurve, beside: Sequence[OnFace], stops: Sequence[float]) -> float:
    """How far (mm) the splines on the faces run beside the one in space between their stops."""
    found = 0.0
    for t in (a + part * (b - a) for a, b in pairwise(stops) for part in BETWEEN):
        at = of_xyz(curve.Value(t))
        for surface, flat in beside:
            found = max(found, math.dist(of_xyz(surface.Value(*flat.Value(t).Coord())), at))
    return found


def _tighten(body: Body, beside: TopTools_IndexedDataMapOfShapeListOfShape, moved: Sequence[TopoDS_Edge]) -> None:
    """Gives the ends of edges that were laid anew no wider tolerance than what lies between them needs."""
    owners = _owners(body, TopAbs_ShapeEnum.TopAbs_VERTEX, TopAbs_ShapeEnum.TopAbs_EDGE)
    ends = vertices(compound_of(moved))
    for end in ends:
        meeting = [TopoDS.Edge_s(edge) for edge in pop_all(owners.FindFromKey(end))]
        spread = [off for edge in meeting for off in _spread(end, edge, _faces_of(beside, edge))]
        ShapeFix_ShapeTolerance().SetTolerance(end, 1.1 * max(spread), TopAbs_ShapeEnum.TopAbs_VERTEX)


def _spread(end: TopoDS_Vertex, edge: TopoDS_Edge, beside: Sequence[TopoDS_Face]) -> Iterator[float]:
    """How far an edge's curves end beside one of its vertices, and its own tolerance."""
    yield BRep_Tool.Tolerance_s(edge)
    if BRep_Tool.Degenerated_s(edge):
        return
    own, at = BRepAdaptor_Curve(edge), of_xyz(BRep_Tool.Pnt_s(end))
    pairs = (
        (TopExp.FirstVertex_s(edge), own.FirstParameter()),
        (TopExp.LastVertex_s(edge), own.LastParameter()),
    )
    for t in (t for vertex, t in pairs if vertex.IsSame(end)):
        for curve in (own, *(BRepAdaptor_Curve(edge, face) for face in beside)):
            yield math.dist(of_xyz(curve.Value(t)), at)
