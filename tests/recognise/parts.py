"""Small parts with known features, built from simple solids; lengths in mm."""

from __future__ import annotations

from collections.abc import Callable

from OCP.BRep import BRep_Tool
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer, BRepFilletAPI_MakeFillet
from OCP.TopoDS import TopoDS_Edge

from schemas.base import Vec3
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body, edges, of_xyz, vertices

Choice = Callable[[Vec3, Vec3], bool]


def ends(edge: TopoDS_Edge) -> tuple[Vec3, Vec3]:
    found = [of_xyz(BRep_Tool.Pnt_s(v)) for v in vertices(edge)]
    return found[0], found[-1]


def rounded(body: Body, radius: float, choose: Choice) -> Body:
    builder = BRepFilletAPI_MakeFillet(body.wrapped)
    for edge in edges(body.wrapped):
        if choose(*ends(edge)):
            builder.Add(radius, edge)
    return Body(builder.Shape())


def chamfered(body: Body, leg: float, choose: Choice) -> Body:
    builder = BRepFilletAPI_MakeChamfer(body.wrapped)
    for edge in edges(body.wrapped):
        if choose(*ends(edge)):
            builder.Add(leg, edge)
    return Body(builder.Shape())


def upright(a: Vec3, b: Vec3) -> bool:
    return abs(a[0] - b[0]) + abs(a[1] - b[1]) < 1e-6 and abs(a[2] - b[2]) > 1e-6


def at_height(z: float) -> Choice:
    return lambda a, b: abs(a[2] - z) + abs(b[2] - z) < 1e-6


def block(x: float = 100.0, y: float = 60.0, z: float = 20.0) -> Body:
    return box((0, 0, 0), (x, y, z))


def drill(x: float, y: float, z0: float, z1: float, diameter: float) -> Body:
    return cylinder((x, y, z0), (x, y, z1), diameter)


def point(x: float, y: float, z: float, diameter: float, height: float) -> Body:
    """A drill point of the given height under ``z``."""
    return cone((x, y, z), (x, y, z - height), diameter, 0.0)


def obround(x0: float, x1: float, y: float, z0: float, z1: float, width: float) -> Body:
    """A slot from centre to centre along X."""
    middle = box((x0, y - width / 2, z0), (x1, y + width / 2, z1))
    return fuse([middle, drill(x0, y, z0, z1, width), drill(x1, y, z0, z1, width)])


def pocket(low: Vec3, high: Vec3, corner: float = 0.0, floor: float = 0.0) -> Body:
    """A pocket's volume with rounded upright corners and a floor fillet."""
    body = box(low, high)
    if corner:
        body = rounded(body, corner, upright)
    if floor:
        body = rounded(body, floor, at_height(low[2]))
    return body


def t_slot() -> Body:
    """Along X through a block of 100 x 60 x 40: neck 12 wide, foot 22 wide and 9 high."""
    return cut(block(z=40), [box((-1, 24, 20), (101, 36, 41)), box((-1, 19, 11), (101, 41, 20))])


def prism(points: list[tuple[float, float]], x0: float, x1: float) -> Body:
    """A polygon in (y, z) drawn out along X."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakePolygon
    from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
    from OCP.gp import gp_Pnt, gp_Vec

    polygon = BRepBuilderAPI_MakePolygon()
    for y, z in points:
        polygon.Add(gp_Pnt(x0, y, z))
    polygon.Close()
    face = BRepBuilderAPI_MakeFace(polygon.Wire()).Face()
    return Body(BRepPrimAPI_MakePrism(face, gp_Vec(x1 - x0, 0, 0)).Shape())


def ring(middle: Vec3, radius: float, tube: float) -> Body:
    """A full ring round the upright line through its middle."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeTorus
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt

    return Body(BRepPrimAPI_MakeTorus(gp_Ax2(gp_Pnt(*middle), gp_Dir(0, 0, 1)), radius, tube).Shape())
