"""The kernel's own validity check, with plane faces of very many borders checked a few borders at a time.

The kernel compares every border of a face with every other: 800 holes in one plate cost it seconds. Borders whose boxes
lie apart can neither cross nor hold one another, so it is enough to ask of each small group of neighbours together with
the outermost border. What is not accepted that way is put to the kernel whole: its word stands.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Builder
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer, BRepCheck_Result, BRepCheck_Shell, BRepCheck_Solid, BRepCheck_Status
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Iterator, TopoDS_Shape

from worker.kernel import linked
from worker.kernel.shape import Body, compound_of, faces, shape_map, shells, sub_shapes

MANY, GROUP = 40, 20
"""A plane face with more borders than the first is checked in groups of about as many as the second."""
APART = 0.1
"""Boxes this far apart (mm) are apart for sure: a hundred times the tolerance of any sound edge."""


def kernel_accepts(shape: TopoDS_Shape) -> bool:
    """The kernel's own validity check (topology and geometry of every sub-shape)."""
    large = [face for face in faces(Body(shape)) if _has_many(face)]
    return bool(large and _accepted_in_parts(shape, large)) or bool(BRepCheck_Analyzer(shape, True).IsValid())


def _has_many(face: TopoDS_Face) -> bool:
    few = face.NbChildren() <= MANY
    return not few and BRepAdaptor_Surface(face, False).GetType() == GeomAbs_SurfaceType.GeomAbs_Plane


def _accepted_in_parts(shape: TopoDS_Shape, large: Iterable[TopoDS_Face]) -> bool:
    every = faces(Body(shape))
    if _edge_count(compound_of(every)) != _edge_count(shape):
        return False
    parts = [face for face in every if not any(face.IsSame(one) for one in large)]
    parts += [part for face in large for part in _parts(face)]
    return _skins_accepted(shape) and bool(BRepCheck_Analyzer(compound_of(parts), True).IsValid())


def _edge_count(shape: TopoDS_Shape) -> int:
    return int(shape_map(shape, TopAbs_ShapeEnum.TopAbs_EDGE).Extent())


def _skins_accepted(shape: TopoDS_Shape) -> bool:
    """Whether the kernel accepts shells and solids, apart from their faces."""
    for solid in sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_SOLID):
        if not _clean(BRepCheck_Solid(TopoDS.Solid_s(solid)), solid):
            return False
        for shell in shells(solid):
            found = BRepCheck_Shell(shell)
            found.InContext(solid)
            if not (_clean(found, shell) and _clean(found, solid)):
                return False
    return all(_clean(BRepCheck_Shell(shell), shell) for shell in shells(shape))


def _clean(found: BRepCheck_Result, context: TopoDS_Shape) -> bool:
    return bool(found.StatusOnShape(context).First() == BRepCheck_Status.BRepCheck_NoError)


def _parts(face: TopoDS_Face) -> list[TopoDS_Face]:
    """Faces on the same plane, each with the outermost border and some neighbouring ones of the others."""
    ahead = face.Oriented(TopAbs_Orientation.TopAbs_FORWARD)
    borders, steps = [], TopoDS_Iterator(ahead)
    while steps.More():
        borders.append(steps.Value())
        steps.Next()
    boxes = np.array([_box(border) for border in borders])
    outer = int(np.linalg.norm(boxes[:, 3:] - boxes[:, :3], axis=1).argmax())
    inner = np.array([i for i in range(len(borders)) if i != outer])
    groups = _groups(boxes[inner])
    return [_face_of(face, [borders[outer], *(borders[inner[i]] for i in group)]) for group in groups]


def _box(border: TopoDS_Shape) -> tuple[float, ...]:
    box = Bnd_Box()
    BRepBndLib.Add_s(border, box, False)
    return (*box.CornerMin().Coord(), *box.CornerMax().Coord())


def _groups(boxes: NDArray[np.float64]) -> list[list[int]]:
    """Numbers of boxes (n, 6), those that lie apart in groups of GROUP or a few more, the others together."""
    low, high = boxes[:, None, :3] - APART, boxes[:, None, 3:] + APART
    near = np.asarray(((low <= boxes[None, :, 3:]) & (high >= boxes[None, :, :3])).all(axis=2))
    found: list[list[int]] = [[]]
    for group in linked.groups(len(boxes), zip(*(n.tolist() for n in np.nonzero(np.triu(near, 1))), strict=True)):
        if len(found[-1]) >= GROUP:
            found.append([])
        found[-1] += group
    return found


def _face_of(face: TopoDS_Face, borders: Iterable[TopoDS_Shape]) -> TopoDS_Face:
    made, builder = face.EmptyCopied().Oriented(TopAbs_Orientation.TopAbs_FORWARD), BRep_Builder()
    for border in borders:
        builder.Add(made, border)
    return TopoDS.Face_s(made.Oriented(face.Orientation()))
