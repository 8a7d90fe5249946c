"""Parts of faces: above a height, or where they look up, as a direction sees them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from OCP.BRep import BRep_Tool
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepTools import BRepTools
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face, TopoDS_Shape

from schemas.base import Vec3, add, dot, scale, sub
from schemas.tolerances import COINCIDENT
from worker.kernel.facefacts import FaceFacts, bulges, facts_of, normal_at, sampled_extent
from worker.kernel.outline import Round, curve_of, heights, projected
from worker.kernel.planar import NOWHERE, Bounds, Region, disc, inside_of, intersect, polygon, subtract, union
from worker.kernel.planar_edge import Edge, distance, line, reverse
from worker.kernel.primitives import half_space_box
from worker.kernel.shape import border_edges, of_xyz, sub_shapes
from worker.kernel.view import View


def upper_part(facts: FaceFacts, planes: list[tuple[Vec3, Vec3]], view: View, rounds: Sequence[Round] = ()) -> Region:
    """The part of a face on the upper side of each plane (point, normal), projected.

    What of its border lies on an upright round wall is told as that wall's own circle (``rounds``).
    """
    return union(_whole(face, view, rounds) for face in upper_faces(facts, planes, view))


def upper_faces(facts: FaceFacts, planes: list[tuple[Vec3, Vec3]], view: View) -> list[TopoDS_Face]:
    """What of a face lies on the upper side of each plane (point, normal)."""
    low, high, rect = sampled_extent(facts, view)
    size = 4.0 * (math.hypot(rect[2] - rect[0], rect[3] - rect[1]) + high - low + 100.0)
    centre = (facts.adaptor.FirstUParameter(), facts.adaptor.FirstVParameter())
    near = of_xyz(facts.adaptor.Value(*centre))
    shape: TopoDS_Shape = facts.face
    for point, normal in planes:
        foot = add(near, normal, dot(normal, sub(point, near)) / dot(normal, normal))
        shape = BRepAlgoAPI_Common(shape, half_space_box(foot, normal, size).wrapped).Shape()
    return [TopoDS.Face_s(s) for s in sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_FACE)]


def extent(faces: Sequence[TopoDS_Face], view: View) -> tuple[float, float] | None:
    """Lowest and highest z of some faces, by their borders and a grid of their points; None for none."""
    borders = [curve_of(TopoDS.Edge_s(e)) for face in faces for e in sub_shapes(face, TopAbs_ShapeEnum.TopAbs_EDGE)]
    spans = [heights(curve, view) for curve in borders if curve.kind != "point"]
    spans += [sampled_extent(facts_of(face), view)[:2] for face in faces]
    return (min(low for low, _ in spans), max(high for _, high in spans)) if spans else None


def lying_cylinder_above(facts: FaceFacts, view: View, z: float, region: Region) -> Region:
    """Where a lying cylinder is above ``z``: near its crest where it bulges, off its trough where it is hollow."""
    cylinder = facts.adaptor.Cylinder()
    height, radius = z - view.to_local(of_xyz(cylinder.Location()))[2], cylinder.Radius()
    if bulges(facts):
        if height <= 0 or height >= radius:
            return region if height <= 0 else NOWHERE
        return intersect(region, _strip(facts, view, math.sqrt(radius**2 - height**2), region.bounds))
    if height >= 0 or height <= -radius:
        return region if height <= -radius else NOWHERE
    return subtract(region, [_strip(facts, view, math.sqrt(radius**2 - height**2), region.bounds)])


def upright_cone_above(facts: FaceFacts, view: View, z: float, region: Region) -> Region:
    """Where a cone about an upright axis is above ``z``: within a circle where it narrows upwards, else outside it."""
    cone = facts.adaptor.Cone()
    x, y, apex = view.to_local(of_xyz(cone.Apex()))
    middle = (facts.adaptor.FirstVParameter() + facts.adaptor.LastVParameter()) / 2
    narrows = view.to_local(of_xyz(facts.adaptor.Value(facts.adaptor.FirstUParameter(), middle)))[2] < apex
    radius = abs(z - apex) * math.tan(abs(cone.SemiAngle()))
    if (z >= apex) == narrows or radius <= COINCIDENT:  # no part of the face lies on the apex's other side
        return NOWHERE if narrows else region
    circle = disc((x, y), radius)
    return intersect(region, circle) if narrows else subtract(region, [circle])


def stands(facts: FaceFacts, view: View) -> bool:
    """True for a cone whose axis is upright."""
    return abs(dot(of_xyz(facts.adaptor.Cone().Axis().Direction()), view.z)) > 1 - 1e-12


def _strip(facts: FaceFacts, view: View, half: float, box: Bounds) -> Region:
    """The strip along a lying cylinder's axis, ``half`` to each side, longer than the box."""
    cylinder = facts.adaptor.Cylinder()
    cx, cy, _ = view.to_local(of_xyz(cylinder.Location()))
    ux, uy, _ = view.direction_to_local(of_xyz(cylinder.Axis().Direction()))
    reach = math.hypot(box[2] - box[0], box[3] - box[1]) + math.hypot(cx - box[0], cy - box[1]) + half
    sides = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return polygon([(cx + s * reach * ux - t * half * uy, cy + s * reach * uy + t * half * ux) for s, t in sides])


def _whole(face: TopoDS_Face, view: View, rounds: Sequence[Round]) -> Region:
    found: list[Edge] = []
    for edge, backwards in border_edges(face):
        outline = _between_corners(projected(curve_of(edge), view, rounds), edge, view)
        found += [reverse(e) for e in outline[::-1]] if backwards else outline
    return inside_of(found)


def _between_corners(outline: Sequence[Edge], edge: TopoDS_Edge, view: View) -> list[Edge]:
    """The outline carried on to the edge's corners: where curves of a file only nearly meet, those that the kernel cut
    off end as far beside them as their tolerance allows."""
    first, last = TopExp.FirstVertex_s(edge), TopExp.LastVertex_s(edge)
    a, b = (view.to_local(of_xyz(BRep_Tool.Pnt_s(corner)))[:2] for corner in (first, last))
    start, end = (outline[0].a, outline[-1].b) if outline else (b, b)
    before = [line(a, start)] if distance(a, start) > COINCIDENT else []
    after = [line(end, b)] if distance(end, b) > COINCIDENT else []
    return [*before, *outline, *after]


def silhouette_plane(facts: FaceFacts, view: View) -> tuple[Vec3, Vec3] | None:
    """A plane (point, normal) with exactly the points of upward normal on its upper side; None if none is known."""
    if facts.kind == "cylinder":
        axis = facts.adaptor.Cylinder().Axis()
        along, z = of_xyz(axis.Direction()), view.z
        square = tuple(c - dot(z, along) * a for c, a in zip(z, along, strict=True))
        sign = 1.0 if bulges(facts) else -1.0
        return of_xyz(axis.Location()), (sign * square[0], sign * square[1], sign * square[2])
    if facts.kind == "sphere":
        sphere = facts.adaptor.Sphere()
        return of_xyz(sphere.Location()), _outward_up(facts, view, of_xyz(sphere.Location()))
    if facts.kind == "torus":
        torus = facts.adaptor.Torus()
        if abs(dot(of_xyz(torus.Axis().Direction()), view.z)) > 1 - 1e-12:
            return of_xyz(torus.Location()), _outward_up(facts, view, of_xyz(torus.Location()))
    return _through_apex(facts, view) if facts.kind == "cone" else None


def _through_apex(facts: FaceFacts, view: View) -> tuple[Vec3, Vec3]:
    """The plane that holds the two lines on which a cone's normals are level.

    With the axis a (away from the apex), half the angle t and p from the apex, an outward normal is up where
    cos(t)^2 p.z > (a.z)(a.p): a plane through the apex, whatever the cone's tilt.
    """
    cone = facts.adaptor.Cone()
    apex, axis = of_xyz(cone.Apex()), of_xyz(cone.Axis().Direction())
    share = math.cos(cone.SemiAngle()) ** 2
    square = sub(scale(view.z, share), scale(axis, dot(axis, view.z)))
    return apex, scale(square, 1.0 if _turns_out(facts, apex, axis) else -1.0)


def _turns_out(facts: FaceFacts, apex: Vec3, axis: Vec3) -> bool:
    """True when the outward normals of a cone point away from its axis."""
    u0, u1, v0, v1 = BRepTools.UVBounds_s(facts.face)
    u, v = (u0 + u1) / 2, (v0 + v1) / 2
    arm = sub(of_xyz(facts.adaptor.Value(u, v)), apex)
    normal = normal_at(facts.adaptor, u, v) or axis
    sign = -1.0 if facts.face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
    return sign * dot(normal, sub(arm, scale(axis, dot(arm, axis)))) > 0


def _outward_up(facts: FaceFacts, view: View, centre: Vec3) -> Vec3:
    """The view's z where an upward normal means the upper half, else its opposite."""
    u0, u1, v0, v1 = BRepTools.UVBounds_s(facts.face)
    level = dot(centre, view.z)
    for i, j in ((1, 1), (1, 3), (3, 1), (3, 3), (2, 1), (2, 3)):
        u, v = u0 + (u1 - u0) * i / 4, v0 + (v1 - v0) * j / 4
        normal, height = normal_at(facts.adaptor, u, v), dot(of_xyz(facts.adaptor.Value(u, v)), view.z) - level
        if normal is not None and abs(dot(normal, view.z)) > 1e-3 and abs(height) > COINCIDENT:
            sign = -1.0 if facts.face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
            return scale(view.z, math.copysign(1.0, sign * dot(normal, view.z) * height))
    return view.z


def half_plane_above(facts: FaceFacts, view: View, z: float, box: Bounds) -> Region:
    """Where a slanted plane lies above ``z``, as a polygon that covers the box."""
    nx, ny, nz = view.direction_to_local(facts.normals[0])
    x0, y0, z0 = view.to_local(of_xyz(facts.adaptor.Plane().Location()))
    size = math.hypot(nx, ny)
    ux, uy = -nx / size, -ny / size  # uphill
    run = (z - z0) * nz / size
    px, py = x0 + ux * run, y0 + uy * run
    reach = 2.0 * (math.hypot(box[2] - box[0], box[3] - box[1]) + math.hypot(px - box[0], py - box[1]) + 1.0)
    side = [(px - uy * reach, py + ux * reach), (px + uy * reach, py - ux * reach)]
    return polygon([*side, *((x + ux * reach, y + uy * reach) for x, y in side[::-1])])
