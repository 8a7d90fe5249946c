"""Holes: tools that work on the axis (drills, reamers, borers, sinks, taps), and cutters that mill a hole out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from schemas.base import Vec3, dot
from schemas.feature import Feature, is_pit
from schemas.plan import Workingstep
from schemas.tolerances import COINCIDENT, LENGTH
from schemas.tool import MILLS, Tool
from worker.kernel import measure, primitives
from worker.kernel.planar import disc
from worker.kernel.primitives import ProfilePoint
from worker.kernel.shadow import face_facts
from worker.kernel.shape import Body
from worker.stage.model import Plunge, ResolvedStep
from worker.stage.removal.planes import clear
from worker.stage.removal.recesses import clear_recess
from worker.stage.removal.scene import ALONG, CLEARANCE, Scene, Sweep, merge_sweeps, nothing

ROUNDED = frozenset({"flat_with_radius", "spherical"})
"""Bottoms that a milling cutter follows like the floor of a pocket."""
POINTED = frozenset({"spotdrill", "countersink", "chamfer_mill"})


@dataclass(frozen=True)
class Bore:
    """One round hole as the spindle sees it: its axis (x, y), the heights of both ends, the diameter at each.

    ``face`` is the height of the face that it opens in, above ``entry`` where a chamfer breaks its edge; ``bottom`` of
    a through hole is that of the face that it comes out of, in the same way.
    """

    feature: Feature
    x: float
    y: float
    entry: float
    bottom: float
    diameter: float
    lower_diameter: float
    face: float

    @property
    def through(self) -> bool:
        """Open below."""
        return self.feature.bottom == "through"

    @property
    def point(self) -> float | None:
        """Height of the point of a pit, a hole that is all cone; None for any other."""
        angle = self.feature.tip_angle
        if not is_pit(self.feature) or angle is None:
            return None
        return self.entry - self.diameter / 2 / math.tan(math.radians(angle / 2))

    @property
    def tapered(self) -> bool:
        """True for a countersink."""
        return self.diameter - self.lower_diameter > LENGTH


def bores(scene: Scene, feature: Feature) -> tuple[Bore, ...]:
    """The hole's elements from the spindle's side down; empty when the axis is not the setup's."""
    elements = [scene.part.feature(id) for id in feature.elements] or [feature]
    found = [_bore(scene, f) for f in elements if abs(dot(f.placement.z, scene.frame.z)) > ALONG]
    return tuple(sorted(found, key=lambda b: (-b.entry, -b.diameter)))


def _bore(scene: Scene, feature: Feature) -> Bore:
    x, y, _ = scene.frame.to_local(feature.placement.location)
    walls = [i for i in feature.faces if face_facts(scene.sky.body)[i].kind in ("cylinder", "cone")]
    sides = [i for i in walls if scene.sky.shown[i].look == "upright"] or walls or list(feature.faces)
    shown = [scene.sky.shown[i] for i in sides]
    top = max(feature.diameter or 0.0, feature.top_diameter or 0.0)
    low = min(feature.diameter or top, top)
    entry = max(s.high for s in shown)
    lowest = [scene.sky.shown[i] for i in feature.faces] if feature.bottom == "flat_with_radius" else shown
    bottom = entry if is_pit(feature) else min(s.low for s in lowest)
    ends = scene.open_ends(feature)
    return Bore(feature, x, y, entry, min((bottom, *ends)), top, low, max((entry, *ends)))


def seen_from(scene: Scene, feature: Feature) -> bool:
    """True when the spindle's side is one of the feature's access directions."""
    return any(dot(direction, scene.frame.z) > ALONG for direction in feature.access)


def make_hole(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """What the step's tool takes out of a hole."""
    behind = job.step.operation == "back_boring"
    found = tuple(
        b for b in bores(scene, feature) if behind or seen_from(scene, feature) or seen_from(scene, b.feature)
    )
    if not found:
        return nothing(scene.heights(feature)[0], f"The spindle does not see {feature.id} along its axis.")
    if job.step.operation == "tapping":
        return _tap(scene, job, found)
    if behind:
        return _bore_from_behind(scene, job, found)
    if job.tool.type in POINTED or job.step.operation == "center_drilling":
        return _sink(scene, job, found)
    if job.tool.type in MILLS and job.step.operation not in ("drilling", "multistep_drilling"):
        return _mill_out(scene, job, found)
    return _plunge(scene, job, _target(found, job.tool))


def _target(found: tuple[Bore, ...], tool: Tool) -> Bore:
    """The element that the tool goes down to: the deepest that it fits, else the widest."""
    fitting = [b for b in found if not b.tapered and b.diameter >= tool.diameter - LENGTH]
    if fitting:
        return min(fitting, key=lambda b: b.bottom)
    return max(found, key=lambda b: (b.lower_diameter, -b.bottom))


def _plunge(scene: Scene, job: ResolvedStep, bore: Bore) -> Sweep:
    """The tool goes straight down the axis and is obeyed, whatever it meets."""
    point, tool = job.tool.point_length, job.tool
    full = _full_diameter_height(job.step, bore, point)
    tip = full - point
    profile = _tool_profile(tool, tip, full, scene.top)
    place = scene.frame.model_copy(update={"location": scene.frame.to_world((bore.x, bore.y, 0.0))})
    body = primitives.revolve_profile(profile, place)
    return Sweep(
        bodies=(body,),
        plan=disc((bore.x, bore.y), tool.radius),
        gouging=(body,) if _may_gouge(scene, bore, tool, tip, full) else (),
        pardoned=_conical_zone(scene, bore, tool),
        tip_z=tip,
        full_diameter_z=full,
        nominal_z=bore.bottom,
        plunges=(_plunge_record(scene, bore, tool.diameter, tip, full),),
        column=max(full, tip + tool.corner_radius),
    )


def _full_diameter_height(step: Workingstep, bore: Bore, point: float) -> float:
    if step.bottom_z is not None:
        return step.bottom_z + point
    if step.cutting_depth is not None:
        return bore.face - step.cutting_depth
    lowered = step.overcut_length if bore.through else 0.0
    on_floor = point if bore.feature.bottom in ("flat", "flat_with_radius") else 0.0
    return bore.bottom + step.allowance_bottom + on_floor - lowered


def _tool_profile(tool: Tool, tip: float, full: float, top: float) -> list[ProfilePoint]:
    """Half the tool's outline, (r, z): point or round corner, edge, and straight up from there."""
    radius, flat = tool.radius, (tool.tip_diameter or 0.0) / 2 if full > tip else 0.0
    top, corner = max(top, full + tool.corner_radius + CLEARANCE), tool.corner_radius
    points: list[ProfilePoint] = [(0.0, tip)]
    if full - tip <= COINCIDENT < corner:
        bow = corner * (1.0 - math.sqrt(0.5))
        inner: list[ProfilePoint] = [(radius - corner, tip)] if radius - corner > COINCIDENT else []
        return [*points, *inner, (radius, tip + corner, radius - bow, tip + bow), (radius, top), (0.0, top)]
    if flat > COINCIDENT:
        points.append((flat, tip))
    if full - tip > COINCIDENT or not points[1:]:
        points.append((radius, full))
    return [*points, (radius, top), (0.0, top)]


def _may_gouge(scene: Scene, bore: Bore, tool: Tool, tip: float, full: float) -> bool:
    """False when the tool stays in the hole's own room: no wider, and nothing of the part below it or above it."""
    if tool.diameter > bore.lower_diameter + LENGTH or (full < bore.bottom - COINCIDENT and not bore.through):
        return True
    plan = disc((bore.x, bore.y), tool.radius - COINCIDENT)
    return scene.part_above(bore.entry, plan) or scene.part_stands(tip, bore.bottom, plan)


def _conical_zone(scene: Scene, bore: Bore, tool: Tool) -> tuple[Body, ...]:
    """Where the tool's point stands when its full diameter ends with the hole's: what it cuts there is fit.bottom's.

    What a tool takes below that, it takes by going too deep; and so it does where the cone is but the foot of a flat
    floor.
    """
    if bore.feature.bottom not in ("conical", "spherical") or is_pit(bore.feature) or not tool.point_length:
        return ()
    if bore.feature.bottom == "conical" and _has_floor(scene, bore):
        return ()
    radius, tip = min(tool.diameter, bore.diameter) / 2, bore.bottom - tool.point_length - LENGTH
    blunt = min((tool.tip_diameter or 0.0) / 2, radius)
    side = tip + tool.point_length * (radius - blunt) / (tool.radius - (tool.tip_diameter or 0.0) / 2)
    ends: list[ProfilePoint] = [(0.0, tip), *([(blunt, tip)] if blunt > COINCIDENT else [])]
    wide = radius * (1 + 1e-9)
    profile: list[ProfilePoint] = [*ends, (wide, side), (wide, bore.bottom), (0.0, bore.bottom)]
    place = scene.frame.model_copy(update={"location": scene.frame.to_world((bore.x, bore.y, 0.0))})
    return (primitives.revolve_profile(profile, place),)


def _has_floor(scene: Scene, bore: Bore) -> bool:
    """Whether metal stands across the end of a hole's conical bottom: it runs to a floor, not to a point or a hole."""
    low = min(scene.sky.shown[i].low for i in bore.feature.faces)
    radius = bore.diameter / 2 - (bore.bottom - low) * math.tan(math.radians((bore.feature.tip_angle or 180.0) / 2))
    if radius <= LENGTH:
        return False
    place = scene.frame.to_world((bore.x + radius - LENGTH, bore.y, low - LENGTH))
    return measure.contains(scene.part.body, place) == "in"


def _plunge_record(scene: Scene, bore: Bore, diameter: float, tip: float, full: float) -> Plunge:
    centre: Vec3 = scene.frame.to_world((bore.x, bore.y, bore.entry))
    return Plunge(bore.feature.id, centre, diameter, bore.entry, tip, full)


def _sink(scene: Scene, job: ResolvedStep, found: tuple[Bore, ...]) -> Sweep:
    """Spots and countersinks: as deep as the cone meets the model's edges, or as deep as is stated."""
    tool, step = job.tool, job.step
    tip = _sink_tip(step, tool, found)
    full = tip + tool.point_length
    profile = _tool_profile(tool, tip, full, scene.top)
    place = scene.frame.model_copy(update={"location": scene.frame.to_world((found[0].x, found[0].y, 0.0))})
    body = primitives.revolve_profile(profile, place)
    deepest, plan = _deepest_tip(tool, found), disc((found[0].x, found[0].y), tool.radius)
    return Sweep(
        bodies=(body,),
        plan=plan,
        gouging=(body,) if tip < deepest - COINCIDENT or scene.part_above(found[0].entry, plan) else (),
        tip_z=tip,
        full_diameter_z=full,
        nominal_z=deepest,
        plunges=(_plunge_record(scene, found[0], tool.diameter, tip, full),),
        column=max(full, tip + tool.corner_radius),
    )


def _sink_tip(step: Workingstep, tool: Tool, found: tuple[Bore, ...]) -> float:
    if step.bottom_z is not None:
        return step.bottom_z
    if step.cutting_depth is not None:
        to_tip = step.operation == "center_drilling"
        return found[0].face - step.cutting_depth - (0.0 if to_tip else tool.point_length)
    return _deepest_tip(tool, found) + step.allowance_bottom


def _deepest_tip(tool: Tool, found: tuple[Bore, ...]) -> float:
    """The lowest tip at which the cone does not enter the part: each edge of the bore may hold it up."""
    half = math.tan(math.radians(tool.flank_half_angle or 90.0))
    blunt = (tool.tip_diameter or 0.0) / 2
    stops = [found[0].entry - tool.point_length]
    for bore in found:
        for z, diameter in ((bore.entry, bore.diameter), (bore.bottom, bore.lower_diameter)):
            if diameter < tool.diameter - COINCIDENT and not (z == bore.bottom and not bore.tapered):
                stops.append(z - max(diameter / 2 - blunt, 0.0) / half)
        if bore.feature.bottom in ("flat", "flat_with_radius"):
            stops.append(bore.bottom)
        if bore.point is not None:  # the pit's cone holds up the tool's tip, or its widest place within the mouth
            rise = 1 / math.tan(math.radians((bore.feature.tip_angle or 0.0) / 2))
            wide = min(bore.diameter, tool.diameter) / 2
            stops += [bore.point + blunt * rise, bore.point + wide * rise - max(wide - blunt, 0.0) / half]
    return max(stops)


def _mill_out(scene: Scene, job: ResolvedStep, found: tuple[Bore, ...]) -> Sweep:
    """A cutter clears each element's column, as far as it goes in."""
    sweeps = []
    for bore in found:
        if bore.tapered:
            continue
        if bore.feature.bottom in ROUNDED:
            sweeps.append(clear_recess(scene, job, bore.feature))
            continue
        column = disc((bore.x, bore.y), bore.diameter / 2)
        lowered = job.step.overcut_length if bore.through else 0.0
        sweeps.append(clear(scene, job, column, bore.bottom, seed=column, lowered=lowered))
    return merge_sweeps(sweeps) if sweeps else nothing(found[-1].bottom)


def _tap(scene: Scene, job: ResolvedStep, found: tuple[Bore, ...]) -> Sweep:
    """Metal between the drilled and the modelled bore, where the model has the thread's major diameter."""
    bore = min(found, key=lambda b: (abs(b.diameter - job.tool.diameter), b.bottom))
    full = _full_diameter_height(job.step, bore, 0.0)
    record = _plunge_record(scene, bore, job.tool.diameter, full, full)
    bodies: tuple[Body, ...] = ()
    if abs(bore.diameter - job.tool.diameter) <= LENGTH:
        start, end = (scene.frame.to_world((bore.x, bore.y, z)) for z in (full, scene.top))
        bodies = (primitives.cylinder(start, end, bore.diameter),)
    plan = disc((bore.x, bore.y), bore.diameter / 2)
    notes = _no_depth_of_thread(job.step, bore)
    return Sweep(bodies, plan, tip_z=full, full_diameter_z=full, nominal_z=bore.bottom, plunges=(record,), notes=notes)


def _no_depth_of_thread(step: Workingstep, bore: Bore) -> tuple[str, ...]:
    if bore.through or step.cutting_depth is not None or step.bottom_z is not None:
        return ()
    return (f"States no depth of thread: whether {bore.feature.id} has room for the tap's chamfer is not judged.",)


def _bore_from_behind(scene: Scene, job: ResolvedStep, found: tuple[Bore, ...]) -> Sweep:
    """The tool is passed through and cuts upwards: from below the metal up to the ledge that looks down."""
    bore = min(found, key=lambda b: b.entry)
    ledge = bore.entry if job.step.bottom_z is None else job.step.bottom_z
    low = scene.metal.min[2] - CLEARANCE
    start, end = (scene.frame.to_world((bore.x, bore.y, z)) for z in (low, ledge))
    body = primitives.cylinder(start, end, job.tool.diameter)
    record = _plunge_record(scene, bore, job.tool.diameter, bore.bottom, bore.bottom)
    gouging = (body,) if job.tool.diameter > bore.diameter + LENGTH or job.step.bottom_z is not None else ()
    plan = disc((bore.x, bore.y), job.tool.radius)
    return Sweep(
        (body,), plan, gouging, tip_z=bore.bottom, full_diameter_z=bore.bottom, nominal_z=bore.bottom, plunges=(record,)
    )
