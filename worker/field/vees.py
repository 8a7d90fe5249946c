"""What a pointed cutter takes along a V-groove, by the part's triangles alone (setup's frame, mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import ANGLE, COINCIDENT, LENGTH
from worker.field.cones import Cone
from worker.field.field import Solid
from worker.field.grooves import Groove, Plane, floor_of
from worker.field.lines import Floats
from worker.field.rolled import Rolled
from worker.field.scene import Scene
from worker.field.solids import Lifted, Turned
from worker.field.stated import passes
from worker.field.vee_courses import grooves_of
from worker.field.vee_runs import Line, Run, Tip
from worker.stage.model import Cut

HALVINGS = 60
"""By which the lowest tip with room is found."""


def along_vee(scene: Scene, cut: Cut, feature: Feature) -> list[Solid]:
    """What a pointed cutter takes along the feature's flanks; empty where there are no two along a level line."""
    half = cut.tool.flank_half_angle
    if half is None or half >= 90:
        return []
    return [solid for groove in grooves_of(scene, feature) for solid in _along(scene, cut, groove, half)]


def _along(scene: Scene, cut: Cut, groove: Groove, half: float) -> list[Solid]:
    """The same along one stretch."""
    cone = _cone(cut, groove, half)
    floor, stated = floor_of(scene, groove, cone.height), cut.step.bottom_z
    lowest = _deepest(groove, cone, cut, floor)
    line = Line(scene, groove, cone, cut)
    tips = line.free(_tips(groove, cone, cut, lowest, [])) if lowest is not None else []
    runs = line.runs(tips) if tips and tips[0][0] == lowest else []
    if stated is not None:
        first, *above = _tips(groove, cone, cut, stated, [stated])
        tips, runs = [first, *line.free(above)], runs or [Run(*groove.ends, (True, True))]
    return [solid for run in runs for solid in _solids(scene, groove, cone, tips, run)]


def _tips(groove: Groove, cone: Cone, cut: Cut, first: float, forced: Sequence[float]) -> list[Tip]:
    """The passes from the lowest up, where the axis has room between the flanks; those forced have it half way."""
    found: list[Tip] = []
    for tip in [first, *_higher(groove, cone, cut, first)]:
        low, high = _between(groove, cone, cut, tip)
        if high - low >= -COINCIDENT or tip in forced:
            found.append((tip, *((low, high) if low <= high else ((low + high) / 2,) * 2)))
    return found


def _cone(cut: Cut, groove: Groove, half: float) -> Cone:
    """The cutter's, with the flanks' own lean where that is the same angle."""
    leans = [p.lean for p in groove.planes if abs(math.degrees(math.atan(p.lean)) - half) <= ANGLE]
    rise = min(leans, default=math.tan(math.radians(half)))
    return Cone((cut.tool.tip_diameter or 0.0) / 2, rise, cut.tool.radius)


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


def _solids(scene: Scene, groove: Groove, cone: Cone, tips: Sequence[Tip], run: Run) -> list[Solid]:
    """The cone drawn along the run on each pass, and the lowest turned where metal ends it."""
    top = max(scene.top, tips[-1][0] + cone.height + 1.0)
    found: list[Solid] = []
    for tip, low, high in tips if run.end - run.start > COINCIDENT else []:
        if groove.circle is not None:
            x, y, r = groove.circle
            found.append(Rolled(scene.view, x, y, low, high, run.start / r, (run.end - run.start) / r, cone, tip, top))
            continue
        found.append(Lifted(scene.view, _strips(groove, _outline(cone, low, high, tip), run.start, run.end), top))
    tip, low, high = tips[0]
    for t in (t for t, closed in zip((run.start, run.end), run.closed, strict=True) if closed):
        for v in sorted({low, high}):
            heights, radii = (tip, tip + cone.height, top), (cone.blunt, cone.radius, cone.radius)
            found.append(Turned(scene.view, *groove.place(t, v), heights, radii))
        if high - low > COINCIDENT:
            found.append(Lifted(scene.view, _across(groove, cone, t, tips[0]), top))
    return found


def _across(groove: Groove, cone: Cone, t: float, at: Tip) -> Floats:
    """The underside of the cone drawn across at one place along."""
    tip, low, high = at
    a, b = np.array(groove.place(t, low)), np.array(groove.place(t, high))
    x, y = (b - a) / np.linalg.norm(b - a)
    one = groove.first[0]
    turned = Groove((replace(one, out=(float(-y), float(x))),), ())
    start, end = (float(p @ (x, y)) for p in (a, b))
    aside = float(a @ (-y, x))
    return _strips(turned, _outline(cone, aside, aside, tip), start, end)


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
