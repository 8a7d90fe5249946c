"""Faces that fold back on each other at an edge: metal or air between them, however the part lies.

By construction: a wall of radius 5 ends where it touches the ground line, and the same shape cut out of a block.
"""

from __future__ import annotations

import math

import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Pnt, gp_Vec

from bench.reencode import turned
from worker.kernel.boolean import cut
from worker.kernel.graph import face_graph
from worker.kernel.primitives import box
from worker.kernel.shape import Body


def _cusp() -> Body:
    """What lies between the line y = 0 and a circle of radius 5 that touches it at the origin."""
    wire = BRepBuilderAPI_MakeWire()
    low, side, high, touch = (gp_Pnt(x, y, 0) for x, y in ((10, 0), (10, 5), (5, 5), (0, 0)))
    for a, b in ((touch, low), (low, side), (side, high)):
        wire.Add(BRepBuilderAPI_MakeEdge(a, b).Edge())
    middle = gp_Pnt(5 * math.sin(0.7), 5 - 5 * math.cos(0.7), 0)
    wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(high, middle, touch).Value()).Edge())
    return Body(BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(wire.Wire()).Face(), gp_Vec(0, 0, 8)).Shape())


@pytest.mark.parametrize("kind", ["convex", "concave"])
def test_side_of_the_metal_tells_a_knife_edge_from_a_slit(kind: str) -> None:
    body = _cusp() if kind == "convex" else cut(box((-10, -10, 0), (9, 12, 8)), [_cusp()])
    ways = [body, *(turned(body, seed)[0] for seed in range(1, 30))]
    folded = [e for b in ways for e in face_graph(b).edges if abs(e.angle) > math.pi - 1e-3]
    assert len(folded) == len(ways)
    assert {(e.convexity, e.angle > 0) for e in folded} == {(kind, kind == "convex")}
