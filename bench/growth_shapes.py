"""Large parts of one kind each, of about as many faces as asked for: where a step that looks at pairs shows.

Lengths in mm. Each kind repeats one thing that parts are full of; sizes vary where equal ones would be looked up.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator, Sequence

from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeVertex,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Sewing,
)
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism, BRepPrimAPI_MakeRevol
from OCP.GC import GC_MakeArcOfCircle
from OCP.Geom import Geom_BezierCurve, Geom_BezierSurface
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Vec
from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array2OfPnt
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Vertex, TopoDS_Wire

from bench.crossed import with_edges
from schemas.base import Vec3
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body, shells
from worker.kernel.sweep import outward

Corner = tuple[float, float] | tuple[float, float, float, float]
"""Place in a plane; with a point that an arc from the corner before goes through."""
Place = Callable[[float, float], Vec3]


def holes(faces: int) -> Body:
    """A plate with round holes of many sizes: one plane with all their mouths."""
    count, dice = _side(faces), random.Random(2)
    tools = []
    for i, j in _grid(count):
        x, y = 8 * i + 4 + dice.uniform(-0.5, 0.5), 8 * j + 4 + dice.uniform(-0.5, 0.5)
        tools.append(cylinder((x, y, -1), (x, y, 11), dice.uniform(2, 5)))
    return cut(box((0, 0, 0), (8.0 * count, 8.0 * count, 10)), tools)


def crossing_slots(faces: int) -> Body:
    """Slots along and across, of three depths."""
    count = _side(faces / 4.3)
    long = 12.0 * count
    along = [box((12 * i + 2, -1, 10 if i % 2 else 8), (12 * i + 10, long + 1, 31)) for i in range(count)]
    across = [box((-1, 12 * j + 2, 12), (long + 1, 12 * j + 10, 31)) for j in range(count)]
    return cut(box((0, 0, 0), (long, long, 20)), along + across)


def ribs(faces: int) -> Body:
    """Closed pockets with ribs between them: one plane with all their mouths."""
    count = _side(faces / 5)
    tools = [box((12 * i + 1, 12 * j + 1, 5), (12 * i + 11, 12 * j + 11, 31)) for i, j in _grid(count)]
    return cut(box((0, 0, 0), (12.0 * count, 12.0 * count, 20)), tools)


def pockets(faces: int) -> Body:
    """Pockets of many sizes with round corners, round borders of their floors and a post in each."""
    count, dice = _side(faces / 19), random.Random(1)
    tools = [_pocket(40.0 * i + 20, 40.0 * j + 20, dice) for i, j in _grid(count)]
    return cut(box((0, 0, 0), (40.0 * count, 40.0 * count, 20)), tools)


def _pocket(x: float, y: float, dice: random.Random) -> Body:
    depth, a, b = dice.uniform(5, 14), dice.uniform(11, 16), dice.uniform(11, 16)
    body = box((x - a, y - b, 20 - depth), (x + a, y + b, 31))
    body = with_edges(body, 3.0, lambda p, q: abs(p[0] - q[0]) + abs(p[1] - q[1]) < 1e-6)
    body = with_edges(body, 1.0, lambda p, q: p[2] + q[2] < 2 * (20 - depth) + 1e-6)
    return cut(body, [cylinder((x, y, 0), (x, y, 20 - depth * dice.uniform(0, 0.5)), dice.uniform(5, 8))])


def mixed(faces: int) -> Body:
    """A plate of cells with a counterbored hole or a pocket with an island in each."""
    count, tools = _side(faces / 5), []
    for i, j in _grid(count):
        x, y = 30.0 * i + 15, 30.0 * j + 15
        if (i + j) % 2:
            tools += [cylinder((x, y, -1), (x, y, 21), 6.6), cylinder((x, y, 13), (x, y, 21), 11.0)]
        else:
            island = cylinder((x, y, 5), (x, y, 15), 6.0)
            tools.append(cut(box((x - 10, y - 8, 10), (x + 10, y + 8, 21)), [island]))
    return cut(box((0, 0, 0), (30.0 * count, 30.0 * count, 20)), tools)


def bosses(faces: int) -> Body:
    """Stepped round bosses with a hole in each, on one plane."""
    count, dice = _side(faces / 8), random.Random(3)
    bodies, tools = [], []
    for i, j in _grid(count):
        x, y, low = 30.0 * i + 15, 30.0 * j + 15, dice.uniform(4, 6)
        steps = ((20.0, 0.0), (dice.uniform(14, 16), low), (dice.uniform(9, 11), low + 5))
        bodies.append(fuse([cylinder((x, y, 9), (x, y, 15 + low + z), d) for d, z in steps]))
        tools.append(cylinder((x, y, 10 + dice.uniform(1, 4)), (x, y, 50), dice.uniform(4, 7)))
    plate = box((0, 0, 0), (30.0 * count, 30.0 * count, 10))
    return cut(fuse([plate, *bodies]), tools)


def heat_sink(faces: int) -> Body:
    """Thin fins side by side, each as high as the next or lower."""
    count, dice = max(faces // 4, 2), random.Random(4)
    corners: list[Corner] = [(0, 0), (4.0 * count + 1.5, 0)]
    for k in reversed(range(count + 1)):
        top = 20 + dice.uniform(0, 2)
        corners += [(4.0 * k + 1.5, 8), (4.0 * k + 1.5, top), (4.0 * k, top), (4.0 * k, 8)]
    corners = [*corners[:2], *corners[3:-1]]
    return prism_within(corners, lambda u, v: (u, 0.0, v), (0, 60, 0))


def knurl(faces: int) -> Body:
    """A bar with straight grooves all round."""
    count = max(faces // 4, 12)
    radius = 40.0 * count / 60
    corners: list[Corner] = []
    for k in range(count):
        middle = math.tau * k / count
        groove, land = 0.7 / radius, math.pi / count
        low, high = _polar(radius - 1, middle - groove), _polar(radius - 1, middle + groove)
        arc = (*_polar(radius, middle - groove), *_polar(radius, middle - land))
        corners += [arc, low, high, _polar(radius, middle + groove)]
    return prism_within(corners, lambda u, v: (u, v, 0.0), (0, 0, 60))


def turned(faces: int) -> Body:
    """A shaft with square grooves of many widths and depths."""
    count, dice = max(faces // 4, 2), random.Random(5)
    corners: list[Corner] = [(0, 0), (20, 0)]
    for k in range(count):
        deep, wide = 20 - dice.uniform(1, 4), dice.uniform(1, 3)
        corners += [(20, 6.0 * k + 2), (deep, 6.0 * k + 2), (deep, 6.0 * k + 2 + wide), (20, 6.0 * k + 2 + wide)]
    corners += [(20, 6.0 * count), (0, 6.0 * count)]
    face = _face(corners, lambda u, v: (u, 0.0, v))
    turn = BRepPrimAPI_MakeRevol(face, gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), True)
    return outward(Body(turn.Shape()))


def t_slots(faces: int) -> Body:
    """T-slots along and across, at one depth."""
    count = _side(faces / 10.5)
    long = 30.0 * count
    along = [_tee((30 * i + 15, -1.0), (0, long + 2)) for i in range(count)]
    across = [_tee((-1.0, 30 * j + 15), (long + 2, 0)) for j in range(count)]
    return cut(box((0, 0, 0), (long, long, 30)), [body for pair in (*along, *across) for body in pair])


def _tee(start: tuple[float, float], way: tuple[float, float]) -> tuple[Body, Body]:
    x, y = (0.0, 1.0) if way[0] else (1.0, 0.0)

    def part(half: float, low: float, high: float) -> Body:
        least = (start[0] - half * x, start[1] - half * y, low)
        return box(least, (start[0] + way[0] + half * x, start[1] + way[1] + half * y, high))

    return part(4, 19, 31), part(8, 12, 19)


def freeform(faces: int) -> Body:
    """A block whose top is a net of cubic patches that meet in their borders."""
    count = _side(faces)
    heights = random.Random(6)
    rows = [[20 + heights.uniform(-1, 1) for _ in range(3 * count + 1)] for _ in range(3 * count + 1)]
    top = [
        [[(4.0 * u, 4.0 * v, rows[u][v]) for v in range(3 * j, 3 * j + 4)] for u in range(3 * i, 3 * i + 4)]
        for i, j in _grid(count)
    ]
    last = 3 * count
    sewing = BRepBuilderAPI_Sewing(1e-6)
    for net in top:
        sewing.Add(BRepBuilderAPI_MakeFace(_surface(net), 1e-7).Face())
    for wall in ((0, None), (last, None), (None, 0), (None, last)):
        sewing.Add(_wall(rows, wall))
    sewing.Add(_face([(0, 0), (4.0 * last, 0), (4.0 * last, 4.0 * last), (0, 4.0 * last)], lambda u, v: (u, v, 0.0)))
    sewing.Perform()
    return _solid(Body(sewing.SewedShape()))


def _wall(rows: list[list[float]], place: tuple[int | None, int | None]) -> TopoDS_Face:
    """The wall under one border of the net."""
    last = len(rows) - 1
    u, v = place
    border = [(u if u is not None else k, v if v is not None else k) for k in range(last + 1)]
    points = [(4.0 * a, 4.0 * b, rows[a][b]) for a, b in border]
    foot = [(4.0 * a, 4.0 * b, 0.0) for a, b in (border[0], border[-1])]
    maker = BRepBuilderAPI_MakeWire()
    maker.Add(BRepBuilderAPI_MakeEdge(gp_Pnt(*foot[0]), gp_Pnt(*points[0])).Edge())
    for k in range(0, last, 3):
        maker.Add(BRepBuilderAPI_MakeEdge(_curve(points[k : k + 4])).Edge())
    maker.Add(BRepBuilderAPI_MakeEdge(gp_Pnt(*points[-1]), gp_Pnt(*foot[1])).Edge())
    maker.Add(BRepBuilderAPI_MakeEdge(gp_Pnt(*foot[1]), gp_Pnt(*foot[0])).Edge())
    return BRepBuilderAPI_MakeFace(maker.Wire(), True).Face()


def _surface(net: list[list[Vec3]]) -> Geom_BezierSurface:
    poles = TColgp_Array2OfPnt(1, 4, 1, 4)
    for i, row in enumerate(net):
        for j, pole in enumerate(row):
            poles.SetValue(i + 1, j + 1, gp_Pnt(*pole))
    return Geom_BezierSurface(poles)


def _curve(points: Sequence[Vec3]) -> Geom_BezierCurve:
    poles = TColgp_Array1OfPnt(1, len(points))
    for i, pole in enumerate(points):
        poles.SetValue(i + 1, gp_Pnt(*pole))
    return Geom_BezierCurve(poles)


def _solid(skin: Body) -> Body:
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeSolid

    return outward(Body(BRepBuilderAPI_MakeSolid(shells(skin.wrapped)[0]).Solid()))


def prism_within(corners: Sequence[Corner], place: Place, way: Vec3) -> Body:
    """What an outline, put in place, sweeps along a way."""
    return outward(Body(BRepPrimAPI_MakePrism(_face(corners, place), gp_Vec(*way)).Shape()))


def _face(corners: Sequence[Corner], place: Place) -> TopoDS_Face:
    return BRepBuilderAPI_MakeFace(_wire(corners, place), True).Face()


def _wire(corners: Sequence[Corner], place: Place) -> TopoDS_Wire:
    """A closed outline put together by its corners: the kernel's own maker looks for each edge's ends among all."""
    spots = [gp_Pnt(*place(c[0], c[1])) for c in corners]
    ends = [BRepBuilderAPI_MakeVertex(p).Vertex() for p in spots]
    builder, wire = BRep_Builder(), TopoDS_Wire()
    builder.MakeWire(wire)
    for k, corner in enumerate(corners):
        builder.Add(wire, _edge(corner, spots[k - 1], spots[k], (ends[k - 1], ends[k]), place))
    wire.Closed(True)
    return wire


def _edge(corner: Corner, a: gp_Pnt, b: gp_Pnt, ends: tuple[TopoDS_Vertex, TopoDS_Vertex], place: Place) -> TopoDS_Edge:
    if len(corner) == 2:
        return BRepBuilderAPI_MakeEdge(*ends).Edge()
    through = gp_Pnt(*place(corner[2], corner[3]))
    return BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(a, through, b).Value(), *ends).Edge()


def _polar(radius: float, angle: float) -> tuple[float, float]:
    return radius * math.cos(angle), radius * math.sin(angle)


def _side(cells: float) -> int:
    return max(2, round(math.sqrt(cells)))


def _grid(count: int) -> Iterator[tuple[int, int]]:
    return ((i, j) for i in range(count) for j in range(count))


GROWTH: dict[str, Callable[[int], Body]] = {
    "crossing_slots": crossing_slots,
    "knurl": knurl,
    "holes": holes,
    "ribs": ribs,
    "pockets": pockets,
    "mixed": mixed,
    "bosses": bosses,
    "heat_sink": heat_sink,
    "turned": turned,
    "t_slots": t_slots,
    "freeform": freeform,
}
