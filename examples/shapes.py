"""Hand tools for the example parts and for tests: solids straight from the kernel, with nothing of the product.

All lengths are mm. Shapes are plain kernel solids; every function returns a new one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path

from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer
from OCP.BRepGProp import BRepGProp
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakePrism,
    BRepPrimAPI_MakeRevol,
    BRepPrimAPI_MakeSphere,
    BRepPrimAPI_MakeTorus,
)
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Interface import Interface_Static
from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain
from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer
from OCP.TCollection import TCollection_HAsciiString
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shape
from OCP.TopTools import TopTools_IndexedMapOfShape, TopTools_ListOfShape

Point = tuple[float, float, float]
Shape = TopoDS_Shape


def box(low: Point, high: Point) -> Shape:
    """A box between two corners."""
    return BRepPrimAPI_MakeBox(gp_Pnt(*low), gp_Pnt(*high)).Shape()


def _axis(start: Point, direction: Point) -> gp_Ax2:
    return gp_Ax2(gp_Pnt(*start), gp_Dir(*direction))


def _span(start: Point, end: Point) -> tuple[Point, float]:
    d = (end[0] - start[0], end[1] - start[1], end[2] - start[2])
    return d, math.sqrt(d[0] ** 2 + d[1] ** 2 + d[2] ** 2)


def cylinder(start: Point, end: Point, diameter: float) -> Shape:
    """A cylinder between two points of its axis."""
    direction, length = _span(start, end)
    return BRepPrimAPI_MakeCylinder(_axis(start, direction), diameter / 2, length).Shape()


def cone(start: Point, end: Point, diameter_start: float, diameter_end: float) -> Shape:
    """A cone or a frustum between two points of its axis."""
    direction, length = _span(start, end)
    return BRepPrimAPI_MakeCone(_axis(start, direction), diameter_start / 2, diameter_end / 2, length).Shape()


def ball(centre: Point, radius: float) -> Shape:
    """A ball."""
    return BRepPrimAPI_MakeSphere(gp_Pnt(*centre), radius).Shape()


def torus(centre: Point, radius: float, thickness: float) -> Shape:
    """A ring round Z; ``thickness`` is the radius of its section."""
    return BRepPrimAPI_MakeTorus(_axis(centre, (0, 0, 1)), radius, thickness).Shape()


def drill(top: Point, end: Point, diameter: float, angle: float = 118.0) -> Shape:
    """What a drill takes: its full diameter from ``top`` to ``end``, and its point beyond."""
    direction, length = _span(top, end)
    point = diameter / 2 / math.tan(math.radians(angle / 2))
    tip = (
        end[0] + direction[0] / length * point,
        end[1] + direction[1] / length * point,
        end[2] + direction[2] / length * point,
    )
    return fuse(cylinder(top, end, diameter), cone(end, tip, diameter, 0.0))


def rounded_face(low: Point, high: Point, radius: float) -> TopoDS_Face:
    """A rectangle with rounded corners at the height of ``low``."""
    x0, y0, z = low
    x1, y1, _ = high
    r, c = radius, radius * (1 - math.sqrt(0.5))
    points = [
        ((x0 + r, y0), (x1 - r, y0), (x1 - c, y0 + c), (x1, y0 + r)),
        ((x1, y0 + r), (x1, y1 - r), (x1 - c, y1 - c), (x1 - r, y1)),
        ((x1 - r, y1), (x0 + r, y1), (x0 + c, y1 - c), (x0, y1 - r)),
        ((x0, y1 - r), (x0, y0 + r), (x0 + c, y0 + c), (x0 + r, y0)),
    ]
    wire = BRepBuilderAPI_MakeWire()
    for a, b, m, e in points:
        start, mid, on_arc, end = (gp_Pnt(p[0], p[1], z) for p in (a, b, m, e))
        if start.Distance(mid) > 1e-9:
            wire.Add(BRepBuilderAPI_MakeEdge(start, mid).Edge())
        wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(mid, on_arc, end).Value()).Edge())
    return BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()


def prism(face: TopoDS_Face, vector: Point) -> Shape:
    """The face swept along a vector."""
    return BRepPrimAPI_MakePrism(face, gp_Vec(*vector)).Shape()


def rounded_block(low: Point, high: Point, radius: float) -> Shape:
    """A block whose four edges along Z are rounded."""
    return prism(rounded_face(low, high, radius), (0.0, 0.0, high[2] - low[2]))


def polygon(points: Sequence[Point]) -> TopoDS_Face:
    """A planar face with straight edges."""
    wire = BRepBuilderAPI_MakeWire()
    for a, b in zip(points, [*points[1:], points[0]], strict=True):
        wire.Add(BRepBuilderAPI_MakeEdge(gp_Pnt(*a), gp_Pnt(*b)).Edge())
    return BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()


def revolved(face: TopoDS_Face, origin: Point = (0, 0, 0), axis: Point = (0, 0, 1)) -> Shape:
    """The face turned once round an axis."""
    return BRepPrimAPI_MakeRevol(face, gp_Ax1(gp_Pnt(*origin), gp_Dir(*axis))).Shape()


def chamfer_ring(shape: Shape, z: float, size: float) -> Shape:
    """Chamfers every outer edge that lies at the height ``z``."""
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_ShapeEnum.TopAbs_EDGE, found)
    maker = BRepFilletAPI_MakeChamfer(shape)
    for i in range(1, found.Extent() + 1):
        edge = TopoDS.Edge_s(found.FindKey(i))
        low, high = bounds(edge)
        if abs(low[2] - z) < 1e-6 and abs(high[2] - z) < 1e-6:
            maker.Add(size, edge)
    return maker.Shape()


def _list(shapes: Iterable[Shape]) -> TopTools_ListOfShape:
    result = TopTools_ListOfShape()
    for shape in shapes:
        result.Append(shape)
    return result


def _boolean(maker: BRepAlgoAPI_Cut | BRepAlgoAPI_Fuse | BRepAlgoAPI_Common, a: Shape, b: Iterable[Shape]) -> Shape:
    maker.SetArguments(_list([a]))
    maker.SetTools(_list(b))
    maker.Build()
    if not maker.IsDone():
        raise RuntimeError("the kernel could not do the boolean")
    return merged(maker.Shape())


def merged(shape: Shape) -> Shape:
    """Neighbouring faces of one surface joined."""
    unify = ShapeUpgrade_UnifySameDomain(shape, True, True, False)
    unify.Build()
    return unify.Shape()


def cut(stock: Shape, *tools: Shape) -> Shape:
    """The stock without the tools."""
    return _boolean(BRepAlgoAPI_Cut(), stock, tools)


def fuse(first: Shape, *others: Shape) -> Shape:
    """All of them joined."""
    return _boolean(BRepAlgoAPI_Fuse(), first, others)


def common(a: Shape, *others: Shape) -> Shape:
    """What lies in the first and in any of the others."""
    return _boolean(BRepAlgoAPI_Common(), a, others)


def volume(shape: Shape) -> float:
    """Volume in mm3, integrated adaptively (the plain integral is 1e-5 off where unequal cylinders cross)."""
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props, 1e-6, False, False)
    return float(props.Mass())


def bounds(shape: Shape) -> tuple[Point, Point]:
    """Corners of the bounding box without a gap."""
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    found = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, found, False, False)
    low, high = found.CornerMin(), found.CornerMax()
    return (low.X(), low.Y(), low.Z()), (high.X(), high.Y(), high.Z())


def solids(shape: Shape) -> list[Shape]:
    """Each solid of the shape."""
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_ShapeEnum.TopAbs_SOLID, found)
    return [found.FindKey(i) for i in range(1, found.Extent() + 1)]


def write_step(shape: Shape, path: Path, unit: str = "MM", name: str = "part") -> None:
    """Writes one solid with a fixed time stamp, so that the same shape gives the same bytes."""
    only = solids(shape)
    if len(only) != 1:
        raise ValueError(f"{name} has {len(only)} solids")
    Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
    Interface_Static.SetCVal_s("write.step.unit", unit)
    Interface_Static.SetCVal_s("write.step.product.name", name)
    writer = STEPControl_Writer()
    if writer.Transfer(only[0], STEPControl_StepModelType.STEPControl_AsIs) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise RuntimeError("the kernel could not turn the solid into STEP")
    header = APIHeaderSection_MakeHeader(writer.Model())
    header.SetName(TCollection_HAsciiString(name))
    header.SetTimeStamp(TCollection_HAsciiString("2026-01-01T00:00:00"))
    if writer.Write(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise RuntimeError(f"cannot write {path}")
