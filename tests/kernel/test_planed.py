"""Flat faces that a file writes as splines are read as planes: sizes by closed forms, near-misses kept as they are."""

from __future__ import annotations

import math
from itertools import product

import pytest
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.Geom import Geom_BezierSurface
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Pnt
from OCP.TColgp import TColgp_Array2OfPnt
from OCP.TopoDS import TopoDS_Face

from bench.reencode import as_nurbs
from worker.kernel.boolean import cut
from worker.kernel.graph import face_graph
from worker.kernel.measure import area, volume
from worker.kernel.planed import planed
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body, compound_of, faces
from worker.kernel.stepio import read_part, write_step
from worker.kernel.validity import faults

PLANE = GeomAbs_SurfaceType.GeomAbs_Plane
BORED = math.pi * 6**2
"""Area (mm2) of the mouth of a bore of 12 mm."""


def _bored() -> Body:
    """A block of 40 x 30 x 20 with a bore of 12 mm through it, all of splines."""
    return as_nurbs(cut(box((0, 0, 0), (40, 30, 20)), [cylinder((20, 15, -1), (20, 15, 21), 12)]))[0]


def _kind(face: TopoDS_Face) -> GeomAbs_SurfaceType:
    return BRepAdaptor_Surface(face, False).GetType()


def test_flat_splines_are_read_as_planes_of_the_same_size() -> None:
    """Sides of 40 x 20 and 30 x 20, ends of 40 x 30 less the bore, whose wall stays what it is."""
    before, body = _bored(), read_part(write_step(_bored())).body
    flat = [face for face in faces(body) if _kind(face) == PLANE]
    assert not any(_kind(face) == PLANE for face in faces(before))
    assert (len(flat), len(faces(body)), faults(body)) == (6, 7, ())
    wanted = sorted([800, 800, 600, 600, 1200 - BORED, 1200 - BORED])
    assert sorted(map(area, flat)) == pytest.approx(wanted, rel=1e-9)
    assert volume(body) == pytest.approx((1200 - BORED) * 20, rel=1e-8)


def test_planes_look_out_of_the_metal_in_the_order_of_the_file() -> None:
    before, after = (face_graph(body) for body in (_bored(), planed(_bored())))
    assert [f.surface.kind for f in before.faces] == [f.surface.kind for f in after.faces]
    for old, new in zip(before.faces, after.faces, strict=True):
        assert new.surface.axis == pytest.approx(old.surface.axis, abs=1e-9)


def test_a_body_without_flat_splines_is_the_same_body() -> None:
    plain = box((0, 0, 0), (40, 30, 20))
    assert planed(plain) is plain


@pytest.mark.parametrize(("bulge", "flat"), [(5e-8, True), (1e-5, False)])
def test_a_face_that_bulges_is_no_plane(bulge: float, flat: bool) -> None:
    """The pole in the middle of nine, moved by so much (mm) off their plane."""
    rows = TColgp_Array2OfPnt(1, 3, 1, 3)
    for i, j in product(range(3), repeat=2):
        rows.SetValue(i + 1, j + 1, gp_Pnt(20 * i, 15 * j, bulge if i == j == 1 else 0.0))
    face = BRepBuilderAPI_MakeFace(Geom_BezierSurface(rows), 1e-7).Face()
    made = planed(Body(compound_of([face])))
    assert (_kind(faces(made)[0]) == PLANE) is flat


def test_a_flat_patch_that_runs_out_in_a_point_stays_a_spline() -> None:
    """One of its four sides has no length: that edge lies on the spline alone, and a plane has none such."""
    rows = TColgp_Array2OfPnt(1, 2, 1, 2)
    for i, j in product(range(2), repeat=2):
        rows.SetValue(i + 1, j + 1, gp_Pnt(20 * i * (1 - j), 15 * j, 0.0))
    face = BRepBuilderAPI_MakeFace(Geom_BezierSurface(rows), 1e-7).Face()
    body = Body(compound_of([face]))
    assert planed(body) is body
