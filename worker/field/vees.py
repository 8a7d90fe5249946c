"""A pointed cutter along a V-groove, by the part's triangles alone (setup's frame, mm).

The groove is read from the planes of its leaning triangles; how far a pass runs along it, from how high any triangle
stands over the cone's underside: on a plane that is greatest at a place that a closed form gives.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import ANGLE, COINCIDENT, LENGTH
from worker.field.bound import by_face
from worker.field.cones import Cone, over_cone
from worker.field.field import Solid
from worker.field.lines import Floats, Mask
from worker.field.scene import UPRIGHT, Scene
from worker.field.solids import Lifted, Turned
from worker.field.stated import passes
from worker.field.triangles import CHORD
from worker.stage.model import Cut

FLAT = 1e-6
"""Unit normals of one plane differ by no more."""
TRIES, MOST = 0.3, 500
"""How far apart (mm) the cutter is tried along the groove, and how often at most."""
FINE = 1e-7
"""The end of a run is found to this (mm)."""
SLACK = 4 * CHORD
"""So far (mm) the triangles of a round end may stand inside it: those of pieces of a cone span more than one chord."""
CHORDS = 9
"""Places at which a round end is asked whether its chords alone stand in the way."""
HALVINGS = 60
ACROSS = 5


Tip = tuple[float, float, float]
"""Height of the tip, and from where to where across its axis may stand."""


@dataclass(frozen=True)
class Plane:
    """A flank: it stands ``foot`` out from the origin at height 0 and ``lean`` more per height, from ``low`` to
    ``high``; ``out`` is its way out in plan, ``faces`` the part's numbers."""

    out: tuple[float, float]
    foot: float
    lean: float
    low: float
    high: float
    area: float
    face: int
    corners: Floats


@dataclass(frozen=True)
class Groove:
    """Two sets of planes that face each other; ``out`` is the first one's way, ``way`` square to it, along."""

    first: tuple[Plane, ...]
    second: tuple[Plane, ...]

    @property
    def out(self) -> tuple[float, float]:
        """Across, towards the first."""
        return self.first[0].out

    @property
    def way(self) -> tuple[float, float]:
        """Along."""
        return self.out[1], -self.out[0]

    @property
    def planes(self) -> tuple[Plane, ...]:
        """All flanks."""
        return (*self.first, *self.second)

    @property
    def bottom(self) -> float:
        """The lowest height that both sides have."""
        return max(min(p.low for p in side) for side in (self.first, self.second))

    @property
    def top(self) -> float:
        """The highest height that both sides have."""
        return min(max(p.high for p in side) for side in (self.first, self.second))

    @property
    def ends(self) -> tuple[float, float]:
        """From where to where the flanks go, along."""
        along = np.concatenate([p.corners for p in self.planes])[:, :2] @ np.array(self.way)
        return float(along.min()), float(along.max())

    def place(self, t: float, v: float) -> tuple[float, float]:
        """x, y of so far along and across."""
        (wx, wy), (ox, oy) = self.way, self.out
        return t * wx + v * ox, t * wy + v * oy


@dataclass(frozen=True)
class Run:
    """From ``start`` to ``end`` along, and which of both metal closes."""

    start: float
    end: float
    closed: tuple[bool, bool]


def along_vee(scene: Scene, cut: Cut, feature: Feature) -> list[Solid]:
    """What a pointed cutter takes along the feature's flanks; empty where there are no two along a level line."""
    groove, half = _groove(scene, feature), cut.tool.flank_half_angle
    if groove is None or half is None or half >= 90:
        return []
    cone = _cone(cut, groove, half)
    stated, floor = cut.step.bottom_z, _floor(scene, groove, cone)
    first = stated if stated is not None else _deepest(groove, cone, cut, floor)
    if first is None:
        return []
    tips: list[Tip] = []
    for tip in [first, *_higher(groove, cone, cut, first)]:
        low, high = _between(groove, cone, cut, tip)
        if high - low >= -COINCIDENT or (stated is not None and tip == first):
            tips.append((tip, *((low, high) if low <= high else ((low + high) / 2,) * 2)))
    kept, runs = _runs(scene, groove, cone, cut, tips) if tips else ([], [])
    return [solid for run in runs for solid in _solids(scene, groove, cone, kept, run)]


def _cone(cut: Cut, groove: Groove, half: float) -> Cone:
    """The cutter's, with the flanks' own lean where that is the same angle."""
    leans = [p.lean for p in groove.planes if abs(math.degrees(math.atan(p.lean)) - half) <= ANGLE]
    rise = min(leans, default=math.tan(math.radians(half)))
    return Cone((cut.tool.tip_diameter or 0.0) / 2, rise, cut.tool.radius)


def _groove(scene: Scene, feature: Feature) -> Groove | None:
    mine = np.flatnonzero(scene.of(feature) & (scene.looks > UPRIGHT) & (scene.looks < 1 - COINCIDENT))
    planes = [p for _, own in by_face(scene.owner[mine]) if (p := _plane(scene, mine[own])) is not None]
    sides: list[list[Plane]] = []
    for plane in planes:
        home = next((s for s in sides if _turned(s[0].out, plane.out) <= math.radians(ANGLE)), None)
        sides.append([plane]) if home is None else home.append(plane)
    facing = [
        (a, b) for a in sides for b in sides
        if a[0].out > b[0].out and math.pi - _turned(a[0].out, b[0].out) <= math.radians(ANGLE)
    ]  # fmt: skip
    sizes = [min(sum(p.area for p in side) for side in pair) for pair in facing]
    if not facing or sum(2 * size > max(sizes) for size in sizes) > 1:
        return None
    a, b = facing[int(np.argmax(sizes))]
    found = Groove(tuple(a), tuple(b))
    gap = sum(min(p.foot + found.bottom * p.lean for p in side) for side in (a, b))
    return found if gap >= -LENGTH else None


def _turned(a: tuple[float, float], b: tuple[float, float]) -> float:
    """The angle between two ways."""
    return abs(math.atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1]))


def _plane(scene: Scene, own: np.ndarray[tuple[int, ...], np.dtype[np.int64]]) -> Plane | None:
    corners = scene.part[own]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(across, axis=1)
    normals = across[size > COINCIDENT**2] / size[size > COINCIDENT**2][:, None]
    if not len(normals) or np.ptp(normals, axis=0).max() > FLAT:
        return None
    x, y, z = across.sum(axis=0) / np.linalg.norm(across.sum(axis=0))
    level = math.hypot(x, y)
    out, lean = np.array((-x / level, -y / level)), float(z / level)
    foot = float(np.mean(corners[..., :2] @ out - corners[..., 2] * lean))
    zs = corners[..., 2]
    area = float(np.abs(across[:, 2]).sum()) / 2
    return Plane((float(out[0]), float(out[1])), foot, lean, float(zs.min()), float(zs.max()), area,
                 int(scene.owner[own[0]]), corners.reshape(-1, 3))  # fmt: skip


def _floor(scene: Scene, groove: Groove, cone: Cone) -> float:
    """What a tip may not go below: the flanks' meeting, or the highest triangle under the middle and below."""
    edges = [min(p.foot + groove.bottom * p.lean for p in side) for side in (groove.first, groove.second)]
    if sum(edges) <= LENGTH:
        return groove.bottom
    ts = np.linspace(*groove.ends, 35)[1:-1].tolist()
    across = (edges[0] - LENGTH, (edges[0] - edges[1]) / 2, LENGTH - edges[1])
    places = np.array([groove.place(t, v) for t in ts for v in across])
    low = (scene.part[..., 2].max(axis=1) <= groove.bottom + LENGTH) & (scene.looks > UPRIGHT)
    low &= ~scene.of_faces({p.face for p in groove.planes})
    tall = scene.part[low]
    held = np.array([bool(_holds(one[:, :2], places).any()) for one in tall], bool)
    return float(tall[held][..., 2].max()) if held.any() else groove.bottom - cone.height


def _holds(corners: Floats, places: Floats) -> Mask:
    """Which places lie in a triangle seen from above, counter-clockwise."""
    a, b = corners, np.roll(corners, -1, axis=0)
    gap = places[:, None] - a
    turn = (b - a)[:, 0] * gap[..., 1] - (b - a)[:, 1] * gap[..., 0]
    return np.asarray((turn >= -COINCIDENT).all(axis=1))


def _between(groove: Groove, cone: Cone, cut: Cut, tip: float) -> tuple[float, float]:
    """From where to where across the axis may stand."""
    return -_out(groove.second, cone, cut, tip), _out(groove.first, cone, cut, tip)


def _out(planes: Sequence[Plane], cone: Cone, cut: Cut, tip: float) -> float:
    """How far out: the corners of the cone's outline keep inside the flanks, the flanks' ends outside the cone."""
    up, aside, found = cut.step.allowance_bottom, cut.step.allowance_side, math.inf
    for p in planes:
        low, high = p.low + up, p.high + up
        own = [(z, cone.wide(z - tip)) for z in (low, high) if z >= tip - COINCIDENT]
        own += [(z, r) for z, r in ((tip, cone.blunt), (tip + cone.height, cone.radius)) if low <= z <= high]
        found = min([found, *(p.foot + (z - up) * p.lean - aside - r for z, r in own)])
    return found


def _deepest(groove: Groove, cone: Cone, cut: Cut, floor: float) -> float | None:
    """The lowest tip with room; a slimmer cone goes as low as the flanks."""
    up = cut.step.allowance_bottom

    def room(tip: float) -> float:
        low, high = _between(groove, cone, cut, tip)
        return high - low

    half = math.degrees(math.atan(cone.rise))
    slim = all(math.degrees(math.atan(p.lean)) - half > ANGLE for p in groove.planes)
    low, high = (max(floor, groove.bottom) if slim else floor) + up, groove.top + up
    if room(low) >= -COINCIDENT:
        return low
    if room(high - LENGTH) < 0:
        return None
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if room(middle) >= 0 else (middle, high)
    return high


def _higher(groove: Groove, cone: Cone, cut: Cut, first: float) -> list[float]:
    """The tips of the passes up the flanks: as terraces, and no farther apart than the cone is high."""
    top = groove.top + cut.step.allowance_bottom
    half = math.degrees(math.atan(cone.rise))
    if any(abs(math.degrees(math.atan(p.lean)) - half) > ANGLE for p in groove.planes):
        found = passes(cut, first, top)
        if all(b - a <= cone.height for a, b in pairwise(found)):
            return found
    return [first + k * cone.height for k in range(1, max(math.ceil((top - first) / cone.height - LENGTH), 1))]


def _runs(scene: Scene, groove: Groove, cone: Cone, cut: Cut, tips: Sequence[Tip]) -> tuple[Sequence[Tip], list[Run]]:
    """The stretches along the groove on which nothing but the flanks comes into the cone's way on any pass; passes that
    are free nowhere are left out, but all where the lowest is."""
    x0, y0, x1, y1 = scene.room
    corners = [x * groove.way[0] + y * groove.way[1] for x in (x0, x1) for y in (y0, y1)]
    first, last = min(corners) - 1.0, max(corners) + 1.0
    near = [_near(scene, groove, cone, cut, tip, (first, last)) for tip in tips]
    ts = np.linspace(first, last, min(max(int((last - first) / TRIES), 40), MOST))
    start, end = groove.ends
    own = (ts >= start) & (ts <= end)
    each = np.array([_tried(groove, cone, tip, one, ts) for tip, one in zip(tips, near, strict=True)])
    allowed = COINCIDENT - max(cut.step.allowance_side, 0.0) / cone.rise
    if cut.step.bottom_z is not None and own.any():
        allowed = max(allowed, float(each[0][own].min()) + LENGTH)
    kept = [k for k, into in enumerate(each) if (into[own] <= allowed).any()]
    if 0 not in kept:
        return [], []
    tips = [tips[k] for k in kept]

    def over(ts: Floats) -> Floats:
        tried = [_tried(groove, cone, tip, near[k], ts) for tip, k in zip(tips, kept, strict=True)]
        return np.asarray(np.max(tried, axis=0))

    free = np.concatenate(([False], each[kept].max(axis=0) <= allowed, [False]))
    turns = np.flatnonzero(free[1:] != free[:-1]).reshape(-1, 2)
    found = []
    for a, b in turns.tolist():
        if own[a:b].any():
            s = float(ts[a]) if a == 0 else _end(over, cone, allowed, float(ts[a]), float(ts[a - 1]), (start, end))
            e = (
                float(ts[-1])
                if b == len(ts)
                else _end(over, cone, allowed, float(ts[b - 1]), float(ts[b]), (start, end))
            )
            found.append(Run(s, e, (a > 0, b < len(ts))))
    return tips, found


def _tried(groove: Groove, cone: Cone, at: Tip, near: Floats, ts: Floats) -> Floats:
    """How high metal stands over the cutter's underside at some places along (n,), wherever it may stand across."""
    tip, low, high = at
    across = np.linspace(low, high, ACROSS) if high - low > LENGTH else np.array([(low + high) / 2])
    places = np.array([groove.place(t, v) for t in ts.tolist() for v in across.tolist()])
    return np.asarray(over_cone(cone, tip, near, places).reshape(len(ts), -1).max(axis=1))


def _end(
    over: Callable[[Floats], Floats], cone: Cone, allowed: float, good: float, bad: float, ends: Sequence[float]
) -> float:
    """Where the run ends; with the flanks, where nothing but chords of a round end seems to stand in the way."""
    way = bad - good
    while abs(bad - good) > FINE:
        middle = (good + bad) / 2
        good, bad = (middle, bad) if over(np.array([middle]))[0] <= allowed else (good, middle)
    slack = allowed + SLACK * (1 + 1 / cone.rise)
    past = [end for end in ends if (end - good) * way > 0 and (over(np.linspace(good, end, CHORDS)) <= slack).all()]
    return past[0] if past else good


def _near(scene: Scene, groove: Groove, cone: Cone, cut: Cut, at: Tip, ends: tuple[float, float]) -> Floats:
    """The triangles that stand over the tip and come near its way, but for the flanks'; the workholding's too where no
    depth is stated."""
    tip, low, high = at
    seen = scene.part[~scene.of_faces({p.face for p in groove.planes}) & (scene.looks > UPRIGHT)]
    bodies = [seen] if cut.step.bottom_z is not None else [seen, scene.held_up]
    corners = np.array([groove.place(t, v) for t in ends for v in (low, high)])
    least, most = corners.min(axis=0) - cone.radius, corners.max(axis=0) + cone.radius
    found = []
    for one in bodies:
        boxes = one[..., :2].min(axis=1), one[..., :2].max(axis=1)
        there = (boxes[0] <= most).all(axis=1) & (boxes[1] >= least).all(axis=1)
        found.append(one[there & (one[..., 2].max(axis=1) > tip + LENGTH)])
    return np.concatenate(found)


def _solids(scene: Scene, groove: Groove, cone: Cone, tips: Sequence[Tip], run: Run) -> list[Solid]:
    """The cone drawn along the run on each pass, and the lowest turned where metal ends it."""
    top = max(scene.top, tips[-1][0] + cone.height + 1.0)
    found: list[Solid] = []
    for tip, low, high in tips if run.end - run.start > COINCIDENT else []:
        found.append(Lifted(scene.view, _strips(groove, _outline(cone, low, high, tip), run.start, run.end), top))
    tip, low, high = tips[0]
    for t in (t for t, closed in zip((run.start, run.end), run.closed, strict=True) if closed):
        for v in sorted({low, high}):
            heights, radii = (tip, tip + cone.height, top), (cone.blunt, cone.radius, cone.radius)
            found.append(Turned(scene.view, *groove.place(t, v), heights, radii))
        if high - low > COINCIDENT:
            turned = Groove((_across(groove),), ())
            found.append(Lifted(scene.view, _strips(turned, _outline(cone, t, t, tip), -high, -low), top))
    return found


def _across(groove: Groove) -> Plane:
    """A stand-in whose way out is the groove's way, so that what is drawn along it runs across."""
    one = groove.first[0]
    return Plane(groove.way, one.foot, one.lean, one.low, one.high, one.area, one.face, one.corners)


def _outline(cone: Cone, low: float, high: float, tip: float) -> list[tuple[float, float]]:
    """(v, z) of the underside, across."""
    high_z = tip + cone.height
    points = [
        (low - cone.radius, high_z),
        (low - cone.blunt, tip),
        (high + cone.blunt, tip),
        (high + cone.radius, high_z),
    ]
    return [p for k, p in enumerate(points) if k == 0 or p[0] - points[k - 1][0] > COINCIDENT]


def _strips(groove: Groove, outline: Sequence[tuple[float, float]], start: float, end: float) -> Floats:
    """Triangles that look up, drawn along from one place to another."""
    found = []
    for (v, z), (w, y) in pairwise(outline):
        a, b = ((*groove.place(t, v), z) for t in (start, end))
        c, d = ((*groove.place(t, w), y) for t in (start, end))
        found += [(a, b, d), (a, d, c)]
    triangles = np.array(found)
    up = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])[:, 2] > 0
    return np.where(up[:, None, None], triangles, triangles[:, ::-1])
