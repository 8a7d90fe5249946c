"""Faces taken off a solid, its other faces grown together over the gap: a thread back to its plain bore or shank."""

from __future__ import annotations

from collections.abc import Iterable

from OCP.BRepAlgoAPI import BRepAlgoAPI_Defeaturing

from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.merge import merged
from worker.kernel.shape import Body, faces, solids
from worker.kernel.validity import faults


def without_faces(body: Body, taken: Iterable[int]) -> Body:
    """The solid without some of its faces (indices in kernel order).

    Raises KernelError where the faces beside them cannot close the gap to one sound solid.
    """
    shapes = faces(body)
    operation = BRepAlgoAPI_Defeaturing()
    operation.SetShape(body.wrapped)
    for face in sorted(taken):
        operation.AddFaceToRemove(shapes[face])
    operation.SetRunParallel(False)
    with kernel_step("defeature"):
        operation.Build()
    found = solids(Body(operation.Shape())) if operation.IsDone() else ()
    plain = merged(found[0]) if len(found) == 1 else None  # faces beside the gap may have grown over it piece by piece
    if plain is None or len(faces(plain)) >= len(shapes) or faults(plain):
        raise KernelError("defeature", "the faces beside those taken off do not close the solid")
    return plain
