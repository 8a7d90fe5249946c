"""Faces that the kernel gives no triangles for: of no size they are left out, any other is an error."""

from __future__ import annotations

import numpy as np
import pytest
from OCP.BRep import BRep_Tool
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Face

from worker.kernel import mesh
from worker.kernel.errors import KernelError
from worker.kernel.measure import area
from worker.kernel.primitives import box


class _Blind:
    """The kernel's tool that finds no triangles on faces of less than an area, mm2."""

    def __init__(self, least: float) -> None:
        self.least = least

    def Triangulation_s(self, face: TopoDS_Face, location: TopLoc_Location) -> object:
        return None if area(face) < self.least else BRep_Tool.Triangulation_s(face, location)


def test_a_sliver_without_triangles_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    # A box of 10 x 20 x 4e-5: its four sides have 4e-4 and 8e-4 mm2, the other two 200 mm2 each
    monkeypatch.setattr(mesh, "BRep_Tool", _Blind(1e-3))
    points, corners, owner = mesh.triangulate(box((0, 0, 0), (10, 20, 4e-5)))
    edges = points[corners]
    size = np.linalg.norm(np.cross(edges[:, 1] - edges[:, 0], edges[:, 2] - edges[:, 0]), axis=1).sum() / 2
    assert size == pytest.approx(400, rel=1e-12)
    assert len(set(owner.tolist())) == 2


def test_a_face_of_some_size_without_triangles_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mesh, "BRep_Tool", _Blind(3.0))
    with pytest.raises(KernelError, match="could not be triangulated"):
        mesh.triangulate(box((0, 0, 0), (1, 1, 1)))
