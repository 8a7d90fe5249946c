"""A pocket with a fillet round its floor, made with the kernel's own fillet."""

from __future__ import annotations

import functools
from collections.abc import Callable

from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet

from examples.shapes import Shape
from tests.support.block import as_step, solid_block
from worker.kernel import boolean, measure
from worker.kernel import primitives as solid
from worker.kernel.shape import Body, edges


@functools.cache
def filleted_pocket(radius: float = 2.0) -> bytes:
    """30 x 20 x 8 deep with corner radius 5 in the block's top, and a fillet at its floor."""
    rounds = [solid.cylinder((x, y, 12), (x, y, 21), 10) for x in (20, 40) for y in (15, 25)]
    boxes = [solid.box((20, 10, 12), (40, 30, 21)), solid.box((15, 15, 12), (45, 25, 21))]
    body = boolean.cut(solid_block(), [boolean.fuse([*boxes, *rounds])])
    maker = BRepFilletAPI_MakeFillet(body.wrapped)
    for edge in edges(body.wrapped):
        box = measure.box_of(edge)
        if max(abs(box.min[2] - 12), abs(box.max[2] - 12)) < 1e-6:
            maker.Add(radius, edge)
    return as_step(Body(maker.Shape()))


def filleted_at(shape: Shape, radius: float, wanted: Callable[[float, float, float], bool]) -> Shape:
    """The shape with a fillet along all edges whose middle (x, y, z) is wanted."""
    maker = BRepFilletAPI_MakeFillet(shape)
    for edge in edges(shape):
        curve = BRepAdaptor_Curve(edge)
        middle = curve.Value((curve.FirstParameter() + curve.LastParameter()) / 2)
        if wanted(middle.X(), middle.Y(), middle.Z()):
            maker.Add(radius, edge)
    return maker.Shape()
