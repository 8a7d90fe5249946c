"""What a tool with a round corner sweeps over a region: upright walls, and a floor whose border is as round."""

from __future__ import annotations

import math
from itertools import pairwise

from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1
from OCP.StdFail import StdFail_NotDone
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face

from schemas.base import Frame, Vec3, scale
from schemas.tolerances import COINCIDENT
from worker.kernel import boolean
from worker.kernel.eased_corner import eased, turn
from worker.kernel.errors import KernelError
from worker.kernel.measure import volume
from worker.kernel.outline import FIT
from worker.kernel.planar import Bounds, Region, boxes_meet, components
from worker.kernel.planar_edge import Edge, Point2, bounds, length, tangent_at
from worker.kernel.planar_meet import Known
from worker.kernel.planar_tidy import straight
from worker.kernel.planar_trace import Loop
from worker.kernel.sewn_corner import sewn
from worker.kernel.shape import Body, compound, edges, of_xyz, to_dir, to_pnt, to_vec
from worker.kernel.sweep import lifted, outward, prism
from worker.kernel.validity import is_sound

SECTION = 1.0 - math.pi / 4.0
"""Area between a quarter circle of radius 1 and the corner it rounds."""
CENTROID = (10.0 - 3.0 * math.pi) / (12.0 - 3.0 * math.pi)
"""Distance of that area's centroid from either side of the corner."""
AGREES = 1e-7
"""Relative difference from the closed form at which a rounded floor is refused."""


def round_cornered(region: Region, frame: Frame, low: float, high: float, corner_radius: float, within: Bounds) -> Body:
    """What a tool with that corner radius sweeps when its full diameter covers the region, tip at ``low``.

    The region's outward corners are at least as round as the tool. In the box ``within`` at least its border is
    rounded. The body reaches up to ``high``, and at least one corner radius above the tip.
    """
    parts = components(straight(region))
    return compound([_component(part, frame, low, high, corner_radius, within) for part in parts])


def _component(region: Region, frame: Frame, low: float, high: float, corner_radius: float, within: Bounds) -> Body:
    radius = _fitting(region, corner_radius)
    top = max(high, low + radius + 100 * COINCIDENT)
    column = prism(region, frame, low, top)
    rounded = [e for e in region.edges if boxes_meet(bounds(e), within, radius)]
    if not rounded:
        return column
    expected = volume(column) - _residual(region, radius, within)
    filleted = _filleted(column, frame, (low,), radius, rounded) if _smooth(region, within, radius) else None
    if filleted is not None and is_sound(filleted) and abs(volume(filleted) - expected) <= AGREES * expected:
        return filleted
    whole = _sewn(region, frame, low, top, radius, within)
    return whole if whole is not None else _cut_corners(region, frame, low, radius, within, column)


def _sewn(region: Region, frame: Frame, low: float, top: float, radius: float, within: Bounds) -> Body | None:
    """The region's whole border rounded face by face, corners outside the box eased; None where that does not hold."""
    whole = eased(region, radius, within)
    body = sewn(whole, frame, low, top, radius) if whole is not None else None
    if whole is None or body is None or not is_sound(body):
        return None
    expected = whole.area * (top - low) - _residual(whole, radius, whole.bounds)
    slack = AGREES * expected + FIT * sum(map(length, whole.edges)) * (top - low)
    return body if abs(volume(body) - expected) <= slack else None


def rounded_both(region: Region, frame: Frame, low: float, high: float, radius: float, within: Bounds) -> Body | None:
    """The region between two heights with both ends of its border rounded; None where the kernel's fillet is not the
    tool's, or where nothing of the height is left between the rounded edges."""
    parts = [_both_ends(part, frame, low, high, radius, within) for part in components(region)]
    found = [part for part in parts if part is not None]
    return compound(found) if len(found) == len(parts) else None


def _both_ends(region: Region, frame: Frame, low: float, high: float, radius: float, within: Bounds) -> Body | None:
    column, rounded = (
        prism(region, frame, low, high),
        [e for e in region.edges if boxes_meet(bounds(e), within, radius)],
    )
    if not rounded:
        return column
    if high - low <= 2.0 * radius + COINCIDENT or not _smooth(region, within, radius):
        return None
    expected = volume(column) - 2.0 * _residual(region, radius, within)
    filleted = _filleted(column, frame, (low, high), radius, rounded)
    good = filleted is not None and is_sound(filleted) and abs(volume(filleted) - expected) <= AGREES * expected
    return filleted if good else None


def _fitting(region: Region, corner_radius: float) -> float:
    """The corner radius, or a little less where the region was covered by a cutter eased by its slack."""
    rounds = [e.radius for e in region.edges if e.sweep > 0 and e.radius > corner_radius / 2]
    return min([corner_radius, *rounds])


def _corners(loop: Loop) -> list[tuple[Edge, Edge]]:
    return [*pairwise(loop), (loop[-1], loop[0])]


def _smooth(region: Region, within: Bounds, radius: float) -> bool:
    """True when no corner of the border turns right: about such a corner the kernel's fillet is not the tool's."""
    turns = [
        turn(*pair) for loop in region.loops for pair in _corners(loop) if boxes_meet(bounds(pair[0]), within, radius)
    ]
    return all(angle > -1e-6 for angle in turns)


def _residual(region: Region, radius: float, within: Bounds) -> float:
    """Volume between floor, walls and the corner all along the border (Pappus), where its pieces do not overlap."""
    section, reach = SECTION * radius**2, CENTROID * radius
    total = 0.0
    for loop in region.loops:
        for before, edge in _corners(loop):
            if boxes_meet(bounds(edge), within, radius):
                total += section * (length(edge) - edge.sweep * reach if edge.centre else length(edge))
                total += section * max(-turn(before, edge), 0.0) * reach
    return total


def _filleted(column: Body, frame: Frame, ends: tuple[float, ...], radius: float, rounded: list[Edge]) -> Body | None:
    maker = BRepFilletAPI_MakeFillet(column.wrapped)
    for edge in edges(column.wrapped):
        if any(_is_among(edge, frame, z, rounded) for z in ends):
            maker.Add(radius, edge)
    try:
        maker.Build()
        return compound([Body(maker.Shape())]) if maker.IsDone() else None
    except (StdFail_NotDone, RuntimeError):
        return None


def _is_among(edge: TopoDS_Edge, frame: Frame, low: float, rounded: list[Edge]) -> bool:
    curve = BRepAdaptor_Curve(edge)
    middle = of_xyz(curve.Value((curve.FirstParameter() + curve.LastParameter()) / 2))
    x, y, z = frame.to_local(middle)
    return abs(z - low) < COINCIDENT and any(Known(e).touches((x, y), 10 * COINCIDENT) for e in rounded)


def _cut_corners(region: Region, frame: Frame, low: float, r: float, within: Bounds, column: Body) -> Body:
    """The column less what the corner leaves, edge by edge and corner by corner: slow, for every shape of border."""
    result = boolean.cut(column, _fillets(region, frame, low, r, within), merge=False)
    if volume(result) >= volume(column):
        raise KernelError("round corner", "the kernel took nothing off along the border")
    return result


def _fillets(region: Region, frame: Frame, z: float, r: float, within: Bounds) -> list[Body]:
    """The metal that the tool's corner leaves along the border: one solid an edge and an inward corner."""
    found = []
    for loop in region.loops:
        for before, edge in _corners(loop):
            if boxes_meet(bounds(edge), within, r):
                found += [_along_edge(edge, frame, z, r), *_about_corner(before, edge, frame, z, r)]
    return found


def _along_edge(edge: Edge, frame: Frame, z: float, r: float) -> Body:
    (tx, ty) = tangent_at(edge, 0.0)
    section = _corner_section(edge.a, (-ty, tx), frame, z, r)
    if edge.centre is None:
        along = frame.direction_to_world((edge.b[0] - edge.a[0], edge.b[1] - edge.a[1], 0.0))
        return outward(lifted(section, to_vec(along)))
    return _turned(section, edge.centre, edge.sweep, frame)


def _about_corner(before: Edge, after: Edge, frame: Frame, z: float, r: float) -> list[Body]:
    """Where the border turns right (about an edge of the part that stands) the corner goes round the vertex."""
    angle = turn(before, after)
    if angle > -1e-9:
        return []
    ax, ay = tangent_at(before, 1.0)
    return [_turned(_corner_section(after.a, (-ay, ax), frame, z, r), after.a, angle, frame)]


def _turned(section: TopoDS_Face, centre: Point2, sweep: float, frame: Frame) -> Body:
    axis = gp_Ax1(to_pnt(frame.to_world((*centre, 0.0))), to_dir(scale(frame.z, math.copysign(1.0, sweep))))
    maker = BRepPrimAPI_MakeRevol(section, axis, abs(sweep), True)
    if not maker.IsDone():
        raise KernelError("revolve", "the kernel could not turn a corner")
    return outward(Body(maker.Shape()))


def _corner_section(at: Point2, inward: Point2, frame: Frame, z: float, r: float) -> TopoDS_Face:
    """Between wall, floor and the quarter circle of the tool's corner, in the upright plane along ``inward``."""

    def place(u: float, h: float) -> Vec3:
        return frame.to_world((at[0] + u * inward[0], at[1] + u * inward[1], z + h))

    low, floor, wall = place(0.0, 0.0), place(r, 0.0), place(0.0, r)
    bow = place(r - r * math.sqrt(0.5), r - r * math.sqrt(0.5))
    wire = BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(to_pnt(low), to_pnt(floor)).Edge())
    wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(to_pnt(floor), to_pnt(bow), to_pnt(wall)).Value()).Edge())
    wire.Add(BRepBuilderAPI_MakeEdge(to_pnt(wall), to_pnt(low)).Edge())
    return BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()
