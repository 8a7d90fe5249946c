"""The same part written differently: turned by any angle, surfaces as NURBS, faces split at random.

Recognition must not notice. Every function returns the new body and, for each of its faces, the number of the
face of the old body that it is (a part of).
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

from OCP.BRepAlgoAPI import BRepAlgoAPI_Splitter
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeSolid,
    BRepBuilderAPI_NurbsConvert,
    BRepBuilderAPI_Sewing,
    BRepBuilderAPI_Transform,
)
from OCP.BRepClass3d import BRepClass3d_SolidClassifier
from OCP.gp import gp_Ax1, gp_Dir, gp_Pln, gp_Pnt, gp_Trsf, gp_Vec
from OCP.TopAbs import TopAbs_State
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Shape

from worker.kernel.measure import bounding_box
from worker.kernel.shape import Body, face_index, faces, list_of, pop_all, shells

Origin = tuple[int, ...]


def turned(body: Body, seed: int) -> tuple[Body, Origin]:
    """The body under a random rotation and shift."""
    rng = random.Random(seed)
    axis = [rng.gauss(0, 1) for _ in range(3)]
    motion, shift = gp_Trsf(), gp_Trsf()
    motion.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(*axis)), rng.uniform(0.1, 2 * math.pi))
    shift.SetTranslation(gp_Vec(*(rng.uniform(-50, 50) for _ in range(3))))
    builder = BRepBuilderAPI_Transform(body.wrapped, shift.Multiplied(motion), True)
    return _traced(body, builder.Shape(), lambda face: [builder.ModifiedShape(face)])


def as_nurbs(body: Body) -> tuple[Body, Origin]:
    """The body with every surface and curve as a rational B-spline."""
    builder = BRepBuilderAPI_NurbsConvert(body.wrapped, True)
    return _traced(body, builder.Shape(), lambda face: [builder.ModifiedShape(face)])


def split(body: Body, seed: int, cuts: int = 2) -> tuple[Body, Origin]:
    """The body with its faces divided along random planes (the solid stays whole)."""
    rng = random.Random(seed)
    box = bounding_box(body)
    tools = []
    for _ in range(cuts):
        at = [rng.uniform(a + 0.2 * (b - a), b - 0.2 * (b - a)) for a, b in zip(box.min, box.max, strict=True)]
        normal = gp_Dir(*(rng.gauss(0, 1) for _ in range(3)))
        reach = 2 * box.diagonal
        tools.append(BRepBuilderAPI_MakeFace(gp_Pln(gp_Pnt(*at), normal), -reach, reach, -reach, reach).Face())
    return divided(body, tools)


def divided(body: Body, tools: Sequence[TopoDS_Face]) -> tuple[Body, Origin]:
    """The body with its faces divided along some other faces (the solid stays whole)."""
    builder = BRepAlgoAPI_Splitter()
    builder.SetArguments(list_of(faces(body)))
    builder.SetTools(list_of(tools))
    builder.Build()
    sewing = BRepBuilderAPI_Sewing(1e-6)
    pieces: list[tuple[int, TopoDS_Shape]] = []
    for number, face in enumerate(faces(body)):
        parts = pop_all(builder.Modified(face)) or (face,)
        for part in parts:
            part = part.Oriented(face.Orientation())
            pieces.append((number, part))
            sewing.Add(part)
    sewing.Perform()
    found = Body(sewing.SewedShape())
    shell = shells(found.wrapped)
    if len(shell) != 1:
        raise ValueError("splitting did not leave one shell")
    solid = BRepBuilderAPI_MakeSolid(shell[0]).Solid()
    classifier = BRepClass3d_SolidClassifier(solid)
    classifier.PerformInfinitePoint(1e-6)
    if classifier.State() == TopAbs_State.TopAbs_IN:
        solid = TopoDS.Solid_s(solid.Reversed())
    whole = Body(solid)
    index = face_index(whole)
    origin = [-1] * index.Extent()
    for number, part in pieces:
        now = sewing.Modified(part) if sewing.IsModified(part) else part
        origin[index.FindIndex(now) - 1] = number
    return whole, tuple(origin)


def _traced(body: Body, shape: TopoDS_Shape, successors) -> tuple[Body, Origin]:  # type: ignore[no-untyped-def]
    result = Body(shape)
    index = face_index(result)
    origin = [-1] * index.Extent()
    for number, face in enumerate(faces(body)):
        for successor in successors(face):
            origin[index.FindIndex(successor) - 1] = number
    return result, tuple(origin)


def reencoded(body: Body, seed: int) -> tuple[Body, Origin]:
    """All three at once."""
    first, a = turned(body, seed)
    second, b = split(first, seed)
    third, c = as_nurbs(second)
    return third, tuple(a[b[i]] for i in c)
