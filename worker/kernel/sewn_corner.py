"""A floor with a round border built face by face: for borders of many short arcs, about which no boolean can be made.

Every edge has a wall, a quarter of a tube (cylinder, torus or ball) and its share of the floor's border; about a corner
of the part that stands in the region the tube turns on the corner itself. All of them meet in edges that are known
beforehand, so nothing need be intersected.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, combinations

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeSolid, BRepBuilderAPI_Sewing
from OCP.Geom import Geom_CylindricalSurface, Geom_Plane, Geom_SphericalSurface, Geom_Surface, Geom_ToroidalSurface
from OCP.gp import gp_Ax3
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS, TopoDS_Face

from schemas.base import Frame
from schemas.tolerances import COINCIDENT, SEAM
from worker.kernel.eased_corner import turn
from worker.kernel.errors import KernelError
from worker.kernel.planar import Region, boxes_meet
from worker.kernel.planar_edge import Edge, Point2, angle_of, distance, length, line, tangent_at
from worker.kernel.planar_meet import crossings
from worker.kernel.planar_trace import Loop
from worker.kernel.shape import Body, to_dir, to_pnt
from worker.kernel.sweep import outward, region_faces

SHORT = 20.0 * SEAM
"""Shorter edges are left out; the next one begins where they did."""
QUARTER = math.pi / 2
Bound = tuple[float, float]


@dataclass(frozen=True)
class Corner:
    """One edge with its heights: the tip's, where the tube ends, where the wall does."""

    edge: Edge
    frame: Frame
    low: float
    radius: float
    high: float

    @property
    def middle(self) -> float:
        """Height of the tube's axis."""
        return self.low + self.radius


def sewn(region: Region, frame: Frame, low: float, high: float, radius: float) -> Body | None:
    """The connected region between two heights with its whole lower border rounded; None where it turns left in a
    corner, or where the round leaves no floor between two of its borders."""
    loops = tuple(_joined(loop) for loop in region.loops)
    if any(angle * radius > SEAM for loop in loops for angle in turns(loop)):
        return None
    floor = Region(tuple(_inset(loop, radius) for loop in loops))
    faces = [*region_faces(floor, frame, low), *region_faces(Region(loops), frame, high)]
    if len(faces) != 2 or _crossed(floor):
        return None
    for loop in loops:
        for edge, angle in zip(loop, turns(loop), strict=True):
            corner = Corner(edge, frame, low, radius, high)
            faces += _faces(corner)
            faces += [_about(corner, angle)] if angle * radius < -SEAM else []
    return _solid(faces)


def _crossed(region: Region) -> bool:
    """Whether sides of its borders that do not follow each other meet."""
    known, beside = region.known, set()
    for loop, first in zip(region.loops, _firsts(region.loops), strict=True):
        beside |= {(first + k, first + (k + 1) % len(loop)) for k in range(len(loop))}
    pairs = combinations(range(len(known)), 2)
    apart = ((i, j) for i, j in pairs if (i, j) not in beside and (j, i) not in beside)
    return any(boxes_meet(known[i].box, known[j].box) and crossings(known[i], known[j], COINCIDENT) for i, j in apart)


def _firsts(loops: Sequence[Loop]) -> list[int]:
    """Number of each loop's first edge among all."""
    return [0, *accumulate(map(len, loops))][:-1]


def _joined(loop: Loop) -> Loop:
    """The loop without its short edges."""
    kept = [e for e in loop if length(e) > SHORT]
    met = [replace(e, a=before.b) for before, e in zip((kept[-1:] + kept)[: len(kept)], kept, strict=True)]
    return tuple(_swept_anew(e) for e in met)


def _swept_anew(edge: Edge) -> Edge:
    """An arc with the angle that there is between its ends."""
    if edge.centre is None:
        return edge
    turn = math.remainder(angle_of(edge.centre, edge.b) - angle_of(edge.centre, edge.a) - edge.sweep, math.tau)
    return replace(edge, sweep=edge.sweep + turn)


def turns(loop: Loop) -> Iterator[float]:
    """How far the border turns to the left where each edge begins (radians)."""
    return (turn(before, edge) for before, edge in zip((loop[-1], *loop[:-1]), loop, strict=True))


def _inset(loop: Loop, amount: float) -> Loop:
    """The loop moved inwards, edge by edge, and round the corners where it turns right; arcs no larger than that are
    gone."""
    found: list[Edge] = []
    bends = [*turns(loop)]
    for k, edge in enumerate(loop):
        nexts = (k + 1) % len(loop)
        a = _inward(loop[k - 1], edge, amount, after=bends[k] * amount < -SEAM)
        b = _inward(edge, loop[nexts], amount, before=bends[nexts] * amount < -SEAM)
        if bends[k] * amount < -SEAM:
            found.append(Edge(_inward(loop[k - 1], edge, amount, before=True), a, edge.a, amount, bends[k]))
        if edge.centre is None:
            found.append(line(a, b))
        elif _inner(edge, amount) > SEAM:
            found.append(replace(edge, a=a, b=b, radius=_inner(edge, amount)))
    return tuple(replace(e, a=before.b) for before, e in zip((found[-1], *found[:-1]), found, strict=True))


def _inner(edge: Edge, amount: float) -> float:
    """Radius of an arc of the border that far inwards."""
    return edge.radius - math.copysign(amount, edge.sweep)


def _inward(first: Edge, second: Edge, amount: float, before: bool = False, after: bool = False) -> Point2:
    """Where the moved border passes a corner: square to the mean of both directions, or to that ``before`` or ``after``
    it."""
    (ax, ay), (bx, by) = tangent_at(first, 1.0), tangent_at(second, 0.0)
    (ax, ay), (bx, by) = (bx, by) if after else (ax, ay), (ax, ay) if before else (bx, by)
    size = math.hypot(ax + bx, ay + by)
    return (second.a[0] - amount * (ay + by) / size, second.a[1] + amount * (ax + bx) / size)


def _faces(corner: Corner) -> list[TopoDS_Face]:
    """Wall and tube of one edge."""
    return _straight(corner) if corner.edge.centre is None else _bent(corner, corner.edge.centre)


def _straight(c: Corner) -> list[TopoDS_Face]:
    (tx, ty), along = tangent_at(c.edge, 0.0), (0.0, distance(c.edge.a, c.edge.b))
    tangent, wall = c.frame.direction_to_world((tx, ty, 0.0)), c.frame.direction_to_world((ty, -tx, 0.0))
    foot = c.frame.to_world((*c.edge.a, 0.0))
    axis = c.frame.to_world((c.edge.a[0] - c.radius * ty, c.edge.a[1] + c.radius * tx, c.middle))
    plane = Geom_Plane(gp_Ax3(to_pnt(foot), to_dir(wall), to_dir(tangent)))
    tube = Geom_CylindricalSurface(gp_Ax3(to_pnt(axis), to_dir(tangent), to_dir(wall)), c.radius)
    return [_patch(plane, along, (c.middle, c.high)), _patch(tube, (0.0, QUARTER), along)]


def _bent(c: Corner, centre: Point2) -> list[TopoDS_Face]:
    edge, around = c.edge, (0.0, abs(c.edge.sweep))
    first = edge.a if edge.sweep > 0 else edge.b
    away = (first[0] - centre[0], first[1] - centre[1])
    wall = _patch(Geom_CylindricalSurface(_upright(c, centre, away, 0.0), edge.radius), around, (c.middle, c.high))
    inner, place = _inner(edge, c.radius), _upright(c, centre, away, c.middle)
    if inner <= SEAM:
        return [wall, _patch(Geom_SphericalSurface(place, c.radius), around, (-QUARTER, 0.0))]
    torus = Geom_ToroidalSurface(place, inner, c.radius)
    quarter = (3 * QUARTER, 4 * QUARTER) if edge.sweep > 0 else (2 * QUARTER, 3 * QUARTER)
    return [wall, _patch(torus, around, quarter)]


def _about(c: Corner, angle: float) -> TopoDS_Face:
    """The tube that turns on the corner where an edge begins: a ring without a hole, its middle at the wall's foot."""
    tx, ty = tangent_at(c.edge, 0.0)
    ring = Geom_ToroidalSurface(_upright(c, c.edge.a, (-ty, tx), c.middle), c.radius, c.radius)
    return _patch(ring, (0.0, -angle), (2 * QUARTER, 3 * QUARTER))


def _upright(c: Corner, centre: Point2, away: Point2, height: float) -> gp_Ax3:
    """A place with its axis upright, turns about it counted from a direction."""
    out = c.frame.direction_to_world((*away, 0.0))
    return gp_Ax3(to_pnt(c.frame.to_world((*centre, height))), to_dir(c.frame.z), to_dir(out))


def _patch(surface: Geom_Surface, us: Bound, vs: Bound) -> TopoDS_Face:
    maker = BRepBuilderAPI_MakeFace(surface, *us, *vs, 1e-7)
    if not maker.IsDone():
        raise KernelError("face", "the kernel could not build a round face")
    return maker.Face()


def _solid(faces: Sequence[TopoDS_Face]) -> Body | None:
    """The faces sewn to one closed shell; None where that is not what comes out."""
    sewing = BRepBuilderAPI_Sewing(SEAM)
    for face in faces:
        sewing.Add(face)
    sewing.Perform()
    shell = sewing.SewedShape()
    if shell.IsNull() or shell.ShapeType() != TopAbs_ShapeEnum.TopAbs_SHELL or sewing.NbFreeEdges():
        return None
    return outward(Body(BRepBuilderAPI_MakeSolid(TopoDS.Shell_s(shell)).Solid()))
