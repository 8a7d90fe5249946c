"""From a V-groove's passes to solids: how far each runs along the groove, and what the cutter takes there."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame
from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel import boolean, primitives
from worker.kernel.planar import Region, polygon, rectangle, union
from worker.kernel.planar_edge import Point2, polar
from worker.kernel.shadow import Shown, Skyline, face_facts, flank_of
from worker.kernel.shape import Body
from worker.kernel.sweep import prism
from worker.stage.model import ResolvedStep, Way
from worker.stage.removal.edges import box_gaps, flank_of_tool, met, near_faces
from worker.stage.removal.facets import CHORD, away_above
from worker.stage.removal.ruled import ruled
from worker.stage.removal.scene import CLEARANCE, Scene, Sweep, merge_sweeps, nothing
from worker.stage.removal.slants import Flank, deepest, slant_of
from worker.stage.removal.vee_courses import vees_of
from worker.stage.removal.vees import Bend, Pass, Vee, fitting, passes

Floats = NDArray[np.float64]
APART = 0.25
"""Places along the groove (mm) at which the cutter is tried first."""
MOST = 400
"""Such places at most."""
FINER, TIMES = 33, 5
"""Places between two of them, and how often: the end of a run is found to APART / 32 ** 5."""
BETWEEN, MOST_WAYS = 2.0, 25
"""How far apart (mm) the ways are on which the assembly above a wide pass is looked at, and how many there are."""
FIRM = 1e-9
"""What is clear at an end enters no deeper (mm)."""
ASIDE, MOST_ASIDE = 0.5, 41
"""How far apart (mm) it is tried across a pass that is wider than the tip, and at how many places at most."""


Over = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Run:
    """From one place along the groove to another; whether metal ends it there (``shut`` at the start, ``closed``)."""

    start: float
    end: float
    shut: bool
    closed: bool


def clear_vee(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """What a pointed cutter takes as its tip runs along the groove's bottom, and up its flanks."""
    vees = vees_of(scene.sky, feature)
    if not vees or flank_of_tool(job.tool) is None:
        return nothing(scene.heights(feature)[0], f"{feature.id} shows the spindle no two flanks along a level line.")
    sweeps = [sweep for vee in vees if (sweep := _along(scene, job, vee)) is not None]
    if not sweeps:
        bottom = min(vee.bottom for vee in vees)
        return nothing(bottom, f"The point of {job.tool.id} does not go into {feature.id}.")
    return merge_sweeps(sweeps)


def _along(scene: Scene, job: ResolvedStep, vee: Vee) -> Sweep | None:
    """The same along one stretch; None where the tip finds no room there."""
    flank = fitting(job.tool, vee)
    tips, runs = _found(scene, vee, flank, job) if flank is not None else ([], [])
    if flank is None or not runs:
        return None
    bodies = tuple(body for run in runs for body in _bodies(scene, vee, flank, tips, run))
    low, stated = tips[0].tip, job.step.bottom_z is not None
    entered = stated or min(job.step.allowance_side, job.step.allowance_bottom) < 0
    entered = entered or any(_is_wide(tip) for tip in tips)  # what stands between the places tried is told
    return Sweep(
        bodies,
        _plan(vee, flank, tips[-1], runs),
        gouging=bodies if entered else (),
        tip_z=low,
        full_diameter_z=low + flank.height,
        nominal_z=vee.bottom if stated else min(vee.bottom, low),
        ways=tuple(_ways(vee, tips, runs)),
    )


def _found(scene: Scene, vee: Vee, flank: Flank, job: ResolvedStep) -> tuple[Sequence[Pass], list[Run]]:
    """The passes and where along the groove they run; at a stated depth where they would without it."""
    step, floor = job.step, _floor(scene, vee, flank)
    path = _Path(scene, vee, flank, max(step.allowance_side, 0.0), step.bottom_z is None)
    tips = path.free(passes(vee, flank, step.model_copy(update={"bottom_z": None}), job.tool, floor))
    runs = path.runs(tips) if tips else []
    if step.bottom_z is None:
        return tips, runs
    first, *above = passes(vee, flank, step, job.tool, floor)
    return [first, *path.free(above, all_=True)], runs or [Run(vee.start, vee.end, True, True)]


def _floor(scene: Scene, vee: Vee, flank: Flank) -> float:
    """The lowest height that a tip may get to: where the flanks meet, or what lies under the groove's middle."""
    if vee.gap <= LENGTH:
        return vee.bottom
    ts = np.linspace(vee.start, vee.end, FINER + 2)[1:-1]
    points = np.array([vee.point(float(t), v) for t in ts for v in (0.0, vee.gap / 2 - LENGTH, LENGTH - vee.gap / 2)])
    low = [s for s in scene.sky.upward(-math.inf) if s.high <= vee.bottom + LENGTH and s.index not in vee.faces]
    under = [s.high for s in low if scene.sky.region(s.index) and scene.sky.region(s.index).holds(points).any()]
    return max(under, default=vee.bottom - flank.height)


class _Path:
    """The line along a groove with all that the cutter may not enter there: the part but for the groove's flanks, with
    an allowance ``aside``, and the workholding where no depth is stated."""

    def __init__(self, scene: Scene, vee: Vee, flank: Flank, aside: float, free_to_choose: bool) -> None:
        self._vee, self._flank = vee, replace(flank, blunt=flank.blunt + aside, radius=flank.radius + aside)
        self._skies = [scene.sky, *([scene.obstacles] if scene.obstacles and free_to_choose else [])]
        self._ends = _span(scene, vee, flank)
        first, last = self._ends
        self._ts = np.linspace(first, last, min(max(int((last - first) / APART), FINER), MOST) + 1)
        self._own = (self._ts >= vee.start) & (self._ts <= vee.end)
        facts = face_facts(scene.sky.body)
        chords = (vee.bend or vee.ends != ("free", "free")) and any(facts[i].kind == "other" for i in vee.faces)
        self._slack = 2 * CHORD if chords else COINCIDENT  # of the mouth's bends, where that is written as splines

    def free(self, tips: Sequence[Pass], all_: bool = False) -> list[Pass]:
        """The passes that find room somewhere; none where the lowest does not, but with ``all_``."""
        found = [tip for tip in tips if (self._over([tip], self._ts[self._own]) <= self._slack).any()]
        return found if all_ or (found and found[0] is tips[0]) else []

    def runs(self, tips: Sequence[Pass]) -> list[Run]:
        """Where along the groove, and on past its open ends, the cutter enters nothing on any of the passes."""

        def over(ts: Floats) -> Floats:
            return self._over(tips, ts)

        ts, found = self._ts, []
        for a, b in _stretches(over(ts) <= self._slack):
            if self._own[a : b + 1].any():
                start = None if a == 0 else _ended(over, float(ts[a]), float(ts[a - 1]), self._vee)
                end = None if b == len(ts) - 1 else _ended(over, float(ts[b]), float(ts[b + 1]), self._vee)
                run = (self._ends[0] if start is None else start, self._ends[1] if end is None else end)
                turned = [kind == "turn" for kind in self._vee.ends]
                found.append(Run(*run, start is not None or turned[0], end is not None or turned[1]))
        return found

    def _over(self, tips: Sequence[Pass], ts: Floats) -> Floats:
        each = [_over(self._vee, self._flank, tip, ts, self._skies) for tip in tips]
        return np.asarray(np.max(each, axis=0))


def _span(scene: Scene, vee: Vee, flank: Flank) -> tuple[float, float]:
    """Along the groove to just past the metal's rectangle, round a bend past where the cutter leaves the flanks; no
    farther than where another stretch goes on."""
    x0, y0, x1, y1 = scene.plan
    ends = [x * vee.way[0] + y * vee.way[1] for x in (x0, x1) for y in (y0, y1)]
    first, last = min(ends) - CLEARANCE, max(ends) + CLEARANCE
    if vee.bend is not None:
        rest = math.tau * vee.bend.radius - (vee.end - vee.start)
        past = min(2.0 * flank.radius + CLEARANCE, rest / 2)
        first, last = vee.start - past, vee.end + past
    return first if vee.ends[0] == "free" else vee.start, last if vee.ends[1] == "free" else vee.end


def _is_wide(tip: Pass) -> bool:
    return tip.high - tip.low > LENGTH


def _over(vee: Vee, flank: Flank, tip: Pass, ts: Floats, skies: Sequence[Skyline]) -> Floats:
    """How far the cutter reaches into anything but the groove's own flanks (n,); not positive where it is clear."""
    count = min(max(math.ceil((tip.high - tip.low) / ASIDE) + 1, 3), MOST_ASIDE)
    vs = np.linspace(tip.low, tip.high, count) if _is_wide(tip) else np.array([(tip.low + tip.high) / 2])
    points = np.array([vee.point(t, v) for t in ts.tolist() for v in vs.tolist()])
    tips = np.full(len(points), tip.tip)
    found = np.full(len(points), -np.inf)
    for k, sky in enumerate(skies):
        for shown in near_faces(sky, points, tip.tip + LENGTH, flank.radius):
            if k == 0 and shown.index in vee.faces:
                continue
            near = box_gaps(shown.bounds, points) <= flank.radius + LENGTH
            for into in _into(flank, sky, shown, points[near], tips[near]):
                found[near] = np.maximum(found[near], into)
    return np.asarray(found.reshape(len(ts), -1).max(axis=1))


def _into(flank: Flank, sky: Skyline, shown: Shown, points: Floats, tips: Floats) -> Iterator[Floats]:
    """How far the cutter reaches into one face at each place (n,). Of a plane no steeper than the cone its border and
    what lies at the tip's height tell all, of half a hollow cone its straight lines."""
    lean = math.tan(math.radians(flank_of(sky.body, shown.index, sky.frame) or 0.0))
    slant = slant_of(sky, shown) or (ruled(sky, shown) if lean > flank.rise + COINCIDENT else None)
    if slant is None or lean < flank.rise - COINCIDENT:
        yield from (into for into, _ in met(flank, sky, shown, points, tips, LENGTH, float(tips.min())))
        return
    low = max(shown.low, float(tips[0]) + LENGTH)
    yield flank.at(low - tips) - away_above(sky, shown, low, points, flank.radius)
    yield deepest(slant, flank, points, tips, LENGTH)[0]


def _stretches(clear: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last place of each stretch."""
    turns = np.flatnonzero(np.diff(np.concatenate(([0], clear.astype(np.int8), [0]))))
    return [(int(a), int(b) - 1) for a, b in turns.reshape(-1, 2)]


def _ended(over: Over, good: float, bad: float, vee: Vee) -> float:
    """Where between a clear place and one that is not the run ends; just at the flanks' end where that is the place, or
    where nothing but chords of a bent end stands before it."""
    limit = FIRM if over(np.array([good]))[0] <= FIRM else COINCIDENT
    way = bad - good
    for _ in range(TIMES):
        ts = np.linspace(good, bad, FINER)
        free = over(ts) <= limit
        last = FINER - 1 if free.all() else int(np.argmin(free)) - 1
        good, bad = float(ts[max(last, 0)]), float(ts[min(max(last, 0) + 1, FINER - 1)])
    past = [end for end in (vee.start, vee.end) if (end - good) * way >= 0 or abs(end - good) <= LENGTH]
    return next((end for end in past if (over(np.linspace(good, end, FINER)) <= 2 * CHORD).all()), good)


def _bodies(scene: Scene, vee: Vee, flank: Flank, tips: Sequence[Pass], run: Run) -> list[Body]:
    """All passes drawn along the run; where it ends against metal the lowest one's cutter too, as it stands there."""
    found = []
    if run.end - run.start > COINCIDENT and vee.bend is None:
        frame = _standing(scene, vee.way, vee.point(0.0, 0.0))
        found.append(prism(polygon(_section(flank, tips, scene.top)), frame, run.start, run.end))
    elif run.end - run.start > COINCIDENT and vee.bend is not None:
        found.append(_round(scene, vee.bend, _section(flank, tips, scene.top), run))
    for t, out, closed in ((run.start, -1.0, run.shut), (run.end, 1.0, run.closed)):
        found += _end(scene, vee, flank, tips[0], t, out) if closed else []
    return found


def _round(scene: Scene, bend: Bend, section: Sequence[Point2], run: Run) -> Body:
    """A section of (v, z) drawn round a bend, as far as its axis."""
    outline = [(bend.radius - v, z) for v, z in section]
    kept: list[Point2] = []
    for (r, z), (s, y) in zip([outline[-1], *outline[:-1]], outline, strict=True):
        if (r < 0) != (s < 0):
            kept.append((0.0, z + (y - z) * r / (r - s)))
        if s >= 0:
            kept.append((s, y))
    start = polar((0.0, 0.0), 1.0, run.start / bend.radius)
    frame = Frame(
        location=scene.frame.to_world((*bend.centre, 0.0)),
        axis=scene.frame.z,
        ref_direction=scene.frame.direction_to_world((*start, 0.0)),
    )
    return primitives.revolve_profile(kept, frame, (run.end - run.start) / bend.radius)


def _section(flank: Flank, tips: Sequence[Pass], top: float) -> list[Point2]:
    """(v, z) of what the passes cover together, counter-clockwise."""
    right = _envelope([(one.tip, -one.low) for one in tips], flank, top)
    left = _envelope([(one.tip, one.high) for one in tips], flank, top)
    points = [*((-v, z) for v, z in right), *reversed(left)]
    return [p for k, p in enumerate(points) if math.dist(p, points[k - 1]) > COINCIDENT]


def _envelope(tips: Sequence[Point2], flank: Flank, top: float) -> list[Point2]:
    """From the tip up the farthest out of any pass: (v, z), each tip as (height, how far out its axis is)."""
    stops = sorted({z + h for z, _ in tips for h in (0.0, flank.height) if z + h < top} | {top})
    found: list[Point2] = []
    for low, high in pairwise(stops):
        live = [(z, v) for z, v in tips if z <= low + COINCIDENT]
        a, b = (max(v + float(flank.at(max(h - z, 0.0))) for z, v in live) for h in (low, high))
        found += [(a, low), *_crossing(live, flank, low, high), (b, high)]
    return _straightened(found)


def _crossing(live: Sequence[Point2], flank: Flank, low: float, high: float) -> list[Point2]:
    """Where between two heights a cone comes out past the body of one below it."""
    at = {(z, v): [v + float(flank.at(max(h - z, 0.0))) for h in (low, high)] for z, v in live}
    first, last = max(at.values(), key=lambda e: e[0]), max(at.values(), key=lambda e: e[1])
    gain = (last[1] - last[0]) - (first[1] - first[0])
    if gain <= COINCIDENT or first[0] - last[0] <= COINCIDENT:
        return []
    share = (first[0] - last[0]) / gain
    return [(first[0] + share * (first[1] - first[0]), low + share * (high - low))]


def _straightened(points: Sequence[Point2]) -> list[Point2]:
    """Without the points that lie on the line between their neighbours."""
    found: list[Point2] = []
    for p in points:
        if found and math.dist(found[-1], p) <= COINCIDENT:
            continue
        while len(found) > 1 and _off(found[-2], found[-1], p) <= COINCIDENT:
            found.pop()
        found.append(p)
    return found


def _off(a: Point2, b: Point2, c: Point2) -> float:
    return abs((c[0] - a[0]) * (b[1] - a[1]) - (c[1] - a[1]) * (b[0] - a[0])) / max(math.dist(a, c), COINCIDENT)


def _standing(scene: Scene, way: Point2, origin: Point2) -> Frame:
    """A frame whose z runs along a level way, its x to the left of it and its y up."""
    return Frame(
        location=scene.frame.to_world((*origin, 0.0)),
        axis=scene.frame.direction_to_world((*way, 0.0)),
        ref_direction=scene.frame.direction_to_world((-way[1], way[0], 0.0)),
    )


def _end(scene: Scene, vee: Vee, flank: Flank, one: Pass, t: float, out: float) -> list[Body]:
    """Past a closed end, to the side ``out`` of it: the cutter where the pass ends, at all places across."""
    top, full = scene.top, one.tip + flank.height
    outline = [(flank.blunt, one.tip), (flank.radius, full), (flank.radius, top)]
    outline = outline if full < top else [outline[0], (float(flank.at(top - one.tip)), top)]
    outline = [(0.0, one.tip), *outline, (0.0, top)]
    places = sorted({one.low, one.high}) if one.high - one.low > COINCIDENT else [one.low]
    way = vee.heading(t)
    past = primitives.half_space_box(
        scene.frame.to_world((*vee.point(t, 0.0), top)),
        scene.frame.direction_to_world((out * way[0], out * way[1], 0.0)),
        4.0 * (scene.metal.diagonal + flank.radius) + 100.0,
    )
    found = []
    for v in places:
        place = scene.frame.model_copy(update={"location": scene.frame.to_world((*vee.point(t, v), 0.0))})
        found.append(boolean.common(primitives.revolve_profile(outline, place), [past], merge=False))
    if len(places) > 1:
        section = [p for k, p in enumerate(outline) if math.dist(p, outline[k - 1]) > COINCIDENT]
        frame = _standing(scene, (-way[1], way[0]), vee.point(t, 0.0))
        found.append(prism(polygon([(-out * r, z) for r, z in section]), frame, *places))
    return found


def _plan(vee: Vee, flank: Flank, widest: Pass, runs: Sequence[Run]) -> Region:
    if vee.bend is not None:
        (x, y), far = vee.bend.centre, vee.bend.radius - widest.low + flank.radius
        return rectangle(x - far, y - far, x + far, y + far)

    def around(run: Run) -> Region:
        r = flank.radius
        corners = [(t, v) for t, v in ((run.start - r, widest.low - r), (run.end + r, widest.high + r))]
        (a, c), (b, d) = corners
        return polygon([vee.point(t, v) for t, v in ((a, c), (b, c), (b, d), (a, d))])

    return union(around(run) for run in runs)


def _ways(vee: Vee, tips: Sequence[Pass], runs: Sequence[Run]) -> list[Way]:
    """Both sides of each pass, of the lowest also what lies between."""
    centre, radius = (vee.bend.centre, vee.bend.radius) if vee.bend is not None else ((0.0, 0.0), math.inf)
    return [
        Way(one.tip, vee.point(run.start, v), vee.point(run.end, v), centre, (run.end - run.start) / radius)
        for one in tips
        for run in runs
        for v in _across(one, MOST_WAYS if one is tips[0] else 2)
    ]


def _across(one: Pass, most: int) -> list[float]:
    count = min(math.ceil((one.high - one.low) / BETWEEN) + 1, most) if _is_wide(one) else 1
    return [float(v) for v in np.linspace(one.low, one.high, max(count, 2))] if count > 1 else [one.low]
