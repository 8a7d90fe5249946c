"""How far a pointed cutter runs along a V-groove: until a triangle stands over its underside (setup's frame, mm)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from worker.field.cones import Cone, over_cone
from worker.field.grooves import Groove
from worker.field.lines import Floats
from worker.field.scene import UPRIGHT, Scene
from worker.field.triangles import CHORD
from worker.stage.model import Cut

TRIES, MOST = 0.3, 500
"""How far apart (mm) the cutter is tried along the groove, and how often at most."""
FINE = 1e-6
"""The end of a run is found to this (mm)."""
SLACK = 4 * CHORD
"""So far (mm) the triangles of a round end may stand inside it: those of pieces of a cone span more than one chord."""
CHORDS = 9
"""Places at which a round end is asked whether its chords alone stand in the way."""
TOGETHER = 12
"""Places along that are asked of the triangles near them at once."""
ACROSS, MOST_ACROSS = 0.4, 51
"""How far apart (mm) it is tried across, where the tip has room there, and at how many places at most."""


AROUND = 33
"""Places on a bend whose box, wider by a chord's height, holds it."""


Tip = tuple[float, float, float]
"""Height of the tip, and from where to where across its axis may stand."""


@dataclass(frozen=True)
class Run:
    """From ``start`` to ``end`` along, and which of both metal closes."""

    start: float
    end: float
    closed: tuple[bool, bool]


class Line:
    """The line along a groove, and what stands over the tip there but its flanks; an allowance makes the cone wider."""

    def __init__(self, scene: Scene, groove: Groove, cone: Cone, cut: Cut) -> None:
        aside = max(cut.step.allowance_side, 0.0)
        self._scene, self._groove, self._cut = scene, groove, cut
        self._cone = Cone(cone.blunt + aside, cone.rise, cone.radius + aside)
        self._first, self._last = groove.reach(scene.room, cone.radius)
        count = min(max(int((self._last - self._first) / TRIES), 40), MOST)
        self._ts = np.linspace(self._first, self._last, count)
        start, end = groove.ends
        self._own = (self._ts >= start) & (self._ts <= end)
        self._near: dict[Tip, Floats] = {}
        chords = groove.circle is not None or groove.joints != ("free", "free")  # of the mouth's arcs, over the flanks
        self._limit = SLACK * (1 + 1 / cone.rise) if chords else COINCIDENT

    def free(self, tips: Sequence[Tip]) -> list[Tip]:
        """The passes that are free somewhere between the flanks' ends."""
        return [tip for tip in tips if (self._over([tip], self._ts[self._own]) <= self._limit).any()]

    def runs(self, tips: Sequence[Tip]) -> list[Run]:
        """The stretches on which nothing comes into the cone's way on any pass."""

        def over(ts: Floats) -> Floats:
            return self._over(tips, ts)

        ts, found = self._ts, []
        free = np.concatenate(([False], over(ts) <= self._limit, [False]))
        for a, b in np.flatnonzero(free[1:] != free[:-1]).reshape(-1, 2).tolist():
            if self._own[a:b].any():
                shut = (a > 0, b < len(ts))
                s = self._end(over, float(ts[a]), float(ts[a - 1])) if shut[0] else self._first
                e = self._end(over, float(ts[b - 1]), float(ts[b])) if shut[1] else self._last
                turned = [joint == "turn" for joint in self._groove.joints]
                found.append(Run(s, e, (shut[0] or turned[0], shut[1] or turned[1])))
        return found

    def _end(self, over: Callable[[Floats], Floats], good: float, bad: float) -> float:
        return _end(over, self._cone, (good, bad), self._groove.ends, self._limit)

    def _over(self, tips: Sequence[Tip], ts: Floats) -> Floats:
        each = [_tried(self._groove, self._cone, tip, self._standing(tip), ts) for tip in tips]
        return np.asarray(np.max(each, axis=0))

    def _standing(self, tip: Tip) -> Floats:
        if tip not in self._near:
            ends = (self._first, self._last)
            self._near[tip] = _near(self._scene, self._groove, self._cone, self._cut, tip, ends)
        return self._near[tip]


def _tried(groove: Groove, cone: Cone, at: Tip, near: Floats, ts: Floats) -> Floats:
    """How high metal stands over the cutter's underside at some places along (n,), wherever it may stand across."""
    tip, low, high = at
    count = int(min(max((high - low) / ACROSS + 2, 3), MOST_ACROSS))
    across = np.linspace(low, high, count) if high - low > LENGTH else np.array([(low + high) / 2])
    found = []
    low_box, high_box = near[..., :2].min(axis=1) - cone.radius, near[..., :2].max(axis=1) + cone.radius
    for some in np.array_split(ts, math.ceil(len(ts) / TOGETHER)):
        places = np.array([groove.place(t, v) for t in some.tolist() for v in across.tolist()])
        there = (low_box <= places.max(axis=0)).all(axis=1) & (high_box >= places.min(axis=0)).all(axis=1)
        found.append(over_cone(cone, tip, near[there], places).reshape(len(some), -1).max(axis=1))
    return np.concatenate(found)


def _end(
    over: Callable[[Floats], Floats], cone: Cone, between: tuple[float, float], ends: Sequence[float], limit: float
) -> float:
    """Where the run ends; with the flanks, where nothing but chords of a round end seems to stand in the way."""
    good, bad = between
    way = bad - good
    while abs(bad - good) > FINE:
        middle = (good + bad) / 2
        good, bad = (middle, bad) if over(np.array([middle]))[0] <= limit else (good, middle)
    slack = SLACK * (1 + 1 / cone.rise)
    if limit > COINCIDENT:  # so far past its end it came over the chords
        over_it = [end for end in ends if 0 < (good - end) * math.copysign(1.0, way) <= 2 * limit * max(cone.rise, 1.0)]
        good = over_it[0] if over_it else good
    past = [end for end in ends if (end - good) * way > 0 and (over(np.linspace(good, end, CHORDS)) <= slack).all()]
    return past[0] if past else good


def _near(scene: Scene, groove: Groove, cone: Cone, cut: Cut, at: Tip, ends: tuple[float, float]) -> Floats:
    """The triangles that stand over the tip and come near its way, but for the flanks'; the workholding's too where no
    depth is stated."""
    tip, low, high = at
    own = {p.face for p in groove.planes} | groove.others
    seen = scene.part[~scene.of_faces(own) & (scene.looks > UPRIGHT)]
    bodies = [seen] if cut.step.bottom_z is not None else [seen, scene.held_up]
    along = ends if groove.circle is None else np.linspace(*ends, AROUND).tolist()
    corners = np.array([groove.place(t, v) for t in along for v in (low, high)])
    least, most = corners.min(axis=0) - cone.radius, corners.max(axis=0) + cone.radius
    found = []
    for one in bodies:
        boxes = one[..., :2].min(axis=1), one[..., :2].max(axis=1)
        there = (boxes[0] <= most).all(axis=1) & (boxes[1] >= least).all(axis=1)
        found.append(one[there & (one[..., 2].max(axis=1) > tip + LENGTH)])
    return np.concatenate(found)
