"""Normals of simple surfaces at many points against the kernel's derivatives at each."""

import numpy as np
import pytest
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCone, BRepPrimAPI_MakeTorus
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.TopAbs import TopAbs_Orientation

from worker.kernel.boolean import cut
from worker.kernel.graph_normals import normals_on
from worker.kernel.graph_surface import evaluated_normal, surfaces_read
from worker.kernel.primitives import box, cylinder, sphere
from worker.kernel.shape import Body, faces

PLACE = gp_Ax2(gp_Pnt(20, 15, 10), gp_Dir(0.2, 0.1, 1.0))
SOLIDS = {
    "cylinder": cylinder((20, 15, -5), (22, 16, 30), 8),
    "cone": Body(BRepPrimAPI_MakeCone(PLACE, 6.0, 2.0, 15.0).Shape()),
    "sphere": sphere((20, 15, 20), 6),
    "torus": Body(BRepPrimAPI_MakeTorus(PLACE, 8.0, 3.0).Shape()),
}


@pytest.mark.parametrize("kind", SOLIDS)
@pytest.mark.parametrize("inside", [False, True])
def test_normals(kind, inside):
    body = cut(box((0, 0, 0), (40, 30, 20)), [SOLIDS[kind]]) if inside else SOLIDS[kind]
    shapes = faces(body)
    read = surfaces_read(shapes)
    assert any(one.surface.kind == kind and one.surface.hollow == inside for one in read)
    owner, points, wanted = [], [], []
    for n, (shape, (_, adaptor, *_)) in enumerate(zip(shapes, read, strict=True)):
        flip = -1.0 if shape.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
        u0, v0, u1, v1 = (getattr(adaptor, f"{end}{way}Parameter")() for end in ("First", "Last") for way in "UV")
        for share in (0.2, 0.55, 0.9):
            place, normal = evaluated_normal(adaptor, u0 + (u1 - u0) * share, v0 + (v1 - v0) * (1.1 - share), flip)
            owner.append(n)
            points.append(place)
            wanted.append(normal)
    found = normals_on([one.surface for one in read], np.array(owner), np.array(points))
    assert np.abs(found - wanted).max() < 1e-9
