"""Edges of a body as plain numbers, and what they look like from a direction: lines and arcs in a plane (mm)."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GeomAbs import GeomAbs_CurveType
from OCP.TopoDS import TopoDS_Edge

from schemas.base import Vec3, add, cross, norm
from schemas.tolerances import EDGE_GAP
from worker.kernel.planar_edge import Edge, Point2, arcs, distance, line
from worker.kernel.planar_meet import Known
from worker.kernel.shape import KEPT, Body, edges, of_xyz
from worker.kernel.view import View

FIT = 1e-5
"""Curves other than lines and circles are replaced by arcs that stay this close (mm)."""
MOST_ARCS = 256
LOOKED_AT = 32
"""Points of a curve, at least, that the arcs in its place are held to."""
BETWEEN = 2.0
"""How much farther off its faces a curve may be between the places where its file's tolerance was taken."""
Round = tuple[Point2, float]
"""Centre and radius of a circle."""
SQUARE = 1e-9
"""A direction component below this is none."""


@dataclass(frozen=True)
class Curve:
    """One edge: its ends, and for a circle centre, the two axes of its plane (radius long) and its angles.

    ``off``: how far (mm) another curve may lie beside the faces that it bounds, as the file says.
    """

    kind: Literal["point", "line", "circle", "other"]
    a: Vec3
    b: Vec3
    centre: Vec3 = (0.0, 0.0, 0.0)
    u: Vec3 = (0.0, 0.0, 0.0)
    v: Vec3 = (0.0, 0.0, 0.0)
    first: float = 0.0
    last: float = 0.0
    at: Callable[[float], Vec3] | None = None
    off: float = 0.0

    def point(self, t: float) -> Vec3:
        """The point at the curve's parameter."""
        if self.at is not None:
            return self.at(t)
        return add(add(self.centre, self.u, math.cos(t)), self.v, math.sin(t))


@lru_cache(maxsize=KEPT)
def curves(body: Body) -> tuple[Curve, ...]:
    """The edges of the body in kernel order."""
    return tuple(curve_of(edge) for edge in edges(body.wrapped))


def curve_of(edge: TopoDS_Edge) -> Curve:
    """The edge's curve, walked in the direction of its parameter."""
    if BRep_Tool.Degenerated_s(edge):
        return Curve("point", (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
    adaptor = BRepAdaptor_Curve(edge)
    first, last = adaptor.FirstParameter(), adaptor.LastParameter()
    a, b = of_xyz(adaptor.Value(first)), of_xyz(adaptor.Value(last))
    kind = adaptor.GetType()
    if kind == GeomAbs_CurveType.GeomAbs_Line:
        return Curve("line", a, b)
    if kind != GeomAbs_CurveType.GeomAbs_Circle:
        off = min(BRep_Tool.Tolerance_s(edge), EDGE_GAP)
        return Curve("other", a, b, first=first, last=last, at=lambda t: of_xyz(adaptor.Value(t)), off=off)
    circle = adaptor.Circle()
    radius = circle.Radius()
    u, v = (tuple(radius * c for c in of_xyz(axis.Direction())) for axis in (circle.XAxis(), circle.YAxis()))
    return Curve("circle", a, b, of_xyz(circle.Location()), u, v, first, last)


def heights(curve: Curve, frame: View) -> tuple[float, float]:
    """Lowest and highest z of the curve in the frame."""
    if curve.kind == "circle":
        up, side = frame.direction_to_local(curve.u)[2], frame.direction_to_local(curve.v)[2]
        turns = _turning(curve, math.atan2(side, up)) if math.hypot(up, side) > SQUARE else []
        points = [curve.a, curve.b, *(curve.point(t) for t in turns)]
    elif curve.kind == "other":
        points = [curve.point(curve.first + (curve.last - curve.first) * i / 32) for i in range(33)]
    else:
        points = [curve.a, curve.b]
    zs = [frame.to_local(p)[2] for p in points]
    return min(zs), max(zs)


def _turning(curve: Curve, angle: float) -> list[float]:
    """Parameters within the arc at ``angle`` plus whole half turns."""
    start = math.ceil((curve.first - angle) / math.pi)
    found = [angle + k * math.pi for k in range(start, start + 4)]
    return [t for t in found if curve.first < t < curve.last]


def projected(curve: Curve, frame: View, rounds: Sequence[Round] = ()) -> tuple[Edge, ...]:
    """The curve seen along the frame's z, as edges in its x, y; empty for a curve that runs along z.

    One that lies on a round wall is told as that wall's circle (``rounds``): arcs fitted to it would run to and fro
    about the wall, too near for the kernel to tell them apart.
    """
    if curve.kind == "point":
        return ()
    if curve.kind == "line":
        return _straight([_flat(frame, curve.a), _flat(frame, curve.b)])
    if curve.kind == "circle":
        normal = frame.direction_to_local(cross(curve.u, curve.v))
        tilt = abs(normal[2]) / norm(normal)
        if tilt > 1 - SQUARE:
            return _circle(curve, frame, math.copysign(1.0, normal[2]))
        if tilt < SQUARE:
            return _edge_on(curve, frame)
    return _on_a_wall(curve, frame, rounds) or _fitted(lambda t: _flat(frame, curve.point(t)), curve.first, curve.last)


def _on_a_wall(curve: Curve, frame: View, rounds: Sequence[Round]) -> tuple[Edge, ...]:
    """The arcs of the circle to which all of the curve keeps nearest; empty where it lies on none."""
    step = (curve.last - curve.first) / LOOKED_AT
    start, enough = _flat(frame, curve.point(curve.first)), max(FIT, BETWEEN * curve.off)
    likely = [(c, r) for c, r in rounds if abs(distance(start, c) - r) <= enough]
    points = [_flat(frame, curve.point(curve.first + step * i)) for i in range(LOOKED_AT + 1)] if likely else []
    offs = ((max(abs(distance(p, centre) - radius) for p in points), centre, radius) for centre, radius in likely)
    off, centre, radius = min(offs, key=lambda found: found[0], default=(math.inf, (0.0, 0.0), 0.0))
    return _followed(points, centre, radius) if off <= enough else ()


def _followed(points: Sequence[Point2], centre: Point2, radius: float) -> tuple[Edge, ...]:
    """The circle's arcs from the first to the last of its points, reached by lines where these lie beside it; empty
    where they do not go one way round."""
    angles = [math.atan2(y - centre[1], x - centre[0]) for x, y in points]
    turns = [math.remainder(b - a, math.tau) for a, b in pairwise(angles)]
    sweep = sum(turns)
    if min(turns) * max(turns) < 0 or abs(sweep) * radius <= FIT:
        return ()
    found = arcs(centre, radius, angles[0], sweep)
    a, b = (p if distance(p, q) <= FIT else q for p, q in ((points[0], found[0].a), (points[-1], found[-1].b)))
    ends = [a, *(e.b for e in found[:-1]), b]
    along = [replace(e, a=p, b=q) for e, (p, q) in zip(found, pairwise(ends), strict=True)]
    return (*_straight([points[0], a]), *along, *_straight([b, points[-1]]))


def _flat(frame: View, point: Vec3) -> Point2:
    x, y, _ = frame.to_local(point)
    return (x, y)


def _straight(points: list[Point2]) -> tuple[Edge, ...]:
    found = []
    for p, q in pairwise(points):
        if distance(p, q) > SQUARE:
            found.append(line(p, q))
    return tuple(found)


def _circle(curve: Curve, frame: View, sense: float) -> tuple[Edge, ...]:
    x, y, _ = frame.direction_to_local(curve.u)
    start = math.atan2(y, x) + sense * curve.first
    return arcs(_flat(frame, curve.centre), norm(curve.u), start, sense * (curve.last - curve.first))


def _edge_on(curve: Curve, frame: View) -> tuple[Edge, ...]:
    """A circle seen from its edge: straight, to and fro."""
    (ux, uy, _), (vx, vy, _) = frame.direction_to_local(curve.u), frame.direction_to_local(curve.v)
    along = (ux, uy) if math.hypot(ux, uy) > math.hypot(vx, vy) else (vx, vy)
    angle = math.atan2(vx * along[0] + vy * along[1], ux * along[0] + uy * along[1])
    stops = [curve.first, *_turning(curve, angle), curve.last]
    return _straight([_flat(frame, curve.point(t)) for t in stops])


def _fitted(at: Callable[[float], Point2], first: float, last: float) -> tuple[Edge, ...]:
    """As few arcs as stay within FIT: one at first, then twice as many each time."""
    count = 2 if distance(at(first), at(last)) <= FIT else 1
    points: list[Point2] = []
    while True:
        looked = max(LOOKED_AT // count, 4) * count
        if len(points) != looked + 1:
            points = [at(first + (last - first) * i / looked) for i in range(looked + 1)]
        found, off = _arcs_through(points, looked // count)
        if off <= FIT or count >= MOST_ARCS:
            return tuple(found)
        count *= 2


def _arcs_through(points: Sequence[Point2], each: int) -> tuple[list[Edge], float]:
    """Arcs through every so many of the points, and how far the points between lie beside them."""
    found, off = [], 0.0
    for i in range(0, len(points) - 1, each):
        if distance(points[i], points[i + each]) > SQUARE:
            edge = three_point_arc(points[i], points[i + each // 2], points[i + each])
            found.append(edge)
            off = max(off, *_distances(edge, points[i + 1 : i + each]))
    return found, off


def _distances(edge: Edge, points: Sequence[Point2]) -> Iterator[float]:
    """Distances from the edge where they are small; else more than FIT."""
    own = Known(edge)
    for p in points:
        if edge.centre is None:
            yield 0.0 if own.touches(p, FIT / 2) else FIT * 2
        else:
            off = abs(distance(edge.centre, p) - edge.radius)
            yield off if off > FIT or own.touches(p, FIT) else FIT * 2


def three_point_arc(a: Point2, m: Point2, b: Point2) -> Edge:
    """The arc from a over m to b; a straight line where the three lie on one."""
    (ax, ay), (mx, my), (bx, by) = a, m, b
    det = 2 * ((mx - ax) * (by - ay) - (my - ay) * (bx - ax))
    if abs(det) < 1e-7 * distance(a, b) ** 2:
        return line(a, b)
    m2, b2 = (mx - ax) ** 2 + (my - ay) ** 2, (bx - ax) ** 2 + (by - ay) ** 2
    cx = ax + ((by - ay) * m2 - (my - ay) * b2) / det
    cy = ay + ((mx - ax) * b2 - (bx - ax) * m2) / det
    half = math.asin(min(1.0, distance(a, b) / 2 / distance((cx, cy), a)))
    sweep = 2 * (half if det > 0 else -half)
    return Edge(a, b, (cx, cy), distance((cx, cy), a), sweep)
