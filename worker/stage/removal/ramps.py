"""Floors that slope, followed by a ball, which leaves what it cannot reach along their walls (setup's frame, mm).

The room over such a floor is its ground, from the floor's plane up. A ball of radius r rolls along each edge at which
two of its sides meet inwards, floor and wall or two walls, and leaves what lies between them and its own round: over a
floor and an upright wall that stand at an angle a to each other ``r2 (cot(a / 2) - (pi - a) / 2)`` a length. Fillets
that are no tighter than the ball are sides of the room, along which nothing is left. A wall counts as if it went on up,
which leaves a little more than the ball does beside one that is lower than its radius.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from schemas.base import Vec3
from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel import boolean, primitives
from worker.kernel.graph import EdgeFact, FaceFact, FaceGraph, face_graph
from worker.kernel.planar import Region, components, contains, filled, intersect, open_by_disc, overlap, subtract, union
from worker.kernel.planar_edge import Edge, Point2, tangent_at
from worker.kernel.planar_trace import Loop
from worker.kernel.rolled import rolled
from worker.kernel.shadow import Shown, concave_radius, face_facts
from worker.kernel.shape import Body, is_empty
from worker.kernel.sweep import prism
from worker.stage.model import ResolvedStep
from worker.stage.removal.corners import BESIDE
from worker.stage.removal.levels import Level, spared
from worker.stage.removal.scene import CLEARANCE, Scene, Sweep

UPRIGHT = 1e-6
"""Height of the unit normal of a side that counts as upright."""
FLATTISH = math.cos(math.radians(47.0))
"""A side at 45 degrees is a floor."""
RIPPLE = 0.9
"""Share of its ball's radius to which a rolling-ball blend bends at most where the kernel makes a free form of it:
0.90 to 0.99 round upright corners on slopes of 8 to 30 degrees."""
SAME = 1e-9
"""Planes are one where their unit normals differ by no more."""


@dataclass(frozen=True)
class _Floor:
    """A plane that leans: height ``base`` at the origin, ``slope`` there, and its unit normal, which looks up."""

    base: float
    slope: Point2
    normal: Vec3

    def at(self, x: float, y: float) -> float:
        return self.base + self.slope[0] * x + self.slope[1] * y

    def ends(self, region: Region) -> tuple[float, float]:
        """Its lowest and highest place over a region's box."""
        x0, y0, x1, y1 = region.bounds
        found = [self.at(x, y) for x in (x0, x1) for y in (y0, y1)]
        return min(found), max(found)


def follows_slopes(job: ResolvedStep) -> bool:
    """Whether a step follows floors that slope: with a ball, nothing left on them and no depth of its own."""
    step, tool = job.step, job.tool
    ball = tool.corner_radius > LENGTH and tool.radius - tool.corner_radius <= LENGTH
    bare = not step.allowance_side and not step.allowance_bottom and step.bottom_z is None
    return step.operation == "freeform_operation" and ball and bare


def along_floor(
    scene: Scene, job: ResolvedStep, feature: Feature, faces: Sequence[int], ground: Region, seed: Region | None
) -> Sweep | None:
    """All that a ball takes over the one sloping plane that some faces of a feature have for a floor; None where there
    is another, where the ball is too large for a fillet or the whole, or the kernel finds no such room."""
    shown, radius = [scene.sky.shown[i] for i in faces], job.tool.radius
    shown = _without_islands(scene, shown)
    floors = [s for s in shown if _is_floor(scene, s)]
    sides = [s for s in shown if s not in floors]
    floor = _plane_of(scene, floors)
    if floor is None or not _fit(scene, job, [s.index for s in sides]):
        return None
    faces = [s.index for s in shown]
    seen, standing = union(scene.sky.region(i) for i in faces), _standing(scene, floor, faces, ground)
    if subtract(filled(seen), [seen, standing]).area > LENGTH:
        return None  # a hole's mouth: what stands over it is no column of the floor's own
    ground = subtract(ground, [standing])
    room = intersect(open_by_disc(ground, radius), scene.reach(job.tool))
    room = union(part for part in components(room) if seed is None or overlap(part, seed))
    sharp = _sharpened(room, radius)
    plan = intersect(sharp, seen)
    narrow = any(_is_round(edge, radius) for edge in sharp.edges)
    if not plan or narrow or scene.meets_holding(floor.ends(plan)[0], plan):
        return None
    body = _room(scene, floor, plan)
    if sides:
        body = boolean.cut(body, [scene.part.body], merge=False)
    found = _rolled(scene, floor, subtract(ground, [room]), plan, body, radius)
    if found is None:
        return None
    nominal, top = min(s.low for s in shown), max(s.high for s in floors)
    lost = Level(top, scene.top, intersect(ground, scene.reach(job.tool)), room)
    return Sweep(
        (found,),
        plan,
        tip_z=nominal,
        full_diameter_z=nominal,
        nominal_z=nominal,
        spared=() if top >= scene.top else spared(scene, (lost,), seed),
        followed=(feature.id,),
    )


def _without_islands(scene: Scene, shown: Sequence[Shown]) -> list[Shown]:
    """Without level tops of what stands in the floor."""
    around = filled(union(scene.sky.region(s.index) for s in shown if _is_floor(scene, s) and not s.flat))
    return [s for s in shown if not (s.flat and overlap(scene.sky.region(s.index), around))]


def _fit(scene: Scene, job: ResolvedStep, indices: Sequence[int]) -> bool:
    """Whether all faces beside the floor are hollows no tighter than the ball. Free forms bend in ripples: where a
    fillet runs round a corner they go on from pieces that tell its radius."""
    facts, radius = face_facts(scene.sky.body), job.tool.radius - LENGTH
    hollow = {i: concave_radius(scene.sky.body, i) or 0.0 for i in indices}
    free = [i for i in hollow if facts[i].kind == "other"]
    exact = [i for i in hollow if i not in free]
    fits = all(hollow[i] >= radius for i in exact) and all(hollow[i] >= RIPPLE * radius for i in free)
    return fits and (bool(exact) or not free)


def _is_floor(scene: Scene, shown: Shown) -> bool:
    facts = face_facts(scene.sky.body)[shown.index]
    return facts.kind == "plane" and scene.frame.direction_to_local(facts.normals[0])[2] > FLATTISH


def _plane_of(scene: Scene, floors: Sequence[Shown]) -> _Floor | None:
    """The one plane that all of some faces lie on, which leans."""
    planes = [_floor(scene, shown.index) for shown in floors]
    first = planes[0] if planes else None
    if first is None or first.normal[2] > 1 - SAME:
        return None
    for one in planes[1:]:
        if one is None or max(abs(a - b) for a, b in zip(one.normal, first.normal, strict=True)) > SAME:
            return None
        if abs(one.base - first.base) > COINCIDENT:
            return None
    return first


def _floor(scene: Scene, index: int) -> _Floor | None:
    facts = face_facts(scene.sky.body)[index]
    if facts.kind != "plane":
        return None
    nx, ny, nz = scene.frame.direction_to_local(facts.normals[0])
    spot = facts.adaptor.Plane().Location()
    x, y, z = scene.frame.to_local((spot.X(), spot.Y(), spot.Z()))
    slope = (-nx / nz, -ny / nz)
    return _Floor(z - slope[0] * x - slope[1] * y, slope, (nx, ny, nz))


def _standing(scene: Scene, floor: _Floor, faces: Sequence[int], ground: Region) -> Region:
    """What stands over the floor in its ground: other features' metal, as far as it reaches above the plane."""
    own = set(faces)
    found = (s for s in scene.sky.upward(floor.ends(ground)[0], ground.bounds) if s.index not in own)
    return union(scene.sky.region(s.index) for s in found if s.high > _lowest(floor, s) + LENGTH)


def _lowest(floor: _Floor, shown: Shown) -> float:
    x0, y0, x1, y1 = shown.bounds
    return min(floor.at(x, y) for x in (x0, x1) for y in (y0, y1))


def _sharpened(region: Region, radius: float) -> Region:
    """The region with corners as round as the cutter made sharp: the ball's own round comes out of the edge there."""
    return Region(tuple(_sharp(loop, radius) for loop in region.loops))


def _sharp(loop: Loop, radius: float) -> Loop:
    found: list[Edge] = list(loop)
    k = 0
    while k < len(found):
        before, edge, after = found[k - 1], found[k], found[(k + 1) % len(found)]
        at = _corner(before, after) if _is_round(edge, radius) and len(found) > 3 else None
        if at is None:
            k += 1
            continue
        found[k - 1], found[(k + 1) % len(found)] = replace(before, b=at), replace(after, a=at)
        del found[k]
    return tuple(found)


def _is_round(edge: Edge, radius: float) -> bool:
    return edge.centre is not None and edge.sweep > 0 and edge.radius <= radius + LENGTH


def _corner(before: Edge, after: Edge) -> Point2 | None:
    """Where two straight sides meet beyond the round between them."""
    if before.centre is not None or after.centre is not None:
        return None
    (ux, uy), (vx, vy) = tangent_at(before, 1.0), tangent_at(after, 0.0)
    turn = ux * vy - uy * vx
    if turn <= LENGTH:
        return None
    share = ((after.a[0] - before.b[0]) * vy - (after.a[1] - before.b[1]) * vx) / turn
    return before.b[0] + share * ux, before.b[1] + share * uy


def _room(scene: Scene, floor: _Floor, plan: Region) -> Body:
    """What stands on the plan above the floor's plane."""
    ends = floor.ends(plan)
    column = prism(plan, scene.frame, ends[0] - CLEARANCE, max(scene.top, ends[1] + CLEARANCE))
    x, y = (plan.bounds[0] + plan.bounds[2]) / 2, (plan.bounds[1] + plan.bounds[3]) / 2
    nx, ny, nz = scene.frame.direction_to_world(floor.normal)
    size = 8.0 * scene.metal.diagonal + 100.0
    below = primitives.half_space_box(scene.frame.to_world((x, y, floor.at(x, y))), (-nx, -ny, -nz), size)
    return boolean.cut(column, [below], merge=False)


def _rolled(scene: Scene, floor: _Floor, tight: Region, plan: Region, room: Body, radius: float) -> Body | None:
    """The room as far as the ball gets into its inner edges; None where two sides meet outwards, or a fillet ends
    at a wall."""
    if is_empty(room):
        return None
    graph = face_graph(room)
    closed = {face.index for face in graph.faces if _is_closed(scene, floor, tight, plan, graph, face)}
    edges = [edge for edge in graph.edges if set(edge.faces) <= closed]
    inner = [edge for edge in edges if edge.convexity == "convex"]
    fillets = {face.index for face in graph.faces if _is_fillet(scene, face)}
    outwards = any(edge.convexity in ("concave", "mixed") for edge in edges)
    if outwards or any(fillets & set(edge.faces) for edge in inner):
        return None
    return rolled(room, [edge.index for edge in inner], radius) if inner else room


def _is_closed(scene: Scene, floor: _Floor, tight: Region, plan: Region, graph: FaceGraph, face: FaceFact) -> bool:
    """Whether a side of the room is floor or wall, of the part or of a corner that is too tight; not air."""
    if not _is_upright(scene, face):
        return scene.frame.direction_to_local(face.normal)[2] < 0
    feet = [edge for edge in graph.edges if face.index in edge.faces and _is_level(scene, floor, graph, edge, face)]
    return any(_has_wall(scene, floor, tight, plan, edge) for edge in feet)


def _is_fillet(scene: Scene, face: FaceFact) -> bool:
    return face.surface.kind != "plane" and not _is_upright(scene, face)


def _is_upright(scene: Scene, face: FaceFact) -> bool:
    """Whether a side runs along the spindle; of round ones the axis tells, as triangles on them lean by chance."""
    if face.surface.kind == "plane":
        return abs(scene.frame.direction_to_local(face.normal)[2]) <= UPRIGHT
    along = abs(scene.frame.direction_to_local(face.surface.axis)[2])
    return face.surface.kind == "cylinder" and along > 1 - SAME


def _is_level(scene: Scene, floor: _Floor, graph: FaceGraph, edge: EdgeFact, own: FaceFact) -> bool:
    """Whether it is one along the floor's plane."""
    other = graph.faces[edge.faces[0] if edge.faces[1] == own.index else edge.faces[1]]
    x, y, z = scene.frame.direction_to_local(other.normal)
    nx, ny, nz = floor.normal
    return abs(x + nx) + abs(y + ny) + abs(z + nz) <= LENGTH


def _has_wall(scene: Scene, floor: _Floor, tight: Region, plan: Region, edge: EdgeFact) -> bool:
    """Whether metal stands right outside an edge of the room's plan, or a corner that is too tight for the ball."""
    points = [scene.frame.to_local(point) for point in edge.points]
    (ax, ay, _), (bx, by, _) = points[(len(points) - 1) // 2], points[len(points) // 2]
    (cx, cy, _), (dx, dy, _) = points[max(len(points) // 2 - 1, 0)], points[min(len(points) // 2 + 1, len(points) - 1)]
    size = math.hypot(dx - cx, dy - cy)
    x, y, nx, ny = (ax + bx) / 2, (ay + by) / 2, (dy - cy) / size, (cx - dx) / size
    way = -BESIDE if contains(plan, (x + BESIDE * nx, y + BESIDE * ny)) else BESIDE
    out = (x + way * nx, y + way * ny)
    return contains(tight, out) or contains(scene.sky.above(floor.at(*out) + 2 * LENGTH), out)
