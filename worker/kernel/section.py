"""Sections of a body square to a frame's z, as plane regions: what a disc at one height must keep clear of (mm)."""

from __future__ import annotations

from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS_Shape

from schemas.base import Frame
from worker.kernel import measure
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.outline import curve_of, projected
from worker.kernel.planar import NOWHERE, Region, inside_of, rectangle, union
from worker.kernel.planar_edge import Edge, reverse
from worker.kernel.shape import Body, border_edges, is_empty, sub_shapes
from worker.kernel.sweep import region_faces
from worker.kernel.view import view_of

MARGIN = 1.0
"""The cutting plane reaches this far past the body (mm)."""


class Sections:
    """Sections of one body at heights of one frame; each is cut once."""

    def __init__(self, body: Body, frame: Frame) -> None:
        self.body, self.frame = body, frame
        self._box = None if is_empty(body) else measure.bounding_box(body, frame)
        self._known: dict[float, Region] = {}

    def at(self, z: float) -> Region:
        """The metal at a height, which must not be that of a face square to z: there it is not defined."""
        box = self._box
        if box is None or not box.min[2] < z < box.max[2]:
            return NOWHERE
        if z not in self._known:
            plane = rectangle(box.min[0] - MARGIN, box.min[1] - MARGIN, box.max[0] + MARGIN, box.max[1] + MARGIN)
            self._known[z] = _section(self.body, self.frame, plane, z)
        return self._known[z]


def _section(body: Body, frame: Frame, plane: Region, z: float) -> Region:
    (face,) = region_faces(plane, frame, z)
    with kernel_step("section"):
        operation = BRepAlgoAPI_Common(face, body.wrapped)
    if not operation.IsDone():
        raise KernelError("section", f"the kernel gave no section at height {z:g}")
    found = sub_shapes(operation.Shape(), TopAbs_ShapeEnum.TopAbs_FACE)
    return union(inside_of(_outline(piece, frame)) for piece in found)


def _outline(face: TopoDS_Shape, frame: Frame) -> list[Edge]:
    """The borders of a plane face, in the direction in which they run."""
    view = view_of(frame)
    found: list[Edge] = []
    for edge, backwards in border_edges(face):
        flat = projected(curve_of(edge), view)
        found += [reverse(e) for e in flat[::-1]] if backwards else flat
    return found
