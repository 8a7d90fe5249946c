"""Where a result's faces come from: (argument number, face index in it), through the boolean and the merge."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from OCP.BRepTools import BRepTools_History
from OCP.TopoDS import TopoDS_Shape
from OCP.TopTools import TopTools_ListOfShape

from worker.kernel.shape import Body, face_index, faces, pop_all

Origin = tuple[int, int]
"""(argument number: 0 = the stock, n = the n-th tool from 1; index of the face in that argument)."""


class Remembers(Protocol):
    """What a kernel operation tells about its inputs."""

    def Modified(self, S: TopoDS_Shape) -> TopTools_ListOfShape:  # noqa: N802
        """What became of a sub-shape; empty when it is unchanged or gone."""

    def IsDeleted(self, S: TopoDS_Shape) -> bool:  # noqa: N802
        """True when nothing is left of a sub-shape."""


def origins(operation: Remembers, arguments: Sequence[Body], result: Body) -> tuple[tuple[Origin, ...], ...]:
    """For each face of the unmerged result all arguments' faces that it is a piece of, lowest numbers first."""
    index = face_index(result)
    found: list[list[Origin]] = [[] for _ in range(index.Extent())]
    for number, argument in enumerate(arguments):
        for position, face in enumerate(faces(argument)):
            for image in _images(operation, face):
                at = index.FindIndex(image) - 1
                if at >= 0:
                    found[at].append((number, position))
    return tuple(map(tuple, found))


def _images(operation: Remembers, face: TopoDS_Shape) -> tuple[TopoDS_Shape, ...]:
    pieces = pop_all(operation.Modified(face))
    if pieces:
        return pieces
    return () if operation.IsDeleted(face) else (face,)


def through_merge(
    origin: Sequence[tuple[Origin, ...]], before: Body, history: BRepTools_History | None, after: Body
) -> tuple[Origin | None, ...]:
    """The first origin of each of the merged body's faces; of several joined pieces the lowest."""
    if history is None:
        return tuple(sources[0] if sources else None for sources in origin)
    index = face_index(after)
    found: list[Origin | None] = [None] * index.Extent()
    for sources, face in zip(origin, faces(before), strict=True):
        for image in pop_all(history.Modified(face)) or (face,):
            at = index.FindIndex(image) - 1
            if at >= 0 and sources:
                found[at] = min(sources[0], found[at] or sources[0])
    return tuple(found)
