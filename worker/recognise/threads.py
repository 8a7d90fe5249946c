"""Threads that a model carries: helical faces read as the round face they are cut into, or names of round faces.

A modelled thread is many narrow faces. For everything that follows it counts as one cylinder: a nut's as its bore of
minor diameter, a bolt's as its shank of major diameter; the thread's designation goes along with it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from schemas.base import add, cross, dot, norm, sub
from schemas.thread_series import thread_in_name, thread_named
from schemas.tolerances import LENGTH, SCREW_ALIKE, SCREW_AXIS
from worker.kernel.graph import FaceGraph
from worker.kernel.graph_helix import Helix
from worker.kernel.graph_surface import Surface
from worker.recognise.carriers import same_carrier
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape, Patch, part_shape

STEEPEST = 0.3
"""Lead over the circumference at the crest (ratio): a thread is flatter, a gear or a twisted groove steeper."""
SHALLOW, DEEP = 0.3, 0.95
"""Depth of a thread over its pitch: H of a sharp 60 degree vee is 0.866 P, a trapezoid 0.5 P (ISO 68-1, ISO 2904)."""
LEVEL = 0.1
"""Sine below which a plane counts as square to the axis: a floor or seat, never the end of a thread's groove."""


@dataclass(frozen=True, eq=False)
class _Run:
    """The flanks of one thread: their patches, screw axis, and the radii between which they lie (mm)."""

    patches: tuple[int, ...]
    helix: Helix
    least: float
    most: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Screw:
    """A thread of the model: its designation, the round face it is cut into and where that ends along its axis.

    ``cut``: the faces of its flanks, which the plain part is without; ``faces``: those and the round face's own.
    Both are empty for a thread that is only named.
    """

    name: str
    carrier: Surface
    low: float
    high: float
    cut: frozenset[int] = frozenset()
    faces: frozenset[int] = frozenset()

    def lies_on(self, patch: Patch) -> bool:
        """True for a round patch on the thread's own carrier, where the thread is."""
        low, high = patch.span(self.carrier.axis)
        return same_carrier(patch.surface, self.carrier) and low < self.high and high > self.low


def screws_of(graph: FaceGraph, names: Mapping[int, str]) -> tuple[Screw, ...]:
    """The threads that helical faces make, and those that the names of round faces state."""
    if not names and not any(face.helix for face in graph.faces):
        return ()
    shape = part_shape(graph)
    found: list[Screw] = []
    for run in _runs(graph, shape):
        screw = _screw(shape, run) if _is_thread(run) else None
        twin = next((s for s in found if screw and s.faces & screw.faces), None)
        if screw and twin:  # a bore that is tapped from both ends is one
            found.remove(twin)
            low, high = min(twin.low, screw.low), max(twin.high, screw.high)
            screw = replace(twin, low=low, high=high, cut=twin.cut | screw.cut, faces=twin.faces | screw.faces)
        found += [screw] if screw else []
    return (*found, *_named(shape, names))


def _screw(shape: PartShape, run: _Run) -> Screw:
    carrier = _carrier(shape, run)
    cut = _cut_into(shape, run, carrier)
    whole = cut | _carrying(shape, run, carrier)
    name = thread_named(2 * run.most, abs(run.helix.lead), run.helix.lead < 0)
    ends = [shape.patches[p].span(carrier.axis) for p in run.patches]
    low, high = min(e[0] for e in ends), max(e[1] for e in ends)
    return Screw(name, carrier, low, high, _faces_of(shape, cut), _faces_of(shape, whole))


def threaded(graph: FaceGraph, screws: Sequence[Screw], grooved: bool = True) -> PartShape:
    """The part's patches with the threads on them; ``grooved``: flanks count as the round face they are cut into."""
    shape = part_shape(graph, [(s.faces, s.carrier) for s in screws if s.faces] if grooved else ())
    return replace(shape, threads={p.index: s.name for s in screws for p in shape.patches if s.lies_on(p)})


def _runs(graph: FaceGraph, shape: PartShape) -> list[_Run]:
    groups: list[list[int]] = []
    for patch in shape.patches:
        helix = _helix(graph, patch)
        if helix is None:
            continue
        home = next((g for g in groups if _one_screw(_helix(graph, shape.patches[g[0]]), helix)), None)
        if home is None:
            groups.append([patch.index])
        else:
            home.append(patch.index)
    return [_run(graph, shape, group) for group in groups]


def _helix(graph: FaceGraph, patch: Patch) -> Helix | None:
    return graph.faces[patch.faces[0]].helix


def _one_screw(a: Helix | None, b: Helix) -> bool:
    if a is None or abs(a.lead - b.lead) > SCREW_ALIKE * abs(a.lead) or norm(cross(a.axis, b.axis)) > SCREW_AXIS:
        return False
    gap = sub(b.origin, a.origin)
    return norm(add(gap, a.axis, -dot(gap, a.axis))) < SCREW_ALIKE * abs(a.lead) + SCREW_AXIS * norm(gap)


def _run(graph: FaceGraph, shape: PartShape, group: list[int]) -> _Run:
    patches = [shape.patches[p] for p in group]
    largest = max(patches, key=lambda p: (round(p.area, 6), -p.index))
    inward = sum(p.area for p in patches if getattr(_helix(graph, p), "inward", False))
    helix = _helix(graph, largest)
    assert helix is not None  # the group was made of patches that have one
    helix = replace(helix, inward=inward > 0.5 * sum(p.area for p in patches))
    helix = _straightened(shape, group, helix)
    radii, heights = _places(np.concatenate([p.vertices for p in patches]), helix)
    return _Run(tuple(group), helix, radii[0], radii[1], heights[0], heights[1])


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


def _places(points: np.ndarray, helix: Helix) -> tuple[tuple[float, float], tuple[float, float]]:
    """Least and greatest distance from the axis, and height along it."""
    rest = points - np.array(helix.origin)
    along = rest @ np.array(helix.axis)
    radial = np.linalg.norm(rest - np.outer(along, helix.axis), axis=1)
    return (float(radial.min()), float(radial.max())), (float(along.min()), float(along.max()))


def _is_thread(run: _Run) -> bool:
    pitch = abs(run.helix.lead)
    flat = pitch < STEEPEST * 2 * math.pi * run.most
    return flat and SHALLOW * pitch < run.most - run.least < DEEP * pitch and run.high - run.low > 0.8 * pitch


def _cut_into(shape: PartShape, run: _Run, carrier: Surface) -> set[int]:
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


def _carrying(shape: PartShape, run: _Run, carrier: Surface) -> set[int]:
    """Patches of the bore or shank itself beside the flanks."""
    near = {o for p in run.patches for o in shape.patches[p].neighbours}
    return {o for o in near if same_carrier(shape.patches[o].surface, carrier)}


def _faces_of(shape: PartShape, patches: Iterable[int]) -> frozenset[int]:
    return frozenset(f for p in patches for f in shape.patches[p].faces)


def _between(patch: Patch, run: _Run) -> bool:
    surface, pitch = patch.surface, abs(run.helix.lead)
    sine = norm(cross(surface.axis, run.helix.axis))
    if (surface.kind == "plane" and sine < LEVEL) or (surface.kind == "cone" and sine < SCREW_AXIS):
        return False
    (least, most), (low, high) = _places(patch.vertices, run.helix)
    slack = SCREW_ALIKE * pitch
    thin = run.least - slack < least and most < run.most + slack
    return thin and run.low - pitch < low and high < run.high + pitch


def _carrier(shape: PartShape, run: _Run) -> Surface:
    """The bore of a nut's crests, the shank of a bolt's: the true cylinder beside the flanks, where there is one."""
    radius = run.least if run.helix.inward else run.most
    for other in sorted({o for p in run.patches for o in shape.patches[p].neighbours}):
        surface = shape.patches[other].surface
        alike = surface.kind == "cylinder" and surface.hollow == run.helix.inward
        near = abs(surface.radius - radius) < SCREW_ALIKE * abs(run.helix.lead)
        if alike and near and norm(cross(surface.axis, run.helix.axis)) < SCREW_AXIS:
            return surface
    return Surface("cylinder", run.helix.origin, run.helix.axis, run.helix.inward, radius)


def _named(shape: PartShape, names: Mapping[int, str]) -> list[Screw]:
    """Threads that the file states by the names of round faces, where the face has a size of that thread."""
    found: list[Screw] = []
    for face, name in sorted(names.items()):
        patch = shape.patches[shape.of_face[face]]
        thread = thread_in_name(name) if patch.surface.kind == "cylinder" else None
        if thread and thread.minor - LENGTH <= 2 * patch.surface.radius <= max(thread.major, thread.minor_max) + LENGTH:
            stated = thread_named(thread.major, thread.pitch, thread.left)
            found.append(Screw(stated, patch.surface, *patch.span(patch.surface.axis)))
    return found


def give_threads(shape: PartShape, drafts: list[Draft]) -> None:
    """Write the designation on the holes, bosses and contours that own a threaded patch; not on their compounds."""
    for draft in drafts:
        carried = {shape.threads[p] for p in draft.patches if p in shape.threads}
        if len(carried) == 1 and not draft.elements and draft.class_ in ("round_hole", "boss", "profile_feature"):
            draft.sizes["thread"] = carried.pop()
