"""Solids as values: the body, its faces and edges in a fixed order, frames, moves that bake the geometry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy, BRepBuilderAPI_Transform
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Compound, TopoDS_Edge, TopoDS_Face, TopoDS_Shape, TopoDS_Shell, TopoDS_Vertex
from OCP.TopTools import TopTools_IndexedMapOfShape, TopTools_ListOfShape

from schemas.base import Frame, Vec3
from worker.kernel.errors import KernelError

WORLD = Frame()
KEPT = 1024
"""Bodies of which it is kept what their faces are: a setup of many steps goes through what each of them takes, again
and again."""


@dataclass(frozen=True, eq=False, slots=True)
class Body:
    """Zero, one or several solids in the part's frame (mm); the geometry is baked, no location is carried.

    Face indices everywhere in the product are positions in :func:`faces`. ``measured`` is what
    :mod:`worker.kernel.measure` has found out about it: plain values, by what was asked. ``listed`` has the faces once
    they were asked for.
    """

    wrapped: TopoDS_Shape
    measured: dict[object, object] = field(default_factory=dict, init=False, repr=False)
    listed: list[tuple[TopoDS_Face, ...]] = field(default_factory=list, init=False, repr=False)


def shape_map(shape: TopoDS_Shape, kind: TopAbs_ShapeEnum) -> TopTools_IndexedMapOfShape:
    """The distinct sub-shapes of one kind in kernel order (the map counts from 1)."""
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, kind, found)
    return found


def sub_shapes(shape: TopoDS_Shape, kind: TopAbs_ShapeEnum) -> tuple[TopoDS_Shape, ...]:
    """The distinct sub-shapes of one kind in kernel order."""
    found = shape_map(shape, kind)
    return tuple(found.FindKey(i) for i in range(1, found.Extent() + 1))


def faces(body: Body) -> tuple[TopoDS_Face, ...]:
    """The faces in kernel order; the position is the face index used everywhere."""
    if not body.listed:
        body.listed.append(tuple(TopoDS.Face_s(s) for s in sub_shapes(body.wrapped, TopAbs_ShapeEnum.TopAbs_FACE)))
    return body.listed[0]


def edges(shape: TopoDS_Shape) -> tuple[TopoDS_Edge, ...]:
    """The distinct edges in kernel order."""
    return tuple(TopoDS.Edge_s(s) for s in sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_EDGE))


def border_edges(face: TopoDS_Shape) -> Iterator[tuple[TopoDS_Edge, bool]]:
    """Each edge of a face's border as often as the border runs along it, and whether it runs backwards there.

    What booleans leave lying within a face, with its metal on both sides, is none of the border.
    """
    found = TopExp_Explorer(face, TopAbs_ShapeEnum.TopAbs_EDGE)
    while found.More():
        edge = found.Current()
        if edge.Orientation() in (TopAbs_Orientation.TopAbs_FORWARD, TopAbs_Orientation.TopAbs_REVERSED):
            yield TopoDS.Edge_s(edge), edge.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
        found.Next()


def vertices(shape: TopoDS_Shape) -> tuple[TopoDS_Vertex, ...]:
    """The distinct vertices in kernel order."""
    return tuple(TopoDS.Vertex_s(s) for s in sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_VERTEX))


def shells(shape: TopoDS_Shape) -> tuple[TopoDS_Shell, ...]:
    """The distinct shells in kernel order."""
    return tuple(TopoDS.Shell_s(s) for s in sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_SHELL))


def solids(body: Body) -> tuple[Body, ...]:
    """Each solid as a body of its own, in kernel order; a body that is one solid is itself, with all that is known of
    it."""
    if not body.wrapped.IsNull() and body.wrapped.ShapeType() == TopAbs_ShapeEnum.TopAbs_SOLID:
        return (body,)
    return tuple(Body(s) for s in sub_shapes(body.wrapped, TopAbs_ShapeEnum.TopAbs_SOLID))


def is_empty(body: Body) -> bool:
    """True when the body holds no solid."""
    if not body.wrapped.IsNull() and body.wrapped.ShapeType() == TopAbs_ShapeEnum.TopAbs_SOLID:
        return False
    return not shape_map(body.wrapped, TopAbs_ShapeEnum.TopAbs_SOLID).Extent()


def compound_of(shapes: Iterable[TopoDS_Shape]) -> TopoDS_Compound:
    """A kernel compound of the shapes, in the given order."""
    result = TopoDS_Compound()
    builder = BRep_Builder()
    builder.MakeCompound(result)
    for shape in shapes:
        builder.Add(result, shape)
    return result


def compound(bodies: Iterable[Body]) -> Body:
    """All solids of the bodies as one body; one solid stays itself."""
    found = [solid for body in bodies for solid in solids(body)]
    return found[0] if len(found) == 1 else Body(compound_of(solid.wrapped for solid in found))


EMPTY = Body(compound_of(()))
"""The body without metal."""


def list_of(shapes: Iterable[TopoDS_Shape]) -> TopTools_ListOfShape:
    """A kernel list of the shapes."""
    result = TopTools_ListOfShape()
    for shape in shapes:
        result.Append(shape)
    return result


def pop_all(shapes: TopTools_ListOfShape) -> tuple[TopoDS_Shape, ...]:
    """The members of a kernel list (from a copy: Python iteration over kernel lists is 100 times slower)."""
    rest = TopTools_ListOfShape(shapes)
    found = []
    while rest.Size() > 0:
        found.append(rest.First())
        rest.RemoveFirst()
    return tuple(found)


def to_pnt(point: Vec3) -> gp_Pnt:
    """A kernel point."""
    return gp_Pnt(*point)


def to_dir(direction: Vec3) -> gp_Dir:
    """A kernel direction; raises for a null vector."""
    return gp_Dir(*direction)


def to_vec(vector: Vec3) -> gp_Vec:
    """A kernel vector."""
    return gp_Vec(*vector)


def of_xyz(value: gp_Pnt | gp_Dir | gp_Vec) -> Vec3:
    """A kernel point, direction or vector as plain numbers."""
    x, y, z = value.Coord()
    return (x, y, z)


def to_ax3(frame: Frame) -> gp_Ax3:
    """The frame as a right-handed kernel axis system."""
    return gp_Ax3(to_pnt(frame.location), to_dir(frame.z), to_dir(frame.x))


def transformed(body: Body, transformation: gp_Trsf) -> Body:
    """The body under a rigid motion or a scaling, with the geometry itself changed (no location is left)."""
    if is_empty(body):
        return EMPTY
    builder = BRepBuilderAPI_Transform(body.wrapped, transformation, True)
    if not builder.IsDone():
        raise KernelError("transform", "the kernel could not transform the body")
    return Body(builder.Shape())


def move_body(body: Body, from_frame: Frame, to_frame: Frame) -> Body:
    """The body carried along with a frame: what sat at ``from_frame`` sits at ``to_frame``; geometry baked."""
    motion = gp_Trsf()
    motion.SetDisplacement(to_ax3(from_frame), to_ax3(to_frame))
    return transformed(body, motion)


def translate_body(body: Body, vector: Vec3) -> Body:
    """The body shifted by a vector; geometry baked."""
    motion = gp_Trsf()
    motion.SetTranslation(to_vec(vector))
    return transformed(body, motion)


def copied(body: Body) -> Body:
    """A copy that shares nothing with the body: sheds what divided faces leave on edges; same order of faces."""
    return Body(BRepBuilderAPI_Copy(body.wrapped).Shape())


def face_index(body: Body) -> TopTools_IndexedMapOfShape:
    """Lookup of face numbers: ``FindIndex(face) - 1`` is the index of :func:`faces`, -1 when absent."""
    return shape_map(body.wrapped, TopAbs_ShapeEnum.TopAbs_FACE)


def pick(body: Body, indices: Sequence[int]) -> tuple[TopoDS_Face, ...]:
    """The faces with the given indices."""
    known = faces(body)
    return tuple(known[i] for i in indices)
