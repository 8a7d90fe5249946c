"""Face and edge facts of a body, as plain numbers: what recognition reads instead of the kernel."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Curve2d, BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_CurveType
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face

from schemas.base import Vec3, add, cross, dot, norm, scale, sub
from schemas.tolerances import CANONICAL, SMOOTH, SMOOTH_FREE
from worker.kernel.graph_flats import mended
from worker.kernel.graph_grids import Side, grid_triangles
from worker.kernel.graph_helix import Helix, helix_of
from worker.kernel.graph_mesh import Corners, face_triangles
from worker.kernel.graph_plates import MANY, plate_triangles, ring_triangles
from worker.kernel.graph_simple import Line, flat_triangles, strip_triangles
from worker.kernel.graph_surface import Samples, Surface, crossed, evaluated_normal, normal_at, sampled_surface
from worker.kernel.shape import Body, compound_of, faces, of_xyz, shape_map

Convexity = Literal["convex", "concave", "smooth", "mixed"]
CurveKind = Literal["line", "circle", "other"]

ROUND, FREE = 16, 64
"""Steps at which a circle and a free curve are sampled."""
FAR_OFF = 20.0
"""So many times what a circle's points may be off, and the curve need not be looked at closely."""


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


@dataclass(frozen=True, slots=True)
class _Side:
    face: int
    surface: Surface
    adaptor: BRepAdaptor_Surface
    shape: TopoDS_Face
    flip: float
    samples: Samples | None


def face_graph(body: Body) -> FaceGraph:
    """The facts of every face and edge, in kernel order; mm and radians."""
    shapes = faces(body)
    sides = tuple(_side(i, shape) for i, shape in enumerate(shapes))
    edges, loose = _edges(body, sides)
    triangles: Sequence[Corners] = _triangles(body, sides, () if loose else edges)
    doubtful: tuple[int, ...] = ()
    if not loose:
        flat = [side.surface.kind == "plane" for side in sides]
        triangles, doubtful = mended(shapes, flat, triangles, [(e.faces, e.points) for e in edges])
    facts = tuple(_face_fact(side, corners) for side, corners in zip(sides, triangles, strict=True))
    return FaceGraph(facts, edges, loose, doubtful)


def _triangles(body: Body, sides: tuple[_Side, ...], edges: Sequence[EdgeFact]) -> list[Corners]:
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
    grids = grid_triangles([Side(s.adaptor, s.flip, [edge.points for edge, _ in uses[s.face]]) for s in free])
    for side, corners in zip(free, grids, strict=True):
        found[side.face] = corners
    rest = [side.shape for side, corners in zip(sides, found, strict=True) if corners is None]
    whole = body.wrapped if len(rest) == len(sides) else compound_of(rest)
    others = iter(face_triangles(whole, tuple(rest)) if rest else ())
    return [next(others) if corners is None else corners for corners in found]


def _simple(side: _Side, lines: list[Line], uses: list[tuple[EdgeFact, bool]]) -> Corners | None:
    if side.surface.kind == "plane" and 2 < len(uses) < MANY:
        return flat_triangles(side.surface, lines)
    if side.surface.kind == "plane":
        ways = [(e, e.vertices, e.points) if f else (e, e.vertices[::-1], e.points[::-1]) for e, f in uses]
        sides = [(e.curve, *ends, points) for e, ends, points in ways]
        return plate_triangles(side.surface, sides) if len(uses) > 2 else ring_triangles(sides, side.surface.axis)
    return strip_triangles(side.adaptor, side.surface.hollow, lines)


def _side(index: int, shape: TopoDS_Face) -> _Side:
    surface, adaptor, samples = sampled_surface(shape)
    flip = -1.0 if shape.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
    return _Side(index, surface, adaptor, shape, flip, samples)


def _face_fact(side: _Side, corners: Corners) -> FaceFact:
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
    sides = {face: _side(face, shapes[face]) for face in near}
    vertex_map = shape_map(body.wrapped, TopAbs_ShapeEnum.TopAbs_VERTEX)
    found = tuple(_edge_fact(index, uses, sides, vertex_map) for index, uses in met.items())
    return found, {face: side.surface for face, side in sides.items()}


def _edges(body: Body, sides: tuple[_Side, ...]) -> tuple[tuple[EdgeFact, ...], tuple[Vec3, ...]]:
    vertex_map, by_number = shape_map(body.wrapped, TopAbs_ShapeEnum.TopAbs_VERTEX), dict(enumerate(sides))
    found, loose = [], []
    for index, uses in enumerate(_users(body)):
        if _joins_two(uses):
            found.append(_edge_fact(index, uses, by_number, vertex_map))
        elif len({face for face, _ in uses}) != 1 or (len(uses) != 2 and not BRep_Tool.Degenerated_s(uses[0][1])):
            loose.append(_middle_of(uses[0][1]))
    return tuple(found), tuple(loose)


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


def _edge_fact(index: int, uses: list[_Use], sides: Mapping[int, _Side], vertex_map: object) -> EdgeFact:
    if uses[0][1].Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
        uses = uses[::-1]
    edge = uses[0][1]
    first, second = sides[uses[0][0]], sides[uses[1][0]]
    curve = BRepAdaptor_Curve(edge)
    reverse = edge.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
    kind, points = _points(curve, reverse)
    lines = _line_on(first, edge), _line_on(second, uses[1][1])
    angles = [_turn(curve, lines, t, reverse, first, second) for t in _stations(curve, kind, first, second)]
    start, end = TopExp.FirstVertex_s(edge, True), TopExp.LastVertex_s(edge, True)
    find = vertex_map.FindIndex  # type: ignore[attr-defined]
    return EdgeFact(
        index,
        (first.face, second.face),
        _convexity(angles, SMOOTH_FREE if "other" in (first.surface.kind, second.surface.kind) else SMOOTH),
        angles[len(angles) // 2],
        kind,
        sum(map(math.dist, points, points[1:])),
        (find(start), find(end)),
        points,
    )


def _stations(curve: BRepAdaptor_Curve, kind: CurveKind, first: _Side, second: _Side) -> tuple[float, ...]:
    """Parameters at which the turn over the edge is taken: one where it cannot vary, else three."""
    u0, u1 = curve.FirstParameter(), curve.LastParameter()
    flat = {first.surface.kind, second.surface.kind} <= {"plane"}
    if flat and kind == "line":
        return (0.5 * (u0 + u1),)
    return tuple(u0 + (u1 - u0) * share for share in (0.2, 0.47, 0.83))


def _convexity(angles: list[float], smooth: float) -> Convexity:
    signs = {0 if abs(a) < smooth else (1 if a > 0 else -1) for a in angles}
    if signs == {0}:
        return "smooth"
    if {1, -1} <= signs:
        return "mixed"
    return "convex" if 1 in signs else "concave"


def _turn(
    curve: BRepAdaptor_Curve,
    lines: tuple[BRepAdaptor_Curve2d | None, ...],
    parameter: float,
    reverse: bool,
    first: _Side,
    second: _Side,
) -> float:
    """Signed turn of the outward normal from the first face to the second (rad), positive over a convex edge."""
    p, d = gp_Pnt(), gp_Vec()
    curve.D1(parameter, p, d)
    tangent = of_xyz(d)
    size = norm(tangent)
    if size < 1e-14:
        return 0.0
    tangent = scale(tangent, (-1.0 if reverse else 1.0) / size)
    n1 = _normal(first, lines[0], parameter, of_xyz(p))
    n2 = _normal(second, lines[1], parameter, of_xyz(p))
    inward = cross(n1, tangent)
    return math.atan2(-dot(n2, inward), dot(n1, n2))


def _line_on(side: _Side, edge: TopoDS_Edge) -> BRepAdaptor_Curve2d | None:
    """An edge in a face's parameters, which the normal of a free form is asked at; none on other faces."""
    return BRepAdaptor_Curve2d(edge, side.shape) if side.surface.kind == "other" else None


def _normal(side: _Side, line: BRepAdaptor_Curve2d | None, parameter: float, point: Vec3) -> Vec3:
    if line is None:
        return normal_at(side.surface, point)
    uv = line.Value(parameter)
    return evaluated_normal(side.adaptor, uv.X(), uv.Y(), side.flip)[1]


def _points(curve: BRepAdaptor_Curve, reverse: bool) -> tuple[CurveKind, tuple[Vec3, ...]]:
    """What the curve is, and points along it: the two ends of a line, 17 points of a circle, 65 of anything else."""
    kind = curve.GetType()
    if kind == GeomAbs_CurveType.GeomAbs_Line:
        return "line", _in_order(_sampled(curve, 1), reverse)
    points = _sampled(curve, ROUND)
    if kind == GeomAbs_CurveType.GeomAbs_Circle:
        return "circle", _in_order(points, reverse)
    read, found = _guess(_in_order(points, reverse))
    return read, (_in_order(_refined(curve, points), reverse) if read == "other" else found)


def _in_order(points: list[Vec3], reverse: bool) -> tuple[Vec3, ...]:
    return tuple(points[::-1] if reverse else points)


def _sampled(curve: BRepAdaptor_Curve, count: int) -> list[Vec3]:
    """Points at ``count`` equal steps of the parameter, as the curve runs."""
    u0, u1 = curve.FirstParameter(), curve.LastParameter()
    value, span = curve.Value, u1 - u0
    return [value(u0 + span * i / count).Coord() for i in range(count + 1)]


def _refined(curve: BRepAdaptor_Curve, points: list[Vec3]) -> list[Vec3]:
    """The points at FREE equal steps, of which those at ROUND are known."""
    u0, u1 = curve.FirstParameter(), curve.LastParameter()
    value, span, step = curve.Value, u1 - u0, FREE // ROUND
    return [value(u0 + span * i / FREE).Coord() if i % step else points[i // step] for i in range(FREE + 1)]


def _guess(points: tuple[Vec3, ...]) -> tuple[CurveKind, tuple[Vec3, ...]]:
    """A free-form curve read as a line or a circle where it is one (CANONICAL, mm)."""
    cloud = np.array(points)
    chord = cloud[-1] - cloud[0]
    length = float(np.linalg.norm(chord))
    if length > 1e-9 and _off_line(points[len(points) // 2], points[0], points[-1]) < 2 * CANONICAL:
        off = np.linalg.norm(crossed(cloud - cloud[0], np.broadcast_to(chord / length, cloud.shape)), axis=1).max()
        if off < CANONICAL:
            return "line", (points[0], points[-1])
    return ("circle" if _may_be_circle(points) and _is_circle(cloud) else "other"), points


def _off_line(point: Vec3, start: Vec3, end: Vec3) -> float:
    line = sub(end, start)
    return norm(cross(sub(point, start), line)) / norm(line)


def _may_be_circle(points: Sequence[Vec3]) -> bool:
    """False where a point lies so far off the circle through three that noise of CANONICAL in these does not tell why.

    What noise in three points does to their circle grows with the square of how far away the others are.
    """
    a, b, c = points[0], points[len(points) // 3], points[2 * len(points) // 3]
    u, v = sub(b, a), sub(c, a)
    normal = cross(u, v)
    size, least = dot(normal, normal), min(norm(u), norm(v), math.dist(b, c))
    if size < 1e-16 or least < 1e-6:
        return True
    middle = scale(add(scale(cross(normal, u), dot(v, v)), cross(v, normal), dot(u, u)), 0.5 / size)
    centre, radius = add(a, middle), norm(middle)
    off = max(abs(math.dist(p, centre) - radius) for p in points)
    return off <= FAR_OFF * CANONICAL * (1 + max(math.dist(p, a) for p in points) / least) ** 2


def _is_circle(cloud: np.ndarray) -> bool:
    centred = cloud - cloud.mean(axis=0)
    basis = np.linalg.svd(centred, full_matrices=False)[2]
    if np.abs(centred @ basis[2]).max() > CANONICAL:
        return False
    flat = centred @ basis[:2].T
    rows = np.hstack([2 * flat, np.ones((len(flat), 1))])
    solution = np.linalg.lstsq(rows, (flat**2).sum(axis=1), rcond=None)[0]
    radii = np.hypot(flat[:, 0] - solution[0], flat[:, 1] - solution[1])
    return bool(np.ptp(radii) < CANONICAL)
