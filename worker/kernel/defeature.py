"""Faces taken off a solid, its other faces grown together over the gap: a thread back to its plain bore or shank."""

from __future__ import annotations

from collections.abc import Iterable

from OCP.BRepAlgoAPI import BRepAlgoAPI_Defeaturing

from schemas.base import Vec3
from worker.kernel import boolean
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.measure import volume
from worker.kernel.merge import merged
from worker.kernel.primitives import cylinder
from worker.kernel.shape import Body, faces, solids
from worker.kernel.validity import faults

RIND = 0.05
"""Share of a radius by which the ring is thick that a wound skin is made anew with."""
SAME = 1e-6
"""Relative difference of volume at which the ring has filled or opened something."""


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


def with_whole_skin(body: Body, start: Vec3, end: Vec3, radius: float, hollow: bool) -> Body:
    """The solid with the round skin between two points on its axis made anew, of a bore (``hollow``) or a shank: strips
    that wind about it along seams no merge knows again become one face. Unchanged where something else crosses it.
    """
    inner, outer = 2.0 * radius * (1.0 - RIND), 2.0 * radius * (1.0 + RIND)
    try:
        core, skin, rind = (cylinder(start, end, d) for d in (inner, 2.0 * radius, outer))
        bare = boolean.cut(body, [boolean.cut(rind, [core])])
        whole = boolean.fuse([bare, boolean.cut(rind, [skin]) if hollow else boolean.cut(skin, [core])])
    except KernelError:
        return body
    same = len(solids(whole)) == 1 and abs(volume(whole) - volume(body)) <= SAME * volume(body)
    return whole if same and len(faces(whole)) < len(faces(body)) and not faults(whole) else body
