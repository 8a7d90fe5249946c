"""Triangles as recognition reads them in bulk against the kernel asked for one node and one triangle at a time."""

import numpy as np
import pytest
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepTools import BRepTools
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Face

from schemas.tolerances import MESH
from worker.kernel.boolean import cut
from worker.kernel.graph_mesh import TURN, face_triangles
from worker.kernel.mesh import triangulate
from worker.kernel.primitives import box, cylinder, sphere
from worker.kernel.shape import Body, compound_of, faces
from worker.kernel.swift_mesh import leave_triangles


def one_by_one(face):
    place = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, place)
    nodes = [mesh.Node(i).Transformed(place.Transformation()).Coord() for i in range(1, mesh.NbNodes() + 1)]
    rows = [mesh.Triangle(i).Get() for i in range(1, mesh.NbTriangles() + 1)]
    turned = face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
    return np.array([[nodes[n - 1] for n in (row[::-1] if turned else row)] for row in rows])


def drilled():
    return cut(box((0, 0, 0), (40, 30, 20)), [cylinder((20, 15, -1), (20, 15, 21), 8), sphere((40, 30, 20), 6)])


def turned(body):
    motion, shift = gp_Trsf(), gp_Trsf()
    motion.SetRotation(gp_Ax1(gp_Pnt(1, 2, 3), gp_Dir(1, 1, 0)), 0.7)
    shift.SetTranslation(gp_Vec(0.1, -20, 1000))
    return Body(body.wrapped.Moved(TopLoc_Location(motion * shift)))


@pytest.mark.parametrize("body", [drilled(), turned(drilled())], ids=["baked", "with a location"])
def test_every_node_and_triangle_is_the_kernels(body):
    found = face_triangles(body.wrapped, faces(body))
    leave_triangles(faces(body), MESH, TURN, coarse=True)
    assert any(f.Orientation() == TopAbs_Orientation.TopAbs_REVERSED for f in faces(body))
    for face, corners in zip(faces(body), found, strict=True):
        assert np.array_equal(corners, one_by_one(face))


def test_a_face_without_triangles_has_none_and_the_others_keep_theirs():
    body = drilled()
    bare = TopoDS_Face()
    BRep_Builder().MakeFace(bare)
    shapes = (*faces(body)[:2], bare, *faces(body)[2:])
    found = face_triangles(body.wrapped, shapes)
    assert [len(corners) > 0 for corners in found] == [True, True, False] + [True] * (len(shapes) - 3)
    assert np.array_equal(found[3], face_triangles(body.wrapped, faces(body))[2])


def test_one_solid_that_stands_in_two_places_has_its_triangles_in_both():
    one = drilled()
    both = Body(compound_of([one.wrapped, turned(one).wrapped]))
    found = face_triangles(both.wrapped, faces(both))
    points, corners, owner = triangulate(both, MESH, TURN, swift=True)
    leave_triangles(faces(both), MESH, TURN, coarse=True)
    for number, face in enumerate(faces(both)):
        assert np.array_equal(found[number], one_by_one(face))
    BRepTools.Clean_s(both.wrapped)
    leave_triangles(faces(both), MESH, TURN)
    for number, face in enumerate(faces(both)):
        assert np.array_equal(points[corners][owner == number], one_by_one(face))
