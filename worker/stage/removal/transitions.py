"""Chamfers and edge rounds: what stands on them and above, where the tool's form is theirs."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from schemas.base import Vec3, dot
from schemas.feature import Feature
from schemas.tolerances import ANGLE, COINCIDENT, LENGTH
from schemas.tool import MILLS
from worker.kernel import boolean, measure, primitives
from worker.kernel.errors import KernelError
from worker.kernel.planar import Region, subtract, union
from worker.kernel.shadow import face_facts, flank_of
from worker.kernel.shape import Body, compound, solids
from worker.kernel.sweep import lift_faces, prism
from worker.kernel.together import cut_each
from worker.kernel.validity import is_sound
from worker.stage.model import ResolvedStep, no_rides
from worker.stage.removal.edge_sides import clear_edge
from worker.stage.removal.edges import flank_of_tool, tip_for, tool_bodies, worst
from worker.stage.removal.foot import at_feet, less
from worker.stage.removal.off_faces import Followed, as_stated
from worker.stage.removal.planes import clear_plane
from worker.stage.removal.rims import Rim, each_as_deep, rim_of, rims_of
from worker.stage.removal.scene import CLEARANCE, Scene, Sweep, merge_sweeps, nothing
from worker.stage.removal.uneven import uneven_column


def break_edge(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """The columns on the feature's faces that look up, as far as the tool's form allows; upright ones by its side,
    level ones by the end of a mill."""
    seen = [i for i in feature.faces if scene.sky.shown[i].look == "up"]
    if not seen:
        return clear_edge(scene, job, feature)
    if feature.class_ == "edge_round":
        return _round(scene, job, feature, seen)
    level = [i for i in seen if scene.sky.shown[i].flat]
    if level and job.tool.flank_half_angle is None and job.tool.type in MILLS:
        return merge_sweeps([clear_plane(scene, job, feature.model_copy(update={"faces": (i,)})) for i in level])
    if len(level) == len(seen):
        return nothing(
            scene.heights(feature)[0], f"{feature.id} lies square to the spindle: the end of a mill makes it."
        )
    return _by_flank(scene, job, feature, [i for i in seen if i not in level])


def _by_flank(scene: Scene, job: ResolvedStep, feature: Feature, seen: list[int]) -> Sweep:
    low, high = scene.heights(feature)
    bodies, notes = [], []
    whole = _all_lifted(scene, [(i, scene.sky.shown[i].low) for i in seen])
    for i, column in zip(seen, whole, strict=True):
        body, note = _chamfer_column(scene, job, i, column)
        bodies.append(body)
        notes += [note] if note else []
    kept = tuple(b for b in bodies if b is not None)
    flank = flank_of_tool(job.tool)
    found = rims_of(scene.sky, scene.frame, [feature], flank.rise) if flank is not None else []
    rims = each_as_deep(found, job.step.bottom_z)
    tip, gouging = _along_the_edge(scene, job, rims, low)
    return Sweep(
        _within_the_flank(scene, job, seen, kept, tip, rims),
        plan_of(scene, seen),
        gouging=gouging,
        tip_z=tip,
        full_diameter_z=high,
        nominal_z=low,
        tips=((feature.id, tip),) if rims else (),
        notes=tuple(dict.fromkeys(notes)),
    )


def _along_the_edge(scene: Scene, job: ResolvedStep, rims: Sequence[Rim], low: float) -> tuple[float, tuple[Body, ...]]:
    """The tip, as stated or where the tool clears part and workholding; and the tool's way where it enters the part."""
    stated, flank = job.step.bottom_z, flank_of_tool(job.tool)
    if flank is None or not rims:
        return (low if stated is None else stated), ()
    if stated is None:
        return tip_for(flank, rims, [sky for sky in (scene.sky, scene.obstacles) if sky]), ()
    if worst(flank, rims, stated, [scene.sky]).over <= LENGTH:
        return stated, ()
    return stated, tool_bodies(flank, rims, stated, scene.top, scene.frame)


def _within_the_flank(
    scene: Scene, job: ResolvedStep, seen: list[int], columns: tuple[Body, ...], tip: float, rims: Sequence[Rim]
) -> tuple[Body, ...]:
    """At a stated depth only what stands above the tip, and over the height that the flank has from there; along an
    edge that climbs the tip climbs too, so that all its length lies as its lowest point does."""
    shown, top = [scene.sky.shown[i] for i in seen], tip + job.tool.point_length
    heights = [(r.low, r.high) for r in rims] if len(rims) == len(seen) else [(s.low, s.high) for s in shown]
    whole = all(tip <= low + COINCIDENT and high <= top + COINCIDENT for low, high in heights)
    if job.step.bottom_z is None or whole:
        return columns
    beyond = union(scene.sky.part_above(s, top) for s in shown if s.high > top + COINCIDENT)
    room = prism(subtract(plan_of(scene, seen), [beyond]), scene.frame, tip, scene.top)
    return tuple(boolean.common(column, [room], merge=False) for column in columns)


def lifted(scene: Scene, indices: list[int], low: float) -> tuple[Body, ...]:
    """What stands on the faces, up past the top of the metal."""
    return _all_lifted(scene, [(index, low) for index in indices])


def _all_lifted(scene: Scene, lows: Sequence[tuple[int, float]]) -> tuple[Body, ...]:
    """The same, each face with a height below it.

    The face swept upwards: where it meets another that is swept so too, both have one wall, over one curve. For balls,
    rings and free forms the column over it less the part: what of it reaches the top, since where the part ends within
    the column there may be stock below it too.
    """
    found = {i: _whole_cone(scene, i) or _swept_up(scene, i, low) or _over_cone(scene, i) for i, low in lows}
    bent = [(i, low) for i, low in lows if found[i] is None]
    columns = [prism(scene.sky.region(i), scene.frame, low - CLEARANCE, scene.top) for i, low in bent]
    around = cut_each(columns, scene.part.body)
    ends = {i: _to_the_top(scene, rest) for (i, _), rest in zip(bent, around, strict=True)}
    return tuple(found[i] or ends[i] for i, _ in lows)


def _to_the_top(scene: Scene, rest: Body) -> Body:
    high = scene.top - LENGTH
    return compound(one for one in solids(rest) if measure.bounding_box(one, scene.frame).max[2] >= high)


def _swept_up(scene: Scene, index: int, low: float) -> Body | None:
    """The face itself swept upwards; None for one that is bent two ways, or of which the kernel makes nothing sound."""
    if face_facts(scene.sky.body)[index].kind not in ("plane", "cone", "cylinder"):
        return None
    try:
        body = lift_faces(scene.sky.upper(index), scene.frame.z, scene.top - low + COINCIDENT)
    except KernelError:
        return None
    return body if is_sound(body) else None


def _whole_cone(scene: Scene, index: int) -> Body | None:
    """The ring on a cone that runs all the way round an upright axis between two level circles."""
    facts, shown = face_facts(scene.sky.body)[index], scene.sky.shown[index]
    rims = [e for e in scene.sky.border(index) if e.centre is not None]
    radii = sorted({round(e.radius, 9) for e in rims})
    closed = abs(sum(abs(e.sweep) for e in rims) - 2 * math.tau) < 1e-9 and len(radii) == 2
    if facts.kind != "cone" or not closed or abs(dot(_cone_axis(index, scene), scene.frame.z)) < 1 - 1e-12:
        return None
    apex = facts.adaptor.Cone().Apex()
    x, y, z = scene.frame.to_local((apex.X(), apex.Y(), apex.Z()))
    inner, outer = radii if z < shown.low + COINCIDENT else radii[::-1]  # the radius at the lower end first
    place = scene.frame.model_copy(update={"location": scene.frame.to_world((x, y, 0.0))})
    outline = [(inner, shown.low), (outer, shown.high), (outer, scene.top), (inner, scene.top)]
    return primitives.revolve_profile(outline, place)


def _over_cone(scene: Scene, index: int) -> Body | None:
    """What stands on a piece of a cone with an upright axis, however its border runs: of the column over it what lies
    above the cone itself, which goes on past the piece to all sides, so that no two walls are nearly one."""
    facts, shown = face_facts(scene.sky.body)[index], scene.sky.shown[index]
    if facts.kind != "cone" or abs(dot(_cone_axis(index, scene), scene.frame.z)) < 1 - 1e-12:
        return None
    apex, slope = facts.adaptor.Cone().Apex(), math.tan(abs(facts.adaptor.Cone().SemiAngle()))
    x, y, z = scene.frame.to_local((apex.X(), apex.Y(), apex.Z()))
    past = min(CLEARANCE, abs(shown.low - z) / 2, abs(shown.high - z) / 2)
    if past <= LENGTH:
        return None
    first, last = ((abs(h - z) * slope, h) for h in (shown.low - past, shown.high + past))
    top = scene.top + CLEARANCE
    place = scene.frame.model_copy(update={"location": scene.frame.to_world((x, y, 0.0))})
    above = primitives.revolve_profile([first, last, (last[0], top), (first[0], top)], place)
    column = prism(scene.sky.region(index), scene.frame, shown.low - CLEARANCE, scene.top)
    try:
        return boolean.common(column, [above], merge=False)
    except KernelError:
        return None


def plan_of(scene: Scene, indices: list[int]) -> Region:
    """What the faces cover, seen along the spindle."""
    return union(scene.sky.region(i) for i in indices)


def _round(scene: Scene, job: ResolvedStep, feature: Feature, seen: list[int]) -> Sweep:
    low, high = scene.heights(feature)
    corner = job.tool.corner_radius
    formed = job.tool.type not in MILLS and abs((job.tool.RE or 0.0) - (feature.radius or 0.0)) <= LENGTH
    if not (formed or corner > LENGTH):
        return nothing(low, f"The tool has no round edge for {feature.id}.")
    free, kept, rides = (seen, [], [no_rides()] * len(seen)) if formed else at_feet(scene, job.tool, seen)
    if not free:
        return nothing(low, f"What stands beside {feature.id} bars the tool from it.")
    found = as_stated(scene, job, free, less(lifted(scene, free, low), kept), rides)
    return followed(found, plan_of(scene, free), (low, high))


def followed(found: Followed, plan: Region, heights: tuple[float, float], *notes: str) -> Sweep:
    """The sweep of a step that follows faces, which lie between two heights."""
    low, high = heights
    return Sweep(
        found.bodies,
        plan,
        found.gouging,
        tip_z=found.tip,
        full_diameter_z=high,
        nominal_z=low,
        notes=(*notes, *found.notes),
        rides=found.rides,
    )


def _chamfer_column(scene: Scene, job: ResolvedStep, index: int, column: Body) -> tuple[Body | None, str]:
    """The column on one chamfer face; with another flank angle only what the flank takes without entering the part."""
    flank = job.tool.flank_half_angle
    slope = flank_of(scene.sky.body, index, scene.frame)
    if flank is None:
        return None, "The tool has no slanted edge for a chamfer."
    if slope is None:
        return uneven_column(scene, index, column, flank)
    if abs(slope - flank) <= ANGLE:
        return column, ""
    cutter = _flank_body(scene, index, flank, slope)
    note = f"The tool's flank stands at {flank:g}°, the chamfer at {slope:g}°."
    return (boolean.common(column, [cutter], merge=False), note) if cutter else (None, note)


def _flank_body(scene: Scene, index: int, flank: float, slope: float) -> Body | None:
    """What lies beyond the tool's flank when it just touches the chamfer's upper or lower edge."""
    facts, shown = face_facts(scene.sky.body)[index], scene.sky.shown[index]
    touching = shown.high if flank > slope else shown.low
    if facts.kind == "plane":
        return _flat_flank(scene, index, flank, touching)
    if facts.kind == "cone" and abs(dot(_cone_axis(index, scene), scene.frame.z)) > 1 - 1e-9:
        return _round_flank(scene, index, flank, touching)
    return None


def _flat_flank(scene: Scene, index: int, flank: float, touching: float) -> Body:
    facts, rim = face_facts(scene.sky.body)[index], rim_of(scene.sky, scene.frame, index, math.tan(math.radians(flank)))
    nx, ny, nz = scene.frame.direction_to_local(facts.normals[0])
    climbing = None if rim is None or rim.level or not rim.edges else _climbing_flank(scene, rim, flank, (nx, ny, nz))
    if climbing is not None:
        return climbing
    size, angle = math.hypot(nx, ny), math.radians(flank)
    normal = (nx / size * math.cos(angle), ny / size * math.cos(angle), math.sin(angle))
    location = facts.adaptor.Plane().Location()
    x, y, z = scene.frame.to_local((location.X(), location.Y(), location.Z()))
    out = (z - touching) * nz / size  # the chamfer's own trace at the touching height
    point: Vec3 = (x + out * nx / size, y + out * ny / size, touching)
    reach = 4.0 * scene.metal.diagonal + 100.0
    return primitives.half_space_box(scene.frame.to_world(point), scene.frame.direction_to_world(normal), reach)


def _climbing_flank(scene: Scene, rim: Rim, flank: float, normal: Vec3) -> Body | None:
    """What lies beyond a flank that runs along a strip whose lower edge slopes, on its upper or its lower edge; None
    where the edge is too steep for it."""
    first, last = int(np.argmin(rim.climb)), int(np.argmax(rim.climb))
    run = rim.points[last] - rim.points[first]
    far, lean = math.hypot(*run), math.radians(flank)
    along, rise = run / far, float(rim.climb[last]) / far
    level = math.cos(lean) ** 2 - (math.sin(lean) * rise) ** 2
    if level < -COINCIDENT:
        return None
    out = np.array(normal[:2]) / math.hypot(*normal[:2])
    across = out - (out @ along) * along
    x, y = math.sqrt(max(level, 0.0)) * across / np.linalg.norm(across) - math.sin(lean) * rise * along
    upper = math.sin(lean) > normal[2]
    at = rim.points[first] - (rim.width[first] if upper else 0.0) * out
    point: Vec3 = (float(at[0]), float(at[1]), rim.high if upper else rim.low)
    reach = 4.0 * scene.metal.diagonal + 100.0
    way = scene.frame.direction_to_world((float(x), float(y), math.sin(lean)))
    return primitives.half_space_box(scene.frame.to_world(point), way, reach)


def _cone_axis(index: int, scene: Scene) -> Vec3:
    axis = face_facts(scene.sky.body)[index].adaptor.Cone().Axis().Direction()
    return (axis.X(), axis.Y(), axis.Z())


def _round_flank(scene: Scene, index: int, flank: float, touching: float) -> Body:
    """A turned body: outside a cone for the rim of a boss, inside one for the rim of a hole."""
    facts, shown = face_facts(scene.sky.body)[index], scene.sky.shown[index]
    apex = facts.adaptor.Cone().Apex()
    x, y, z = scene.frame.to_local((apex.X(), apex.Y(), apex.Z()))
    half = math.tan(abs(facts.adaptor.Cone().SemiAngle()))
    boss = z > shown.low
    radius = abs(touching - z) * half
    place = scene.frame.model_copy(update={"location": scene.frame.to_world((x, y, 0.0))})
    grow = math.tan(math.radians(flank))
    low, high = shown.low, scene.top
    if not boss:
        radii = [max(radius + (h - touching) * grow, 0.0) for h in (low, high)]
        return primitives.revolve_profile([(0.0, low), (radii[0], low), (radii[1], high), (0.0, high)], place)
    far = radius + 2.0 * scene.metal.diagonal
    tip = min(high, touching + radius / grow)
    inner = [(radius - (h - touching) * grow, h) for h in (low, tip)]
    rest = [(0.0, high)] if tip < high else []
    return primitives.revolve_profile([(far, low), (far, high), *rest, *inner[::-1]], place)
