"""Facts about the faces of a body that do not depend on where one looks from; worked out once a body."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepLProp import BRepLProp_SLProps
from OCP.BRepTools import BRepTools
from OCP.BRepTopAdaptor import BRepTopAdaptor_FClass2d
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Pnt, gp_Pnt2d, gp_Vec
from OCP.Precision import Precision
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum, TopAbs_State
from OCP.TopoDS import TopoDS_Face
from OCP.TopTools import TopTools_IndexedMapOfShape

from schemas.base import Frame, Vec3, cross, dot, norm, scale
from schemas.tolerances import SEEN_ANGLE
from worker.kernel.outline import Curve
from worker.kernel.planar import Bounds
from worker.kernel.planar_edge import Point2
from worker.kernel.shape import KEPT, Body, border_edges, faces, of_xyz, shape_map
from worker.kernel.view import View

Look = Literal["up", "upright", "down", "both"]
UPRIGHT = math.sin(math.radians(SEEN_ANGLE))
STRAIGHT_UP = 1e-12
"""One less the cosine between an axis and a direction that are the same."""
SurfaceKind = Literal["plane", "cylinder", "cone", "sphere", "torus", "other"]
_KINDS: dict[GeomAbs_SurfaceType, SurfaceKind] = {
    GeomAbs_SurfaceType.GeomAbs_Plane: "plane",
    GeomAbs_SurfaceType.GeomAbs_Cylinder: "cylinder",
    GeomAbs_SurfaceType.GeomAbs_Cone: "cone",
    GeomAbs_SurfaceType.GeomAbs_Sphere: "sphere",
    GeomAbs_SurfaceType.GeomAbs_Torus: "torus",
}


@dataclass(frozen=True, eq=False)
class FaceFacts:
    """One face in the part's frame: kind of surface, a grid of outward normals, its edges as (number, reversed)."""

    face: TopoDS_Face
    kind: SurfaceKind
    adaptor: BRepAdaptor_Surface
    normals: tuple[Vec3, ...]
    border: tuple[tuple[int, bool], ...]


def round_walls(facts: Sequence[FaceFacts], view: View) -> tuple[tuple[Point2, float], ...]:
    """Centre and radius of each circle on which cylinders stand upright, each once."""
    found = {}
    for one in (f for f in facts if f.kind == "cylinder"):
        cylinder = one.adaptor.Cylinder()
        if abs(dot(of_xyz(cylinder.Axis().Direction()), view.z)) > 1 - STRAIGHT_UP:
            x, y, _ = view.to_local(of_xyz(cylinder.Location()))
            found[round(x, 6), round(y, 6), round(cylinder.Radius(), 6)] = ((x, y), cylinder.Radius())
    return tuple(found.values())


@lru_cache(maxsize=KEPT)
def face_facts(body: Body) -> tuple[FaceFacts, ...]:
    """Facts of all faces in kernel order."""
    numbers = shape_map(body.wrapped, TopAbs_ShapeEnum.TopAbs_EDGE)
    return tuple(_facts(face, numbers) for face in faces(body))


def facts_of(face: TopoDS_Face) -> FaceFacts:
    """Facts of a face by itself."""
    return _facts(face, shape_map(face, TopAbs_ShapeEnum.TopAbs_EDGE))


def _facts(face: TopoDS_Face, numbers: TopTools_IndexedMapOfShape) -> FaceFacts:
    adaptor = BRepAdaptor_Surface(face, True)
    kind = surface_kind(adaptor)
    border = tuple((numbers.FindIndex(edge) - 1, backwards) for edge, backwards in border_edges(face))
    return FaceFacts(face, kind, adaptor, _normals(face, adaptor, kind), border)


def surface_kind(adaptor: BRepAdaptor_Surface) -> SurfaceKind:
    """What kind of surface it is."""
    return _KINDS.get(adaptor.GetType(), "other")


def _normals(face: TopoDS_Face, adaptor: BRepAdaptor_Surface, kind: SurfaceKind) -> tuple[Vec3, ...]:
    """Outward unit normals over the face's parameter rectangle: one for a plane, a grid elsewhere."""
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    steps = {"plane": (1, 1), "cylinder": (16, 1), "cone": (16, 1)}.get(kind, (16, 8))
    sign = -1.0 if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
    found = []
    for i in range(steps[0] + 1) if kind != "plane" else (0,):
        for j in range(steps[1] + 1) if kind not in ("plane", "cylinder") else (0,):
            normal = normal_at(adaptor, u0 + (u1 - u0) * i / steps[0], v0 + (v1 - v0) * j / steps[1])
            if normal is not None:
                found.append(scale(normal, sign))
    return tuple(found)


def normal_at(adaptor: BRepAdaptor_Surface, u: float, v: float) -> Vec3 | None:
    """The surface's own unit normal at a parameter point; None where it is singular."""
    point, along_u, along_v = gp_Pnt(), gp_Vec(), gp_Vec()
    adaptor.D1(u, v, point, along_u, along_v)
    normal = cross(of_xyz(along_u), of_xyz(along_v))
    size = norm(normal)
    return scale(normal, 1.0 / size) if size > 1e-9 else None


def look_of(facts: FaceFacts, view: View) -> Look:
    """Where the face's outward side looks, seen along the view's z.

    A face that has no area looks nowhere: an edge swept along itself, which the kernel counts as a side of the body.
    """
    zs = [dot(n, view.z) for n in facts.normals] or [0.0]
    low, high = min(zs), max(zs)
    if max(abs(low), abs(high)) <= UPRIGHT:
        return "upright"
    if low >= -UPRIGHT:
        return "up"
    return "down" if high <= UPRIGHT else "both"


@lru_cache(maxsize=4 * KEPT)
def sampled_extent(facts: FaceFacts, view: View) -> tuple[float, float, Bounds]:
    """Lowest and highest z of a face and its box in x, y, from a grid of its points."""
    points = [view.to_local(point) for point in _sampled(facts)]
    xs, ys, zs = zip(*points, strict=True)
    return min(zs), max(zs), (min(xs), min(ys), max(xs), max(ys))


@lru_cache(maxsize=4 * KEPT)
def _sampled(facts: FaceFacts) -> tuple[Vec3, ...]:
    """A grid of a face's points; what its border cuts off the surface is none of it. Of a face that lies between the
    grid's points, all of them."""
    u0, u1, v0, v1 = BRepTools.UVBounds_s(facts.face)
    grid = [(u0 + (u1 - u0) * i / 16, v0 + (v1 - v0) * j / 16) for i in range(17) for j in range(17)]
    within = BRepTopAdaptor_FClass2d(facts.face, Precision.PConfusion_s())
    own = [(u, v) for u, v in grid if within.Perform(gp_Pnt2d(u, v)) != TopAbs_State.TopAbs_OUT] or grid
    return tuple(of_xyz(facts.adaptor.Value(u, v)) for u, v in own)


def roofed(facts: FaceFacts, all_curves: tuple[Curve, ...]) -> bool:
    """A whole bore that ends in circles square to its axis: its upper half covers its lower half.

    Lines that are no seam bound a gap along the bore, as where a step's floor cuts into it.
    """
    if facts.kind != "cylinder" or bulges(facts):
        return False
    axis = of_xyz(facts.adaptor.Cylinder().Axis().Direction())
    u0, u1, _, _ = BRepTools.UVBounds_s(facts.face)
    if u1 - u0 < math.tau - 1e-9:
        return False
    runs = Counter(n for n, _ in facts.border)
    borders = [(all_curves[n], count) for n, count in runs.items()]
    return all(count == 2 if c.kind == "line" else c.kind == "circle" and _square_to(c, axis) for c, count in borders)


def _square_to(circle: Curve, axis: Vec3) -> bool:
    return max(abs(dot(circle.u, axis)), abs(dot(circle.v, axis))) <= 1e-9 * norm(circle.u)


def lies(facts: FaceFacts, view: View) -> bool:
    """True for a cylinder whose axis is level."""
    return abs(dot(of_xyz(facts.adaptor.Cylinder().Axis().Direction()), view.z)) < 1e-9


def bulges(facts: FaceFacts) -> bool:
    """True when the outward normal points away from a cylinder's axis."""
    cylinder = facts.adaptor.Cylinder()
    u0, _, v0, _ = BRepTools.UVBounds_s(facts.face)
    centre, point = of_xyz(cylinder.Location()), of_xyz(facts.adaptor.Value(u0, v0))
    return dot(facts.normals[0], (point[0] - centre[0], point[1] - centre[1], point[2] - centre[2])) > 0


def concave_radius(body: Body, index: int) -> float | None:
    """The radius of a hollow fillet, groove or ball (mm), None for faces that are flat or bulge.

    Free-form faces are sampled: the smallest radius at which they are hollow.
    """
    facts = face_facts(body)[index]
    if facts.kind == "plane":
        return None
    return _smallest_hollow(facts)


def _smallest_hollow(facts: FaceFacts) -> float | None:
    u0, u1, v0, v1 = BRepTools.UVBounds_s(facts.face)
    sign = -1.0 if facts.face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
    most = 0.0
    for i in range(1, 8):
        for j in range(1, 8):
            measured = BRepLProp_SLProps(facts.adaptor, u0 + (u1 - u0) * i / 8, v0 + (v1 - v0) * j / 8, 2, 1e-9)
            if measured.IsCurvatureDefined():  # positive where the surface bends towards its own normal
                most = max(most, sign * measured.MaxCurvature(), sign * measured.MinCurvature())
    return 1.0 / most if most > 1e-6 else None


def flank_of(body: Body, index: int, frame: Frame) -> float | None:
    """Angle between a flat or conical face and the frame's z (degrees, 0 = upright); None for other faces."""
    facts = face_facts(body)[index]
    if facts.kind == "plane" or (facts.kind == "cone" and _upright_cone(facts, frame)):
        return math.degrees(math.asin(min(1.0, abs(dot(facts.normals[0], frame.z)))))
    return None


def _upright_cone(facts: FaceFacts, frame: Frame) -> bool:
    return abs(dot(of_xyz(facts.adaptor.Cone().Axis().Direction()), frame.z)) > 1 - 1e-9
