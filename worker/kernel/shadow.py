"""What a body shows to a direction: the projections of its faces that look up, and the shadow they throw.

Every upright line through metal leaves it through a face that looks up. So the area that metal above a height
covers is the union of the projections of the upward faces above that height: no section and no boolean is needed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepLProp import BRepLProp_SLProps
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Face
from OCP.TopTools import TopTools_IndexedMapOfShape

from schemas.base import Frame, Vec3, cross, dot, norm, scale
from schemas.tolerances import COINCIDENT, MESH, SEEN_ANGLE
from worker.kernel import mesh
from worker.kernel.outline import Curve, curve_of, curves, heights, projected
from worker.kernel.planar import NOWHERE, Bounds, Region, boxes_meet, inside_of, intersect, polygon, union
from worker.kernel.planar_edge import Edge, bounds, line, reverse
from worker.kernel.primitives import half_space_box
from worker.kernel.shape import Body, faces, of_xyz, shape_map, sub_shapes
from worker.kernel.view import View, view_of

Look = Literal["up", "upright", "down", "both"]
UPRIGHT = math.sin(math.radians(SEEN_ANGLE))
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


@lru_cache(maxsize=32)
def face_facts(body: Body) -> tuple[FaceFacts, ...]:
    """Facts of all faces in kernel order."""
    numbers = shape_map(body.wrapped, TopAbs_ShapeEnum.TopAbs_EDGE)
    return tuple(_facts(face, numbers) for face in faces(body))


def _facts(face: TopoDS_Face, numbers: TopTools_IndexedMapOfShape) -> FaceFacts:
    adaptor = BRepAdaptor_Surface(face, True)
    kind = _KINDS.get(adaptor.GetType(), "other")
    border = []
    explorer = TopExp_Explorer(face, TopAbs_ShapeEnum.TopAbs_EDGE)
    while explorer.More():
        edge = explorer.Current()
        border.append((numbers.FindIndex(edge) - 1, edge.Orientation() == TopAbs_Orientation.TopAbs_REVERSED))
        explorer.Next()
    return FaceFacts(face, kind, adaptor, _normals(face, adaptor, kind), tuple(border))


def _normals(face: TopoDS_Face, adaptor: BRepAdaptor_Surface, kind: SurfaceKind) -> tuple[Vec3, ...]:
    """Outward unit normals over the face's parameter rectangle: one for a plane, a grid elsewhere."""
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    steps = {"plane": (1, 1), "cylinder": (16, 1), "cone": (16, 1)}.get(kind, (16, 8))
    sign = -1.0 if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
    found = []
    for i in range(steps[0] + 1) if kind != "plane" else (0,):
        for j in range(steps[1] + 1) if kind not in ("plane", "cylinder") else (0,):
            normal = _normal(adaptor, u0 + (u1 - u0) * i / steps[0], v0 + (v1 - v0) * j / steps[1])
            if normal is not None:
                found.append(scale(normal, sign))
    return tuple(found)


def _normal(adaptor: BRepAdaptor_Surface, u: float, v: float) -> Vec3 | None:
    point, along_u, along_v = gp_Pnt(), gp_Vec(), gp_Vec()
    adaptor.D1(u, v, point, along_u, along_v)
    normal = cross(of_xyz(along_u), of_xyz(along_v))
    size = norm(normal)
    return scale(normal, 1.0 / size) if size > 1e-9 else None


@dataclass(frozen=True)
class Shown:
    """One face as a direction sees it: where it looks, its heights, and the box of its projection."""

    index: int
    look: Look
    low: float
    high: float
    bounds: Bounds

    @property
    def flat(self) -> bool:
        """True for a face square to the direction."""
        return self.high - self.low <= COINCIDENT


class Skyline:
    """A body seen along a frame's z. Heights are z, regions are x, y of that frame."""

    def __init__(self, body: Body, frame: Frame) -> None:
        self.body = body
        self.view = view_of(frame)
        self._regions: dict[int, Region] = {}
        self._above: dict[float, Region] = {}

    @cached_property
    def _outlines(self) -> tuple[tuple[Edge, ...], ...]:
        return tuple(projected(c, self.view) for c in curves(self.body))

    @cached_property
    def shown(self) -> tuple[Shown, ...]:
        """All faces in kernel order."""
        spans = [heights(c, self.view) if c.kind != "point" else None for c in curves(self.body)]
        boxes = [_box(edges) for edges in self._outlines]
        points = [_point_box(c, self.view) for c in curves(self.body)]
        return tuple(self._show(i, spans, boxes, points) for i in range(len(face_facts(self.body))))

    def _show(
        self,
        index: int,
        spans: list[tuple[float, float] | None],
        boxes: list[Bounds | None],
        points: list[Bounds],
    ) -> Shown:
        facts = face_facts(self.body)[index]
        numbers = [n for n, _ in facts.border]
        zs = [z for n in numbers for z in spans[n] or ()]
        rects = [boxes[n] or points[n] for n in numbers if spans[n] is not None]
        if facts.kind in ("sphere", "torus", "other") or not rects:
            low, high, rect = _sampled_extent(facts, self.view)
            zs, rects = [*zs, low, high], [*rects, rect]
        return Shown(index, look_of(facts, self.view), min(zs), max(zs), _hull(rects))

    def region(self, index: int) -> Region:
        """The projection of the upward part of a face; empty for faces that look down or stand upright."""
        if index not in self._regions:
            self._regions[index] = self._project(index)
        return self._regions[index]

    def _project(self, index: int) -> Region:
        look = self.shown[index].look
        if look in ("down", "upright"):
            return NOWHERE
        facts = face_facts(self.body)[index]
        if look == "up":
            return inside_of(self.border(index))
        if _roofed(facts, curves(self.body)):
            return NOWHERE
        plane = _silhouette_plane(facts, self.view)
        return self._meshed(index) if plane is None else _upper_part(facts, plane, self.view)

    def _meshed(self, index: int) -> Region:
        """The upward triangles of a face, joined: within MESH of the true projection."""
        vertices, triangles, owner = mesh.triangulate(self.body, MESH)
        flat = [self.view.to_local((float(p[0]), float(p[1]), float(p[2]))) for p in vertices]
        sides = set()
        for a, b, c in triangles[owner == index].tolist():
            if _turns_left(flat[a], flat[b], flat[c]):
                sides |= {(a, b), (b, c), (c, a)}
        return inside_of([line(flat[i][:2], flat[j][:2]) for i, j in sorted(sides) if (j, i) not in sides])

    def border(self, index: int) -> list[Edge]:
        """The projected edges of a face, in the direction in which its border runs."""
        found: list[Edge] = []
        for number, backwards in face_facts(self.body)[index].border:
            outline = self._outlines[number]
            found += [reverse(e) for e in outline[::-1]] if backwards else outline
        return found

    def upward(self, z: float, within: Bounds | None = None) -> list[Shown]:
        """Faces that look up (at least in part) and reach above ``z`` (within a box of x, y)."""
        return [
            s
            for s in self.shown
            if s.look in ("up", "both") and s.high > z + COINCIDENT and (within is None or boxes_meet(s.bounds, within))
        ]

    def above(self, z: float) -> Region:
        """The shadow of all metal above ``z``: what a tool from above may not pass at that height."""
        key = round(z, 6)
        if key not in self._above:
            self._above[key] = self._shadow(z)
        return self._above[key]

    def _shadow(self, z: float) -> Region:
        """Built on the shadow of the next higher level that is known: only faces that reach below it are new."""
        start = min((k for k in self._above if k >= z), default=math.inf)
        fresh = [s for s in self.upward(z) if s.low < start - COINCIDENT or s.high <= start + COINCIDENT]
        known = [self._above[start]] if start in self._above else []
        return union([*known, *(self.part_above(s, z) for s in fresh)])

    def part_above(self, shown: Shown, z: float) -> Region:
        """The projection of the part of a face that lies above ``z``; the whole face where that is not plain."""
        region = self.region(shown.index)
        facts = face_facts(self.body)[shown.index]
        if shown.low >= z - COINCIDENT or facts.kind != "plane" or not region:
            return region
        return intersect(region, _half_plane_above(facts, self.view, z, region.bounds))


def look_of(facts: FaceFacts, frame: View) -> Look:
    """Where the face's outward side looks, seen along the frame's z."""
    zs = [dot(n, frame.z) for n in facts.normals]
    low, high = min(zs), max(zs)
    if max(abs(low), abs(high)) <= UPRIGHT:
        return "upright"
    if low >= -UPRIGHT:
        return "up"
    return "down" if high <= UPRIGHT else "both"


def _box(edges: tuple[Edge, ...]) -> Bounds | None:
    return _hull([bounds(e) for e in edges]) if edges else None


def _hull(boxes: list[Bounds]) -> Bounds:
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return (min(x0), min(y0), max(x1), max(y1))


def _point_box(curve: Curve, frame: View) -> Bounds:
    x, y, _ = frame.to_local(curve.a)
    return (x, y, x, y)


def _sampled_extent(facts: FaceFacts, frame: View) -> tuple[float, float, Bounds]:
    u0, u1, v0, v1 = BRepTools.UVBounds_s(facts.face)
    grid = [(u0 + (u1 - u0) * i / 16, v0 + (v1 - v0) * j / 16) for i in range(17) for j in range(17)]
    points = [frame.to_local(of_xyz(facts.adaptor.Value(u, v))) for u, v in grid]
    xs, ys, zs = zip(*points, strict=True)
    return min(zs), max(zs), (min(xs), min(ys), max(xs), max(ys))


def _roofed(facts: FaceFacts, all_curves: tuple[Curve, ...]) -> bool:
    """A whole bore that ends in circles square to its axis: its upper half covers its lower half."""
    if facts.kind != "cylinder" or _bulges(facts):
        return False
    axis = of_xyz(facts.adaptor.Cylinder().Axis().Direction())
    u0, u1, _, _ = BRepTools.UVBounds_s(facts.face)
    if u1 - u0 < math.tau - 1e-9:
        return False
    borders = [all_curves[n] for n, _ in facts.border]
    return all(c.kind == "line" or (c.kind == "circle" and _square_to(c, axis)) for c in borders)


def _square_to(circle: Curve, axis: Vec3) -> bool:
    return max(abs(dot(circle.u, axis)), abs(dot(circle.v, axis))) <= 1e-9 * norm(circle.u)


def _bulges(facts: FaceFacts) -> bool:
    """True when the outward normal points away from a cylinder's axis."""
    cylinder = facts.adaptor.Cylinder()
    u0, _, v0, _ = BRepTools.UVBounds_s(facts.face)
    centre, point = of_xyz(cylinder.Location()), of_xyz(facts.adaptor.Value(u0, v0))
    return dot(facts.normals[0], (point[0] - centre[0], point[1] - centre[1], point[2] - centre[2])) > 0


def _upper_part(facts: FaceFacts, plane: tuple[Vec3, Vec3], frame: View) -> Region:
    """The part of a face on the upper side of a plane, projected."""
    _, _, rect = _sampled_extent(facts, frame)
    size = 4.0 * (math.hypot(rect[2] - rect[0], rect[3] - rect[1]) + 100.0)
    half = half_space_box(plane[0], plane[1], size)
    pieces = BRepAlgoAPI_Common(facts.face, half.wrapped).Shape()
    return union(_whole(TopoDS.Face_s(s), frame) for s in sub_shapes(pieces, TopAbs_ShapeEnum.TopAbs_FACE))


def _whole(face: TopoDS_Face, frame: View) -> Region:
    found: list[Edge] = []
    explorer = TopExp_Explorer(face, TopAbs_ShapeEnum.TopAbs_EDGE)
    while explorer.More():
        edge = TopoDS.Edge_s(explorer.Current())
        outline = projected(curve_of(edge), frame)
        backwards = edge.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
        found += [reverse(e) for e in outline[::-1]] if backwards else outline
        explorer.Next()
    return inside_of(found)


def _silhouette_plane(facts: FaceFacts, frame: View) -> tuple[Vec3, Vec3] | None:
    """A plane (point, normal) with exactly the points of upward normal on its upper side; None if none is known."""
    if facts.kind == "cylinder":
        axis = facts.adaptor.Cylinder().Axis()
        along, z = of_xyz(axis.Direction()), frame.z
        square = tuple(c - dot(z, along) * a for c, a in zip(z, along, strict=True))
        sign = 1.0 if _bulges(facts) else -1.0
        return of_xyz(axis.Location()), (sign * square[0], sign * square[1], sign * square[2])
    if facts.kind == "sphere":
        sphere = facts.adaptor.Sphere()
        return of_xyz(sphere.Location()), _outward_up(facts, frame, of_xyz(sphere.Location()))
    if facts.kind == "torus":
        torus = facts.adaptor.Torus()
        if abs(dot(of_xyz(torus.Axis().Direction()), frame.z)) > 1 - 1e-12:
            return of_xyz(torus.Location()), _outward_up(facts, frame, of_xyz(torus.Location()))
    return None


def _outward_up(facts: FaceFacts, frame: View, centre: Vec3) -> Vec3:
    """The frame's z where an upward normal means the upper half, else its opposite."""
    u0, u1, v0, v1 = BRepTools.UVBounds_s(facts.face)
    level = dot(centre, frame.z)
    for i, j in ((1, 1), (1, 3), (3, 1), (3, 3), (2, 1), (2, 3)):
        u, v = u0 + (u1 - u0) * i / 4, v0 + (v1 - v0) * j / 4
        normal, height = _normal(facts.adaptor, u, v), dot(of_xyz(facts.adaptor.Value(u, v)), frame.z) - level
        if normal is not None and abs(dot(normal, frame.z)) > 1e-3 and abs(height) > COINCIDENT:
            sign = -1.0 if facts.face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
            return scale(frame.z, math.copysign(1.0, sign * dot(normal, frame.z) * height))
    return frame.z


def _turns_left(a: Vec3, b: Vec3, c: Vec3) -> bool:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) > 1e-12


def _half_plane_above(facts: FaceFacts, frame: View, z: float, box: Bounds) -> Region:
    """Where a slanted plane lies above ``z``, as a polygon that covers the box."""
    nx, ny, nz = frame.direction_to_local(facts.normals[0])
    x0, y0, z0 = frame.to_local(of_xyz(facts.adaptor.Plane().Location()))
    size = math.hypot(nx, ny)
    ux, uy = -nx / size, -ny / size  # uphill
    run = (z - z0) * nz / size
    px, py = x0 + ux * run, y0 + uy * run
    reach = 2.0 * (math.hypot(box[2] - box[0], box[3] - box[1]) + math.hypot(px - box[0], py - box[1]) + 1.0)
    side = [(px - uy * reach, py + ux * reach), (px + uy * reach, py - ux * reach)]
    return polygon([*side, *((x + ux * reach, y + uy * reach) for x, y in side[::-1])])


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
