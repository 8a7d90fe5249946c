"""Joining neighbouring faces and edges of one surface or curve, without the harm the kernel's own tool can do.

The kernel (OCCT 7.9) merges two pieces of a full cylinder even when their seams stand at different angles. The
result passes its validity check, or not, but its face winds more than once round the parameter range, and later
booleans with it lose metal in silence. So edges between such pieces are kept, and every result is checked.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepTools import BRepTools_History
from OCP.ShapeUpgrade import ShapeUpgrade_ShapeDivideAngle, ShapeUpgrade_UnifySameDomain
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS, TopoDS_Edge, TopoDS_Face
from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape

from schemas.tolerances import BALANCE, MERGE_VOLUME
from worker.kernel.accepted import kernel_accepts
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.measure import cone_volume, reference_point, volume
from worker.kernel.shape import Body, compound, copied, face_index, faces, is_empty, solids
from worker.kernel.validity import faults, shell_faults

_WOUND = 1e-6
"""Radians beyond a full turn at which a face counts as winding more than once."""
_Neighbours = tuple[tuple[TopoDS_Edge, TopoDS_Face, TopoDS_Face], ...]


@dataclass(frozen=True, slots=True)
class Merged:
    """A body with joined faces, and what became of those of ``before`` (None when nothing was joined).

    ``before`` has the faces of the given body, in their order.
    """

    body: Body
    before: Body
    history: BRepTools_History | None


def merged(body: Body) -> Body:
    """The body with same-domain faces and edges joined; the body itself where joining would harm it."""
    return merge(body).body


def merge(body: Body) -> Merged:
    """Like :func:`merged`, with the history that leads from old faces to new ones."""
    if is_empty(body):
        return Merged(body, body, None)
    for keep in (_offset_seams, _between_curved):
        try:
            result = _unified(copied(body), keep)
        except KernelError:
            continue
        if _harmless(result.before, result.body) and not _spoiled(result.body, body):
            return result
    return Merged(body, body, None)


def _unified(body: Body, keep: Callable[[_Neighbours], list[TopoDS_Edge]]) -> Merged:
    """Joins what may be joined. It spoils the body itself, whatever the kernel promises: give it a copy.

    An edge on which two cylinders of one axis meet is left a whole turn off in the parameter plane of one of them.
    """
    unify = ShapeUpgrade_UnifySameDomain(body.wrapped, True, True, False)
    for edge in keep(_neighbours(body)):
        unify.KeepShape(edge)
    with kernel_step("merge"):
        unify.Build()
    return Merged(compound([Body(unify.Shape())]), body, unify.History())


def _harmless(before: Body, after: Body) -> bool:
    """Judged on the changed faces alone: valid, wound once at most, enclosing the same volume."""
    old, new = _only_in(before, after), _only_in(after, before)
    if any(_turns(face) > math.tau + _WOUND or not kernel_accepts(face) for face in new):
        return False
    if any(shell_faults(solid) for solid in solids(after)):
        return False
    at = reference_point(before.wrapped)
    removed, added = (sum(cone_volume(face, at) for face in group) for group in (old, new))
    return abs(added - removed) <= MERGE_VOLUME * max(abs(removed), 1.0)


def _spoiled(after: Body, body: Body) -> bool:
    """Whether faces that the tool keeps are not what they were: it changes them in the copy too, so that only the body
    itself tells. An edge joined over the seam of a bore that slots cross leaves a face that encloses less."""
    return _winds_more(after, body) or abs(volume(after) - volume(body)) > BALANCE * abs(volume(body))


def _winds_more(after: Body, body: Body) -> bool:
    """Whether more faces wind more than once, where an edge on them is joined over their seam, a bore's that nicks a
    hub above it."""
    wound = wound_faces(after)
    return bool(wound) and len(wound) > len(wound_faces(body))


def _only_in(body: Body, other: Body) -> list[TopoDS_Face]:
    known = face_index(other)
    return [face for face in faces(body) if not known.Contains(face)]


def wound_faces(body: Body) -> tuple[int, ...]:
    """Indices of faces that wind more than once round their surface's period."""
    return tuple(i for i, face in enumerate(faces(body)) if _turns(face) > math.tau + _WOUND)


def _turns(face: TopoDS_Face) -> float:
    """Angle range of a face on a closed surface, 0 on an open one."""
    surface = BRepAdaptor_Surface(face, False)
    if not surface.IsUPeriodic():
        return 0.0
    surface.Initialize(face, True)
    return float(surface.LastUParameter() - surface.FirstUParameter())


def _neighbours(body: Body) -> _Neighbours:
    """Each edge between two different faces, with these, in kernel order."""
    owners = TopTools_IndexedDataMapOfShapeListOfShape()
    kinds = TopAbs_ShapeEnum
    TopExp.MapShapesAndUniqueAncestors_s(body.wrapped, kinds.TopAbs_EDGE, kinds.TopAbs_FACE, owners)
    found = []
    for i in range(1, owners.Extent() + 1):
        beside = owners.FindFromIndex(i)
        if beside.Size() == 2:
            pair = TopoDS.Face_s(beside.First()), TopoDS.Face_s(beside.Last())
            found.append((TopoDS.Edge_s(owners.FindKey(i)), *pair))
    return tuple(found)


def face_pairs(body: Body) -> tuple[tuple[TopoDS_Face, TopoDS_Face], ...]:
    """The two faces at each edge between two different faces, in kernel order."""
    return tuple((first, second) for _, first, second in _neighbours(body))


def _offset_seams(neighbours: _Neighbours) -> list[TopoDS_Edge]:
    """Edges where two full turns meet with their seams apart: the common circle is in two pieces there."""
    return [
        edge
        for edge, first, second in neighbours
        if _turns(first) > math.pi and _turns(second) > math.pi and not _is_ring(edge)
    ]


def _is_ring(edge: TopoDS_Edge) -> bool:
    return bool(TopExp.FirstVertex_s(edge).IsSame(TopExp.LastVertex_s(edge)))


def _between_curved(neighbours: _Neighbours) -> list[TopoDS_Edge]:
    return [edge for edge, first, second in neighbours if _turns(first) > 0.0 and _turns(second) > 0.0]


@dataclass(frozen=True, slots=True)
class Unwound:
    """A body whose faces wind once at most, and for each of its faces the index of the face it is a piece of."""

    body: Body
    piece_of: tuple[int, ...]


def unwound(body: Body) -> Body:
    """The body with its faces of revolution cut into halves if any winds more than once; else the body itself."""
    return unwound_traced(body).body


def unwound_traced(body: Body) -> Unwound:
    """Like :func:`unwound`, with the way back to the body's own faces."""
    if not wound_faces(body):
        return Unwound(body, tuple(range(len(faces(body)))))
    divide = ShapeUpgrade_ShapeDivideAngle(math.pi, body.wrapped)
    with kernel_step("unwind"):
        divide.Perform()
    result = Body(divide.Result())
    if wound_faces(result) or faults(result):
        raise KernelError("unwind", "a face winds more than once round its surface and could not be divided")
    context, index = divide.GetContext(), face_index(result)
    source = [0] * index.Extent()
    for position, face in enumerate(faces(body)):
        for piece in faces(Body(context.Apply(face))):
            source[index.FindIndex(piece) - 1] = position
    return Unwound(copied(result), tuple(source))
