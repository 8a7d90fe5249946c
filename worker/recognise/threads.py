"""Threads that a model carries: helical faces read as the round face they are cut into, or names of round faces.

A modelled thread is many narrow faces. For everything that follows it counts as one round face: a nut's as its bore of
minor diameter, a bolt's as its shank of major diameter; the thread's designation goes along with it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from schemas.base import Vec3, add, cross, dot, norm, sub
from schemas.thread_forms import MeasuredThread, designation_of
from schemas.thread_series import thread_in_name, thread_named
from schemas.tolerances import LENGTH, SCREW_AXIS
from worker.kernel.graph import FaceGraph
from worker.kernel.graph_surface import Surface
from worker.kernel.refill import Skin
from worker.recognise.carriers import same_carrier
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape, Patch, part_shape
from worker.recognise.thread_runs import LEVEL, Run, carrier_of, carrying, cut_into, is_thread, runs_of, walls_beside

INTO = 0.02
"""Depth below a crest (share of the pitch) at which a point is in a thread's metal."""


@dataclass(frozen=True, slots=True)
class Groove:
    """What refills a thread: the skin it is cut into, the faces that end or cross it, and points in its ridges."""

    skin: Skin
    walls: tuple[Surface, ...]
    ridges: tuple[Vec3, ...]
    across: tuple[Surface, ...]
    """What runs into the thread from aside: it is still there when the thread is filled."""
    slow: bool
    """True where extending the faces beside the thread takes long: something crosses it, or it is tapered."""


@dataclass(frozen=True, slots=True)
class Screw:
    """A thread of the model: its designation, the round face it is cut into and where that ends along its axis.

    ``cut``: the faces of its flanks, which the plain part is without; ``faces``: those and the round face's own.
    Both are empty for a thread that is only named. ``grooves``: what fills it again.
    """

    name: str
    carrier: Surface
    low: float
    high: float
    cut: frozenset[int] = frozenset()
    faces: frozenset[int] = frozenset()
    grooves: tuple[Groove, ...] = ()

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
    for run in runs_of(graph, shape):
        screw = _screw(shape, run) if is_thread(run) else None
        twin = next((s for s in found if screw and s.faces & screw.faces), None)
        if screw and twin:  # a bore that is tapped from both ends is one
            found.remove(twin)
            low, high = min(twin.low, screw.low), max(twin.high, screw.high)
            cut, faces = twin.cut | screw.cut, twin.faces | screw.faces
            screw = replace(twin, low=low, high=high, cut=cut, faces=faces, grooves=twin.grooves + screw.grooves)
        found += [screw] if screw else []
    return (*found, *_named(shape, names))


def _screw(shape: PartShape, run: Run) -> Screw:
    carrier = carrier_of(shape, run)
    cut = cut_into(shape, run, carrier)
    crests = carrying(shape, run, carrier)
    ends = [shape.patches[p].span(carrier.axis) for p in run.patches]
    low, high = min(e[0] for e in ends), max(e[1] for e in ends)
    groove = _groove(shape, run, cut, crests, carrier)
    faces = _faces_of(shape, cut | crests)
    return Screw(_name(run), carrier, low, high, _faces_of(shape, cut), faces, (groove,))


def _name(run: Run) -> str:
    helix, form = run.helix, run.form
    low, high = sorted(2 * (run.most + helix.taper * at) for at in (run.low, run.high))
    left = helix.lead < 0
    return designation_of(
        MeasuredThread((low, high), run.pitch, form.starts, left, helix.inward, form.flank, helix.taper)
    )


def _groove(shape: PartShape, run: Run, cut: set[int], crests: set[int], carrier: Surface) -> Groove:
    helix = run.helix
    places = [add(helix.origin, helix.axis, at) for at in (run.low - 0.1 * run.pitch, run.high + 0.1 * run.pitch)]
    heights = [dot(sub(place, helix.origin), helix.axis) for place in places]
    crest, root = (run.least, run.most) if helix.inward else (run.most, run.least)
    crest = carrier.radius if carrier.kind == "cylinder" else crest
    radii = [(crest + helix.taper * at, root + helix.taper * at) for at in heights]
    skin = Skin(places[0], places[1], (radii[0][0], radii[1][0]), (radii[0][1], radii[1][1]), helix.inward)
    walls = walls_beside(shape, run, cut | crests, carrier)
    beside = {rim.other for p in run.patches for rim in shape.patches[p].rims}
    across = tuple(w for other, w in walls.items() if other in beside and w.kind != "other" and not _ends(w, run))
    slow = bool(across or helix.taper)
    return Groove(skin, (carrier, *walls.values()), _ridges(shape, crests, run, carrier), across, slow)


def _ends(wall: Surface, run: Run) -> bool:
    """A floor, a seat or a chamfer about the axis: what ends a thread squarely."""
    sine = norm(cross(wall.axis, run.helix.axis))
    return sine < LEVEL if wall.kind == "plane" else wall.kind in ("cone", "cylinder") and sine < SCREW_AXIS


def _ridges(shape: PartShape, crests: set[int], run: Run, carrier: Surface) -> tuple[Vec3, ...]:
    """Points in the metal under the crests, however far the middles of their triangles lie off the round."""
    axis, origin, apex = (np.array(v) for v in (run.helix.axis, run.helix.origin, carrier.origin))
    own = [shape.patches[crest].corners.mean(axis=1) for crest in sorted(crests)]
    middles = np.concatenate(own or [np.empty((0, 3))])
    along = (middles - origin) @ axis
    middles, along = (a[(along > run.low) & (along < run.high)] for a in (middles, along))
    feet = origin + np.outer(along, axis)
    away = middles - feet
    away /= np.linalg.norm(away, axis=1)[:, None]
    radii = carrier.radius + math.tan(carrier.half_angle) * np.abs((feet - apex) @ axis)
    points = feet + (radii + INTO * run.pitch * (1.0 if run.helix.inward else -1.0))[:, None] * away
    return tuple((float(x), float(y), float(z)) for x, y, z in points)


def threaded(graph: FaceGraph, screws: Sequence[Screw], grooved: bool = True) -> PartShape:
    """The part's patches with the threads on them; ``grooved``: flanks count as the round face they are cut into."""
    shape = part_shape(graph, [(s.faces, s.carrier) for s in screws if s.faces] if grooved else ())
    return replace(shape, threads={p.index: s.name for s in screws for p in shape.patches if s.lies_on(p)})


def _faces_of(shape: PartShape, patches: Iterable[int]) -> frozenset[int]:
    return frozenset(f for p in patches for f in shape.patches[p].faces)


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
