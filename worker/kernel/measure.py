"""Exact measures of bodies: volume, area, centroid, bounding box, distance, inside or outside (mm)."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from OCP.Bnd import Bnd_Box
from OCP.BOPTools import BOPTools_AlgoTools3D
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepGProp import BRepGProp, BRepGProp_Domain, BRepGProp_Face, BRepGProp_Vinert
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.GeomAPI import GeomAPI_ProjectPointOnSurf
from OCP.gp import gp_Circ, gp_Pnt, gp_Pnt2d, gp_Trsf, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.IntTools import IntTools_Context
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum, TopAbs_State
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shape

from schemas.base import Box, Frame, Vec3
from schemas.tolerances import BALANCE, COINCIDENT, INTEGRATION
from worker.kernel.errors import KernelError
from worker.kernel.rays import Sides
from worker.kernel.rays import rough_box as rough_box
from worker.kernel.round_box import round_box
from worker.kernel.shape import (
    WORLD,
    Body,
    compound_of,
    edges,
    faces,
    is_empty,
    of_xyz,
    solids,
    to_ax3,
    to_pnt,
    vertices,
)

Side = Literal["in", "on", "out"]

_EXACT_CURVES = {GeomAbs_CurveType.GeomAbs_Line, GeomAbs_CurveType.GeomAbs_Circle}
_EXACT_SURFACES = {
    GeomAbs_SurfaceType.GeomAbs_Plane,
    GeomAbs_SurfaceType.GeomAbs_Cylinder,
    GeomAbs_SurfaceType.GeomAbs_Cone,
}

_WEIGHED = "properties"
"""What volume and centroid are kept by; boxes are kept by their frames."""
_ROUNDING = 1e-12
"""Coordinates (mm) that differ by less are the same but for the last digits."""
_NEAR = 1e-6
"""As near as boxes of free forms are found (mm)."""


@dataclass(frozen=True, slots=True)
class Properties:
    """Volume (mm³) and centroid of a body."""

    volume: float
    centroid: Vec3


def properties(body: Body) -> Properties:
    """Volume and centroid; the volume to 1e-9 relative, also where unequal cylinders cross. Kept with the body."""
    found = body.measured.get(_WEIGHED)
    if not isinstance(found, Properties):
        found = body.measured[_WEIGHED] = _properties(body)
    return found


def _properties(body: Body) -> Properties:
    if is_empty(body):
        return Properties(0.0, (0.0, 0.0, 0.0))
    total = _volume_properties(body)
    return Properties(total.Mass(), of_xyz(total.CentreOfMass()))


def volume(body: Body) -> float:
    """Volume in mm³ (0 for the empty body), to 1e-9 relative."""
    return properties(body).volume


def centroid(body: Body) -> Vec3:
    """Centre of mass of the homogeneous body."""
    return properties(body).centroid


def area(shape: Body | TopoDS_Face) -> float:
    """Surface of a body, or area of one face, in mm²."""
    wrapped = shape.wrapped if isinstance(shape, Body) else shape
    total = GProp_GProps(reference_point(wrapped))
    plain, other = _by_bounds(wrapped)
    BRepGProp.SurfaceProperties_s(compound_of(plain), total)
    for face in other:
        BRepGProp.SurfaceProperties_s(face, total, INTEGRATION)
    return float(total.Mass())


def length(edge: TopoDS_Edge) -> float:
    """Length of an edge."""
    total = GProp_GProps()
    BRepGProp.LinearProperties_s(edge, total)
    return float(total.Mass())


def is_sum(whole: Body, pieces: Sequence[Body]) -> bool:
    """Whether the pieces' volumes add up to that of a whole, to BALANCE of it; see :func:`volumes_alike`."""
    if abs(sum(map(volume, pieces)) - volume(whole)) <= BALANCE * volume(whole):
        return True
    before, *found = volumes_alike([whole, *pieces])
    return abs(sum(found) - before) <= BALANCE * before


def volumes_alike(bodies: Sequence[Body]) -> list[float]:
    """The volumes (mm3) of bodies that share faces, all measured from one point, that of the first.

    Where a file writes faces beside the curves that bound them, a skin is open by a hair all along its edges, and its
    volume depends on where the cones to its faces come together: a plate of 200 mm and 600 faces, by 2 mm3.
    """
    at = reference_point(bodies[0].wrapped)
    return [float(_volume_properties(body, at).Mass()) for body in bodies]


def _volume_properties(body: Body, apex: gp_Pnt | None = None) -> GProp_GProps:
    """Sum of the cones from one common point to every face (the kernel takes another point in each call)."""
    at = apex or reference_point(body.wrapped)
    total = GProp_GProps(at)
    for solid in solids(body):
        plain = _has_plain_edges(solid.wrapped)
        for face in faces(solid):
            total.Add(_cone(face, at, plain))
    return total


def _cone(face: TopoDS_Face, apex: gp_Pnt, plain: bool = False) -> BRepGProp_Vinert:
    """``plain``: the face's edges are known to be lines and circles."""
    surface, domain = BRepGProp_Face(face), BRepGProp_Domain(face)
    if _is_plain(face) and (plain or _has_plain_edges(face)):
        return BRepGProp_Vinert(surface, domain, apex)
    return BRepGProp_Vinert(surface, domain, apex, INTEGRATION)


def cone_volume(face: TopoDS_Face, apex: gp_Pnt) -> float:
    """Signed volume between a face and an apex; over all faces of a solid they sum to its volume."""
    return float(_cone(face, apex).Mass())


def reference_point(shape: TopoDS_Shape) -> gp_Pnt:
    """A point on the shape: moments about a far origin would lose digits."""
    first = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_VERTEX)
    return BRep_Tool.Pnt_s(TopoDS.Vertex_s(first.Current())) if first.More() else gp_Pnt()


def _by_bounds(shape: TopoDS_Shape) -> tuple[list[TopoDS_Face], list[TopoDS_Face]]:
    """Faces that fixed-order integration measures exactly, and the others (adaptive, ten times slower)."""
    sorted_faces: tuple[list[TopoDS_Face], list[TopoDS_Face]] = ([], [])
    for face in faces(Body(shape)):
        sorted_faces[not _plainly_bounded(face)].append(face)
    return sorted_faces


def _plainly_bounded(face: TopoDS_Face) -> bool:
    """True for planes, cylinders and cones between lines and circles."""
    return _is_plain(face) and _has_plain_edges(face)


def _is_plain(face: TopoDS_Face) -> bool:
    return BRepAdaptor_Surface(face, False).GetType() in _EXACT_SURFACES


def _has_plain_edges(shape: TopoDS_Shape) -> bool:
    return all(
        BRep_Tool.Degenerated_s(edge) or BRepAdaptor_Curve(edge).GetType() in _EXACT_CURVES for edge in edges(shape)
    )


def bounding_box(body: Body, frame: Frame | None = None) -> Box:
    """The smallest axis-parallel box (in ``frame``'s axes if given); raises for the empty body. Kept with the body.

    Exact for planes, cylinders and cones between lines and circles; 1e-6 mm elsewhere.
    """
    found = body.measured.get(frame)
    if not isinstance(found, Box):
        if is_empty(body):
            raise KernelError("bounding box", "the body is empty")
        found = body.measured[frame] = box_of(body.wrapped, frame)
    return found


def box_of(shape: TopoDS_Shape, frame: Frame | None = None) -> Box:
    """The smallest axis-parallel box of any shape, in ``frame``'s axes if given."""
    placed = shape if frame is None else shape.Moved(TopLoc_Location(_into(frame)))
    bounds = Bnd_Box()
    for vertex in vertices(placed):
        bounds.Add(BRep_Tool.Pnt_s(vertex))
    odd = [face for face in faces(Body(placed)) if not _is_plain(face)]
    if odd or not _holds(bounds, placed):
        for edge in edges(placed):
            if not BRep_Tool.Degenerated_s(edge):
                _add_edge(bounds, edge)
        for face in odd:
            _add_optimal(bounds, face)
    if bounds.IsVoid():
        raise KernelError("bounding box", "the shape is empty")
    bounds.SetGap(0.0)
    return Box(min=of_xyz(bounds.CornerMin()), max=of_xyz(bounds.CornerMax()))


def _holds(corners: Bnd_Box, shape: TopoDS_Shape) -> bool:
    """True where nothing of the shape stands out of the box of its vertices: no edge need be looked at then."""
    around = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, around, False, False)
    if corners.IsVoid() or around.IsVoid():
        return False
    around.SetGap(0.0)
    ends = zip((around.CornerMin(), around.CornerMax()), (corners.CornerMin(), corners.CornerMax()), strict=True)
    return all(a.IsEqual(b, _ROUNDING) for a, b in ends)


def _into(frame: Frame) -> gp_Trsf:
    into = gp_Trsf()
    into.SetTransformation(to_ax3(WORLD), to_ax3(frame))
    return into


def _add_edge(bounds: Bnd_Box, edge: TopoDS_Edge) -> None:
    curve = BRepAdaptor_Curve(edge)
    if curve.GetType() == GeomAbs_CurveType.GeomAbs_Circle:
        for angle in _extreme_angles(curve.Circle()):
            if _within(angle, curve.FirstParameter(), curve.LastParameter()):
                bounds.Add(curve.Value(angle))
    elif curve.GetType() != GeomAbs_CurveType.GeomAbs_Line:
        _add_optimal(bounds, edge)


def _extreme_angles(circle: gp_Circ) -> Iterable[float]:
    x, y = circle.XAxis().Direction(), circle.YAxis().Direction()
    for a, b in ((x.X(), y.X()), (x.Y(), y.Y()), (x.Z(), y.Z())):
        if math.hypot(a, b) > 1e-15:
            yield math.atan2(b, a)
            yield math.atan2(b, a) + math.pi


def _within(angle: float, first: float, last: float) -> bool:
    return (angle - first) % math.tau <= last - first


def _add_optimal(bounds: Bnd_Box, shape: TopoDS_Shape) -> None:
    """Where a wide box of it, which costs nothing, stands out, and so does one of what its parameters span: the kernel
    searches for the extremes of all but planes, cylinders and cones."""
    if _lies_within(rough_box(shape), bounds):
        return
    spanned = round_box(shape) if isinstance(shape, TopoDS_Face) else None
    if spanned is not None and _lies_within(spanned, bounds):
        return
    found = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, found, False, False)
    if not found.IsVoid():
        found.SetGap(0.0)
        bounds.Add(found.CornerMin())
        bounds.Add(found.CornerMax())


def _lies_within(inner: Bnd_Box, outer: Bnd_Box) -> bool:
    if inner.IsVoid() or outer.IsVoid():
        return bool(inner.IsVoid())
    low, high = of_xyz(outer.CornerMin()), of_xyz(outer.CornerMax())
    a, b = of_xyz(inner.CornerMin()), of_xyz(inner.CornerMax())
    return all(low[k] - _NEAR <= a[k] and b[k] <= high[k] + _NEAR for k in range(3))


def contains(body: Body, point: Vec3, tolerance: float = COINCIDENT) -> Side:
    """Whether the point lies in, on or out of the metal; "on" within ``tolerance`` mm of the surface."""
    at = to_pnt(point)
    sides = {_side_of(solid, at, tolerance) for box, solid in classifiers(body, tolerance) if not box.IsOut(at)}
    return "in" if "in" in sides else "on" if "on" in sides else "out"


@lru_cache(maxsize=256)
def classifiers(body: Body, tolerance: float) -> tuple[tuple[Bnd_Box, Sides], ...]:
    """A box round each solid and what classifies points against it, kept for each body."""
    found = []
    for solid in solids(body):
        box = rough_box(solid.wrapped)
        box.Enlarge(tolerance)
        found.append((box, Sides(solid)))
    return tuple(found)


def sharing_room(body: Body, others: Sequence[Body]) -> list[int]:
    """Numbers of the others whose boxes overlap that of the body: the rest, apart or no more than touching, have no
    metal in common with it. The body's own box may be too wide, and then some too many are named.
    """
    room = rough_box(body.wrapped)
    if room.IsVoid():
        return []
    low, high = of_xyz(room.CornerMin()), of_xyz(room.CornerMax())
    boxes = [bounding_box(other) for other in others]
    return [
        number
        for number, box in enumerate(boxes)
        if all(min(high[k], box.max[k]) - max(low[k], box.min[k]) > COINCIDENT for k in range(3))
    ]


def _side_of(solid: Sides, at: gp_Pnt, tolerance: float) -> Side:
    state = solid.state(at, tolerance)
    if state == TopAbs_State.TopAbs_IN:
        return "in"
    return "on" if state == TopAbs_State.TopAbs_ON else "out"


@dataclass(frozen=True, slots=True)
class Gap:
    """The least distance between two shapes (0 where they touch or overlap) and a nearest point on each."""

    distance: float
    on_first: Vec3
    on_second: Vec3


def distance(first: Body | TopoDS_Shape, second: Body | TopoDS_Shape) -> Gap:
    """Least distance of two shapes; raises for an empty one."""
    a, b = (s.wrapped if isinstance(s, Body) else s for s in (first, second))
    search = BRepExtrema_DistShapeShape(a, b)
    if not search.IsDone() or search.NbSolution() == 0:
        raise KernelError("distance", "no nearest points were found")
    return Gap(float(search.Value()), of_xyz(search.PointOnShape1(1)), of_xyz(search.PointOnShape2(1)))


def face_point_inside(face: TopoDS_Face) -> Vec3:
    """A point strictly inside the face (never on an edge, never in a hole)."""
    point, parameters = gp_Pnt(), gp_Pnt2d()
    status = BOPTools_AlgoTools3D.PointInFace_s(face, point, parameters, IntTools_Context())
    if status != 0:
        raise KernelError("point in face", f"the kernel found no inner point (status {status})")
    return of_xyz(point)


def place_in(body: Body) -> Vec3:
    """A point to show a piece of metal by: its centroid where that lies in it, else one within its largest face (the
    middle of a ring is air, or what the ring stands round). Raises KernelError for an empty body."""
    middle = centroid(body)
    if contains(body, middle) != "out":
        return middle
    by_size = sorted(faces(body), key=area, reverse=True)
    return next((at for _, at in points_inside(by_size)), middle)


def points_inside(shapes: Iterable[TopoDS_Face]) -> Iterator[tuple[TopoDS_Face, Vec3]]:
    """Faces, each with a point strictly inside it (mm); slivers in which the kernel finds none are left out."""
    for face in shapes:
        with contextlib.suppress(KernelError):
            yield face, face_point_inside(face)


def face_normal(face: TopoDS_Face, at: Vec3) -> Vec3:
    """The unit normal of the face at (the foot of) a point, out of the metal."""
    search = GeomAPI_ProjectPointOnSurf(to_pnt(at), BRep_Tool.Surface_s(face))
    if search.NbPoints() == 0:
        raise KernelError("normal", "the point has no foot on the surface")
    u, v = search.LowerDistanceParameters()
    point, along_u, along_v = gp_Pnt(), gp_Vec(), gp_Vec()
    BRepAdaptor_Surface(face, False).D1(u, v, point, along_u, along_v)
    normal = along_u.Crossed(along_v)
    if normal.Magnitude() < 1e-12:
        raise KernelError("normal", "the surface is singular there")
    if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
        normal.Reverse()
    return of_xyz(normal.Normalized())
