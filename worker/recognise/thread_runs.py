"""The flanks of a modelled thread put together: patches that one screw motion maps onto themselves, and their ends."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, add, cross, dot, norm, scale, sub
from schemas.tolerances import SCREW_ALIKE, SCREW_AXIS
from worker.kernel.graph import FaceGraph
from worker.kernel.graph_helix import Helix
from worker.kernel.graph_surface import Surface
from worker.recognise.carriers import same_carrier
from worker.recognise.patches import PartShape, Patch
from worker.recognise.thread_form import Flank, Form, form_of, from_axis, slope_of

STEEPEST = 0.3
"""Lead over the circumference at the crest (ratio): a thread is flatter, a gear or a twisted groove steeper."""
SHALLOW, DEEP = 0.3, 0.95
"""Depth of a thread over its pitch: H of a sharp 60 degree vee is 0.866 P, a trapezoid 0.5 P (ISO 68-1, ISO 2904)."""
LEVEL = 0.1
"""Sine below which a plane counts as square to the axis: a floor or seat, never the end of a thread's groove."""
TAPERED = 0.01, 0.2
"""A thread is tapered whose radius grows by more than the first for each mm along its axis (pipe threads: 1 / 32,
ISO 7-1, ASME B1.20.1); a cone that widens faster than the second is a chamfer beside it."""

NEAR = 0.1
"""One flank of a tapered thread tells its axis within this share of the lead."""


@dataclass(frozen=True, eq=False)
class Run:
    """The flanks of one thread: their patches, screw axis, and the radii between which they lie (mm).

    Of a tapered one the radii are those at the axis' origin. ``low``, ``high``: how far they reach along the axis.
    """

    patches: tuple[int, ...]
    helix: Helix
    least: float
    most: float
    low: float
    high: float
    form: Form

    @property
    def pitch(self) -> float:
        """From one turn of the thread to the next along the axis (mm); without meaning where starts are uneven."""
        return abs(self.helix.lead) / max(self.form.starts, 1)


def runs_of(graph: FaceGraph, shape: PartShape) -> list[Run]:
    """All helical patches, those of one screw together."""
    groups: list[list[tuple[int, Helix]]] = []
    for patch in shape.patches:
        helix = _helix(graph, shape, patch)
        if helix is None:
            continue
        home = next((g for g in groups if _one_screw(g[0][1], helix)), None)
        if home is None:
            groups.append([(patch.index, helix)])
        else:
            home.append((patch.index, helix))
    return [_run(graph, shape, group) for group in groups]


def _helix(graph: FaceGraph, shape: PartShape, patch: Patch) -> Helix | None:
    helix = graph.faces[patch.faces[0]].helix
    if helix is None:
        return None
    cone = next((c for o in patch.neighbours if _slim(c := shape.patches[o].surface, helix)), None)
    return helix if cone is None else _along_taper(patch, helix, cone)


def _slim(surface: Surface, helix: Helix) -> bool:
    """A crest of a tapered thread: a cone about the axis that hardly widens."""
    if surface.kind != "cone" or not TAPERED[0] < math.tan(surface.half_angle) < TAPERED[1]:
        return False
    return norm(cross(surface.axis, helix.axis)) < SCREW_AXIS and _off(surface, helix) < NEAR * abs(helix.lead)


def _off(surface: Surface, helix: Helix) -> float:
    """How far a screw axis passes a surface's own at the middle of its flanks (mm)."""
    gap = sub(helix.origin, surface.origin)
    return norm(add(gap, surface.axis, -dot(gap, surface.axis)))


def _along_taper(patch: Patch, helix: Helix, cone: Surface) -> Helix:
    """A flank of slope ``s`` that drifts ``k`` aside a mm along seems to rise by ``h (1 - s k)`` at one radius."""
    taper = math.tan(cone.half_angle)
    middle = scale(cone.axis, dot(sub(helix.origin, cone.origin), cone.axis))
    true = replace(helix, axis=cone.axis, origin=add(cone.origin, middle))
    slope = slope_of(patch.vertices, true)
    return replace(true, lead=helix.lead / (1 - slope * taper), taper=taper)


def _one_screw(a: Helix, b: Helix) -> bool:
    if abs(a.lead - b.lead) > SCREW_ALIKE * abs(a.lead) or norm(cross(a.axis, b.axis)) > SCREW_AXIS:
        return False
    if abs(a.taper - b.taper) > SCREW_ALIKE * abs(a.taper):
        return False
    gap = sub(b.origin, a.origin)
    return norm(add(gap, a.axis, -dot(gap, a.axis))) < SCREW_ALIKE * abs(a.lead) + SCREW_AXIS * norm(gap)


def _run(graph: FaceGraph, shape: PartShape, group: list[tuple[int, Helix]]) -> Run:
    patches = [shape.patches[p] for p, _ in group]
    largest = max(range(len(group)), key=lambda n: (round(patches[n].area, 6), -patches[n].index))
    inward = sum(p.area for p, (_, h) in zip(patches, group, strict=True) if h.inward)
    helix = replace(group[largest][1], inward=inward > 0.5 * sum(p.area for p in patches))
    if not helix.taper:
        helix = _straightened(shape, [p for p, _ in group], helix)
    radii, along = from_axis(np.concatenate([p.vertices for p in patches]), helix)
    form = form_of([Flank(p.vertices, p.area, dot(p.looks, helix.axis) > 0) for p in patches], helix)
    places = (float(radii.min()), float(radii.max()), float(along.min()), float(along.max()))
    return Run(tuple(p for p, _ in group), helix, *places, form)


def _straightened(shape: PartShape, group: list[int], helix: Helix) -> Helix:
    """The axis of a true cylinder or the normal of a plane beside the flanks, where it is nearly the same."""
    near = [shape.patches[o].surface for p in group for o in shape.patches[p].neighbours]
    for kind in ("cylinder", "plane"):
        for surface in near:
            if surface.kind == kind and norm(cross(surface.axis, helix.axis)) < SCREW_AXIS:
                gap = sub(surface.origin, helix.origin)
                off = norm(add(gap, surface.axis, -dot(gap, surface.axis)))
                if kind == "plane":
                    return replace(helix, axis=surface.axis)
                if off < SCREW_ALIKE * abs(helix.lead):
                    return replace(helix, axis=surface.axis, origin=surface.origin)
    return helix


def is_thread(run: Run) -> bool:
    """Whether flanks are as flat, as deep for their pitch and as long as a thread's."""
    pitch = run.pitch
    flat = abs(run.helix.lead) < STEEPEST * 2 * math.pi * run.most
    deep = SHALLOW * pitch < run.most - run.least < DEEP * pitch
    return run.form.starts > 0 and flat and deep and run.high - run.low > 0.8 * pitch


def cut_into(shape: PartShape, run: Run, carrier: Surface) -> set[int]:
    """Patches of the flanks and of what lies between them: roots, the ends of the groove; not the carrier's own."""
    members = set(run.patches)
    waiting = list(run.patches)
    while waiting:
        for other in shape.patches[waiting.pop()].neighbours:
            beside = shape.patches[other]
            if other not in members and _between(beside, run) and not same_carrier(beside.surface, carrier):
                members.add(other)
                waiting.append(other)
    return members


def carrying(shape: PartShape, run: Run, carrier: Surface) -> set[int]:
    """Patches of the bore or shank itself beside the flanks."""
    near = {o for p in run.patches for o in shape.patches[p].neighbours}
    return {o for o in near if same_carrier(shape.patches[o].surface, carrier)}


def _between(patch: Patch, run: Run) -> bool:
    surface, pitch = patch.surface, run.pitch
    sine = norm(cross(surface.axis, run.helix.axis))
    if surface.kind == "plane" and (sine < LEVEL or patch.area > pitch * pitch):
        return False
    if surface.kind == "cone" and sine < SCREW_AXIS:
        return False
    if surface.kind == "cylinder" and sine > SCREW_AXIS:  # what crosses the thread: a hole, a round flat
        return False
    radii, along = from_axis(_spread(patch), run.helix)
    slack = SCREW_ALIKE * pitch
    thin = run.least - slack < radii.min() and radii.max() < run.most + slack
    return bool(thin and run.low - pitch < along.min() and along.max() < run.high + pitch)


def _spread(patch: Patch) -> NDArray[np.float64]:
    """Corners, edges and middles of a patch's triangles: corners alone stand round what reaches across the axis."""
    corners = patch.corners
    edges = (corners + np.roll(corners, 1, axis=1)).reshape(-1, 3) / 2
    return np.concatenate([corners.reshape(-1, 3), edges, corners.mean(axis=1)])


def carrier_of(shape: PartShape, run: Run) -> Surface:
    """The bore of a nut's crests, the shank of a bolt's: the true round face beside the flanks, where there is one."""
    radius = run.least if run.helix.inward else run.most
    for other in sorted({o for p in run.patches for o in shape.patches[p].neighbours}):
        surface = shape.patches[other].surface
        alike = surface.kind == ("cone" if run.helix.taper else "cylinder") and surface.hollow == run.helix.inward
        near = abs(_radius_at(surface, run.helix) - radius) < SCREW_ALIKE * abs(run.helix.lead)
        if alike and near and norm(cross(surface.axis, run.helix.axis)) < SCREW_AXIS:
            return surface
    if run.helix.taper:
        return _cone(run.helix, radius)
    return Surface("cylinder", run.helix.origin, run.helix.axis, run.helix.inward, radius)


def _radius_at(surface: Surface, helix: Helix) -> float:
    """The radius of a round face at the place from which a screw's own radii count."""
    if surface.kind != "cone":
        return surface.radius
    return math.tan(surface.half_angle) * abs(dot(sub(helix.origin, surface.origin), surface.axis))


def _cone(helix: Helix, radius: float) -> Surface:
    apex = add(helix.origin, helix.axis, -radius / helix.taper)
    return Surface("cone", apex, helix.axis, helix.inward, half_angle=math.atan(helix.taper))


def walls_beside(shape: PartShape, run: Run, members: Iterable[int], carrier: Surface) -> dict[int, Surface]:
    """The faces that end or cross the thread, by patch: what flanks and crests meet, within the thread's length."""
    inside = set(members)
    ends: dict[int, Surface] = {}
    for member in sorted(inside):
        for rim in shape.patches[member].rims:
            beside = shape.patches[rim.other].surface
            if rim.other not in inside and not same_carrier(beside, carrier) and _reaches(rim.points, run):
                ends[rim.other] = beside
    return ends


def _reaches(points: Iterable[Vec3], run: Run) -> bool:
    along = from_axis(np.array(list(points)), run.helix)[1]
    return bool(along.max() > run.low - run.pitch / 2 and along.min() < run.high + run.pitch / 2)
