"""Where two bodies lie flat against each other, and where an edge or a point of one touches the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex, BRepBuilderAPI_Transform
from OCP.GeomAbs import GeomAbs_CurveType
from OCP.gp import gp_Trsf
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shape

from schemas.base import Box, Vec3, any_frame, dot, scale, sub
from schemas.tolerances import COINCIDENT, CONTACT_AREA
from worker.kernel import measure
from worker.kernel.shape import Body, compound_of, edges, faces, of_xyz, solids, sub_shapes, to_pnt, to_vec, vertices
from worker.kernel.walls_side import Side, sides_of

OPPOSITE = -1.0 + 1e-9
"""Cosine below which two outward normals face each other (5e-5 rad)."""
ALONG = 1.0 - 1e-12
"""Cosine from which a direction is one of the axes, along which boxes have been held to each other before."""
FEW_FACES = 12
"""Of a body with no more faces each plane one is asked whether it parts the body from another."""
ARC_POINTS = 12
"""A curved edge is spanned by this many points."""


@dataclass(frozen=True)
class Patch:
    """A flat area in which two bodies touch.

    ``normal`` points out of the first body; ``points`` span the area, ``inside`` lies in it.
    Area in mm2. ``shape`` is the patch itself, for further questions of this room.
    """

    area: float
    inside: Vec3
    normal: Vec3
    points: tuple[Vec3, ...]
    shape: TopoDS_Shape


def patches(first: Body, second: Body, tolerance: float) -> tuple[Patch, ...]:
    """The flat areas in which ``first`` and ``second`` lie against each other within ``tolerance`` mm.

    Ordered by the faces of ``first``, then of ``second``. Overlap within the tolerance counts as touching.
    """
    found: list[Patch] = []
    theirs = _flats(second)
    for one in _flats(first):
        normal = one.surface.axis
        for other in theirs:
            gap = dot(sub(other.surface.origin, one.surface.origin), normal)
            if dot(normal, other.surface.axis) > OPPOSITE or abs(gap) > tolerance:
                continue
            if _near(one.box, other.box, tolerance):
                found += _common(one.shape, shifted(other.shape, scale(normal, -gap)), normal)
    return tuple(found)


def _flats(body: Body) -> list[Side]:
    return [side for side in sides_of(body) if side.surface.kind == "plane"]


def _near(a: Box, b: Box, gap: float) -> bool:
    return all(p <= q + gap and r <= s + gap for p, q, r, s in zip(a.min, b.max, b.min, a.max, strict=True))


def shifted(shape: TopoDS_Shape, vector: Vec3) -> TopoDS_Shape:
    """Faces moved by a vector; geometry baked."""
    if not any(vector):
        return shape
    motion = gp_Trsf()
    motion.SetTranslation(to_vec(vector))
    return BRepBuilderAPI_Transform(shape, motion, True).Shape()


def _common(face: TopoDS_Shape, other: TopoDS_Shape, normal: Vec3) -> list[Patch]:
    operation = BRepAlgoAPI_Common(face, other)
    if not operation.IsDone():
        return []
    parts = sub_shapes(operation.Shape(), TopAbs_ShapeEnum.TopAbs_FACE)
    return [_patch(part, normal) for part in parts if measure.area(Body(part)) > CONTACT_AREA]


def _patch(shape: TopoDS_Shape, normal: Vec3) -> Patch:
    face = Body(shape)
    return Patch(measure.area(face), measure.face_point_inside(faces(face)[0]), normal, _corners(shape), shape)


def _corners(shape: TopoDS_Shape) -> tuple[Vec3, ...]:
    """Points that span the patch: its vertices, and points along its curved edges."""
    found = [of_xyz(BRep_Tool.Pnt_s(v)) for v in vertices(shape)]
    for edge in edges(shape):
        curve = BRepAdaptor_Curve(edge)
        if curve.GetType() != GeomAbs_CurveType.GeomAbs_Line:
            first, last = curve.FirstParameter(), curve.LastParameter()
            found += [of_xyz(curve.Value(first + (last - first) * k / ARC_POINTS)) for k in range(1, ARC_POINTS)]
    return tuple(found)


def opposed(one: Sequence[Patch], other: Sequence[Patch], axis: Vec3) -> Iterator[tuple[TopoDS_Face, float]]:
    """Where patches ``one`` cover patches ``other``, seen along a unit vector square to all: faces at the level of
    ``other``, and how far behind (mm) those of ``one`` lie. What a jaw meets stands back by as much as it likes to
    within what counts as touching: each level is held against each."""
    theirs = _by_level(other, axis)
    for behind, mine in _by_level(one, axis).items():
        for level, met in theirs.items():
            moved = shifted(compound_of(mine), scale(axis, level - behind))
            for face in sub_shapes(BRepAlgoAPI_Common(moved, compound_of(met)).Shape(), TopAbs_ShapeEnum.TopAbs_FACE):
                yield TopoDS.Face_s(face), level - behind


def _by_level(found: Sequence[Patch], axis: Vec3) -> dict[float, list[TopoDS_Shape]]:
    """The patches' shapes by how far along the axis they lie."""
    levels: dict[float, list[TopoDS_Shape]] = {}
    for patch in found:
        at = dot(patch.inside, axis)
        known = next((level for level in levels if abs(level - at) <= COINCIDENT), at)
        levels.setdefault(known, []).append(patch.shape)
    return levels


def nearest(body: Body, point: Vec3) -> measure.Gap:
    """The nearest point of the body (``on_first``) and its distance."""
    return measure.distance(body, BRepBuilderAPI_MakeVertex(to_pnt(point)).Vertex())


def touches(first: Body, second: Body, tolerance: float) -> bool:
    """Whether the bodies come within ``tolerance`` mm of each other anywhere."""
    if not _near(measure.bounding_box(first), measure.bounding_box(second), tolerance):
        return False
    if _keep_apart(first, second, tolerance) or _keep_apart(second, first, tolerance):
        return False
    return _skins_touch(first, second, tolerance) or _lies_in(first, second) or _lies_in(second, first)


def _keep_apart(first: Body, second: Body, gap: float) -> bool:
    """Whether some plane square to a face of the first, which has few, parts the two: boxes along the axes of a plate
    that stands aslant may hold all there is, and the least distance takes half a second from many faces."""
    few = _flats(first) if len(faces(first)) <= FEW_FACES else []
    ways = {max(way, scale(way, -1.0)) for way in (side.surface.axis for side in few) if max(map(abs, way)) < ALONG}
    frames = [any_frame((0.0, 0.0, 0.0), way) for way in sorted(ways)]
    boxes = ((measure.bounding_box(first, frame), measure.bounding_box(second, frame)) for frame in frames)
    return any(not _near(one, other, gap) for one, other in boxes)


def _skins_touch(first: Body, second: Body, tolerance: float) -> bool:
    """Whether the faces of the one that come near the other's box come near its faces."""
    near = [_faces_near(one, other, tolerance) for one, other in ((first, second), (second, first))]
    return all(near) and measure.distance(*map(compound_of, near)).distance <= tolerance


def _lies_in(inner: Body, outer: Body) -> bool:
    """Whether a solid of the one lies inside the other, their faces apart: any point of it tells."""
    corners = [vertices(solid.wrapped)[0] for solid in solids(inner)]
    return any(measure.contains(outer, of_xyz(BRep_Tool.Pnt_s(corner))) == "in" for corner in corners)


def _faces_near(body: Body, other: Body, gap: float) -> list[TopoDS_Face]:
    """The faces of the body that may come within ``gap`` of the other."""
    room = measure.rough_box(other.wrapped)
    room.Enlarge(gap)
    return [face for face in faces(body) if not room.IsOut(measure.rough_box(face))]
