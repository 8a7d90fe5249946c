"""Face and edge facts of a body, as plain numbers: what recognition reads instead of the kernel."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Edge

from schemas.base import Vec3
from worker.kernel.graph_curves import CurveKind, curves_read
from worker.kernel.graph_flats import mended
from worker.kernel.graph_grids import Side, grid_triangles
from worker.kernel.graph_helix import Helix, helix_of
from worker.kernel.graph_mesh import Corners, face_triangles
from worker.kernel.graph_plates import MANY, plate_triangles, ring_triangles
from worker.kernel.graph_simple import Line, flat_triangles, strip_triangles
from worker.kernel.graph_surface import Surface, crossed
from worker.kernel.graph_turns import Convexity, FaceSide, Meeting, sides_of, turns
from worker.kernel.shape import Body, compound_of, faces, of_xyz, shape_map


@dataclass(frozen=True, slots=True)
class FaceFact:
    """One face of the body: its carrier surface, its triangles (n, 3, 3), an inside point and the normal there.

    ``helix``: the screw motion of a face without simple carrier, where it has one.
    """

    index: int
    surface: Surface
    triangles: Corners
    area: float
    point: Vec3
    normal: Vec3
    helix: Helix | None = None


@dataclass(frozen=True, slots=True)
class EdgeFact:
    """One edge between two faces.

    ``faces``: the face that has the edge forward first. ``angle``: turn of the outward normal over the edge (rad),
    positive where the edge stands out (convex). ``points`` run from start to end, in the forward direction of the
    first face (whose material lies on the left, seen from outside). ``vertices`` are numbers of the end vertices.
    """

    index: int
    faces: tuple[int, int]
    convexity: Convexity
    angle: float
    curve: CurveKind
    length: float
    vertices: tuple[int, int]
    points: tuple[Vec3, ...]
    cloud: Corners | None = field(default=None, compare=False, repr=False)
    """The points of a free-form edge as an array (n, 3)."""


@dataclass(frozen=True, slots=True)
class FaceGraph:
    """All faces and the edges between different faces; ``loose``: the middles of edges that do not join just two.

    Seams and degenerate edges are not loose.
    """

    faces: tuple[FaceFact, ...]
    edges: tuple[EdgeFact, ...]
    loose: tuple[Vec3, ...]
    doubtful: tuple[int, ...] = ()
    """Curved faces whose triangles do not fill their outline, whichever way they are made."""


def face_graph(body: Body) -> FaceGraph:
    """The facts of every face and edge, in kernel order; mm and radians."""
    shapes = faces(body)
    sides = tuple(sides_of(range(len(shapes)), shapes))
    edges, loose = _edges(body, sides)
    triangles: Sequence[Corners] = _triangles(body, sides, () if loose else edges)
    doubtful: tuple[int, ...] = ()
    if not loose:
        flat = [side.surface.kind == "plane" for side in sides]
        triangles, doubtful = mended(
            shapes, flat, triangles, [(e.faces, e.points if e.cloud is None else e.cloud) for e in edges]
        )
    facts = tuple(_face_fact(side, corners) for side, corners in zip(sides, triangles, strict=True))
    return FaceGraph(facts, edges, loose, doubtful)


def _triangles(body: Body, sides: tuple[FaceSide, ...], edges: Sequence[EdgeFact]) -> list[Corners]:
    """The triangles of each face: of simple ones at once, of all others by the kernel."""
    lines: list[list[Line]] = [[] for _ in sides]
    uses: list[list[tuple[EdgeFact, bool]]] = [[] for _ in sides]
    for edge in edges:
        start, end = edge.vertices
        lines[edge.faces[0]].append((edge.curve, start, end, edge.points[0]))
        lines[edge.faces[1]].append((edge.curve, end, start, edge.points[-1]))
        for face, forward in zip(edge.faces, (True, False), strict=True):
            uses[face].append((edge, forward))
    found = [_simple(side, lines[side.face], uses[side.face]) for side in sides]
    free = [side for side in sides if side.surface.kind == "other"]
    grids = grid_triangles([Side(s.adaptor, s.flip, [edge.points for edge, _ in uses[s.face]], s.net) for s in free])
    for side, corners in zip(free, grids, strict=True):
        found[side.face] = corners
    rest = [side.shape for side, corners in zip(sides, found, strict=True) if corners is None]
    whole = body.wrapped if len(rest) == len(sides) else compound_of(rest)
    others = iter(face_triangles(whole, tuple(rest)) if rest else ())
    return [next(others) if corners is None else corners for corners in found]


def _simple(side: FaceSide, lines: list[Line], uses: list[tuple[EdgeFact, bool]]) -> Corners | None:
    if side.surface.kind == "plane" and 2 < len(uses) < MANY:
        return flat_triangles(side.surface, lines)
    if side.surface.kind == "plane":
        ways = [(e, e.vertices, e.points) if f else (e, e.vertices[::-1], e.points[::-1]) for e, f in uses]
        sides = [(e.curve, *ends, points) for e, ends, points in ways]
        return plate_triangles(side.surface, sides) if len(uses) > 2 else ring_triangles(sides, side.surface.axis)
    return strip_triangles(side.adaptor, side.surface.hollow, lines)


def _face_fact(side: FaceSide, corners: Corners) -> FaceFact:
    if not len(corners):
        return FaceFact(side.face, side.surface, corners, 0.0, side.surface.origin, side.surface.axis)
    cross_products = crossed(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    doubled = np.sqrt(np.einsum("ij,ij->i", cross_products, cross_products))
    best = int(doubled.argmax())
    middle = corners[best].mean(axis=0)
    normal = cross_products[best] / doubled[best] if doubled[best] else side.surface.axis
    return FaceFact(
        side.face,
        side.surface,
        corners,
        float(doubled.sum()) / 2,
        (float(middle[0]), float(middle[1]), float(middle[2])),
        (float(normal[0]), float(normal[1]), float(normal[2])),
        helix_of(*side.samples) if side.samples and side.surface.kind == "other" else None,
    )


_Use = tuple[int, TopoDS_Edge]
"""A face, and an edge of it as it runs there."""


def border_of(body: Body, some: Collection[int]) -> tuple[tuple[EdgeFact, ...], dict[int, Surface]]:
    """The edges of :func:`face_graph` round some faces, and the carriers of the faces on both sides of them, by number:
    nothing is worked out of the rest."""
    shapes, users = faces(body), _users(body)
    met = {n: uses for n, uses in enumerate(users) if _joins_two(uses) and any(face in some for face, _ in uses)}
    near = sorted({face for uses in met.values() for face, _ in uses})
    sides = {side.face: side for side in sides_of(near, [shapes[face] for face in near])}
    return _edge_facts(body, met, sides), {face: side.surface for face, side in sides.items()}


def _edges(body: Body, sides: tuple[FaceSide, ...]) -> tuple[tuple[EdgeFact, ...], tuple[Vec3, ...]]:
    met, loose = {}, []
    for index, uses in enumerate(_users(body)):
        if _joins_two(uses):
            met[index] = uses
        elif len({face for face, _ in uses}) != 1 or (len(uses) != 2 and not BRep_Tool.Degenerated_s(uses[0][1])):
            loose.append(_middle_of(uses[0][1]))
    return _edge_facts(body, met, dict(enumerate(sides))), tuple(loose)


def _users(body: Body) -> list[list[_Use]]:
    """For each edge, in kernel order, the faces that it bounds; one comes twice where the edge is a seam of it."""
    edge_map = shape_map(body.wrapped, TopAbs_ShapeEnum.TopAbs_EDGE)
    users: list[list[_Use]] = [[] for _ in range(edge_map.Extent())]
    for number, shape in enumerate(faces(body)):
        explorer = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_EDGE)
        while explorer.More():
            edge = TopoDS.Edge_s(explorer.Current())
            users[edge_map.FindIndex(edge) - 1].append((number, edge))
            explorer.Next()
    return users


def _joins_two(uses: Sequence[_Use]) -> bool:
    return len(uses) == 2 and uses[0][0] != uses[1][0]


def _middle_of(edge: TopoDS_Edge) -> Vec3:
    curve = BRepAdaptor_Curve(edge)
    return of_xyz(curve.Value(0.5 * (curve.FirstParameter() + curve.LastParameter())))


def _edge_facts(body: Body, met: Mapping[int, Sequence[_Use]], sides: Mapping[int, FaceSide]) -> tuple[EdgeFact, ...]:
    """The facts of edges between two faces, by their numbers."""
    find = shape_map(body.wrapped, TopAbs_ShapeEnum.TopAbs_VERTEX).FindIndex
    meetings = [_meeting(uses, sides) for uses in met.values()]
    lines = curves_read([one.curve for one in meetings], [one.reverse for one in meetings])
    turned = turns(meetings, [line.kind == "line" for line in lines])
    found = []
    for index, one, line, (convexity, angle) in zip(met, meetings, lines, turned, strict=True):
        ends = TopExp.FirstVertex_s(one.edges[0], True), TopExp.LastVertex_s(one.edges[0], True)
        numbers, pair = (find(ends[0]), find(ends[1])), (one.sides[0].face, one.sides[1].face)
        read = line.kind, line.length, numbers, line.points, line.cloud
        found.append(EdgeFact(index, pair, convexity, angle, *read))
    return tuple(found)


def _meeting(uses: Sequence[_Use], sides: Mapping[int, FaceSide]) -> Meeting:
    """The face that has the edge forward comes first."""
    if uses[0][1].Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
        uses = uses[::-1]
    (a, edge), (b, other) = uses
    reverse = edge.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
    return Meeting((sides[a], sides[b]), (edge, other), BRepAdaptor_Curve(edge), reverse)
