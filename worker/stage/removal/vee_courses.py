"""The stretches of a V-groove that bends, branches or closes on itself: straight ones and such round an upright axis.

In the setup's frame, mm. Each stretch is a groove of its own that a cutter runs along; where the next one goes on from
its end it ends just there, and the flanks of that are no bar to it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.graph_surface import surface_of
from worker.kernel.planar_edge import Edge, Point2, angle_of, distance
from worker.kernel.shadow import Skyline, face_facts
from worker.stage.removal.vees import Bend, End, Flat, Side, Vee, between, flat_of, same_way, vee_of

APEX = 1e-4
"""A cone whose lower rim has no greater radius (mm) turns a corner: no groove runs round it."""
UPRIGHT = 1e-5
"""Sine up to which a cone's axis is the spindle's."""


@dataclass(frozen=True)
class _Cone:
    """A flank round an upright axis: ``radius`` of its lower rim at height ``low``, ``lean`` its growth outwards or,
    of an inner flank, inwards."""

    index: int
    centre: Point2
    radius: float
    low: float
    high: float
    lean: float
    inner: bool


def vees_of(sky: Skyline, feature: Feature) -> tuple[Vee, ...]:
    """The stretches of the groove that a feature's flanks make; none where no two face each other along a level one."""
    one = vee_of(sky, feature)
    cones = [cone for i in feature.faces if (cone := _cone_of(sky, i)) is not None]
    bends = _bends(sky, [c for c in cones if c.radius > APEX])
    lines = _lines(sky, feature)
    if one is not None and not bends and len(lines) < 2:
        return (one,)
    corners = [c for c in cones if c.radius <= APEX]
    return _joined([*lines, *bends], corners)


def _lines(sky: Skyline, feature: Feature) -> list[Vee]:
    """The grooves between two planes each that meet where both are lowest."""
    planes: list[list[Flat]] = []
    for flat in (found for i in feature.faces if (found := flat_of(sky, i)) is not None):
        home = next((p for p in planes if _is_one_plane(p[0], flat)), None)
        if home is None:
            planes.append([flat])
        else:
            home.append(flat)
    pairs = ((a, b) for a, b in combinations(planes, 2) if same_way(a[0].out, b[0].out, -1.0))
    return [vee for a, b in pairs if (vee := _meeting(sky, a, b)) is not None]


def _is_one_plane(a: Flat, b: Flat) -> bool:
    return same_way(a.out, b.out, 1.0) and abs(a.lean - b.lean) <= COINCIDENT and abs(a.base - b.base) <= LENGTH


def _meeting(sky: Skyline, one: list[Flat], other: list[Flat]) -> Vee | None:
    """The groove between two planes that meet at the foot of both, as long as that is."""
    a, b = one[0], other[0]
    foot = -(a.base + b.base) / (a.lean + b.lean)
    if any(abs(min(f.low for f in side) - foot) > LENGTH for side in (one, other)):
        return None
    vee = between(sky, one, other)
    if vee is None:
        return None
    along = [
        (p[0] * vee.way[0] + p[1] * vee.way[1])
        for f in (*one, *other)
        for e in sky.border(f.index)
        if all(abs(q[1] * vee.way[0] - q[0] * vee.way[1] - vee.v0) <= LENGTH for q in (e.a, e.b))
        for p in (e.a, e.b)
    ]
    long = max(along, default=0.0) - min(along, default=0.0)
    return replace(vee, start=min(along), end=max(along)) if long > LENGTH else None


def _cone_of(sky: Skyline, index: int) -> _Cone | None:
    shown, facts = sky.shown[index], face_facts(sky.body)[index]
    if shown.look != "up" or facts.kind not in ("cone", "other"):  # some files write cones as splines
        return None
    cone = surface_of(facts.face)[0]
    axis = sky.view.direction_to_local(cone.axis)
    if cone.kind != "cone" or math.hypot(*axis[:2]) > UPRIGHT:
        return None
    x, y, z = sky.view.to_local(cone.origin)
    lean = math.tan(cone.half_angle)
    return _Cone(index, (x, y), abs(shown.low - z) * lean, shown.low, shown.high, lean, not cone.hollow)


def _bends(sky: Skyline, cones: Sequence[_Cone]) -> list[Vee]:
    """The grooves between an inner and an outer flank that meet in one circle, each as far round as it goes."""
    found: list[Vee] = []
    done: set[int] = set()
    for inner in (c for c in cones if c.inner):
        alike = [c for c in cones if _is_on_circle(c, inner)]
        inside, outer = ([c for c in alike if c.inner is side] for side in (True, False))
        if inner.index in done or not outer:
            continue
        done |= {c.index for c in alike}
        bend = Bend(inner.centre, inner.radius)
        foot = [e for c in alike for e in sky.border(c.index) if _runs_along(e, bend)]
        faces = frozenset(c.index for c in alike)
        left, right = (tuple(Side(0.0, c.low, c.high, c.lean) for c in some) for some in (inside, outer))
        top = min(max(s.top for s in side) for side in (left, right))
        for start, end, whole in _arcs(foot, bend):
            ends: tuple[End, End] = ("on", "on") if whole else ("free", "free")
            found.append(Vee((1.0, 0.0), 0.0, left, right, start, end, inner.low, top, faces, bend, ends))
    return found


def _is_on_circle(a: _Cone, b: _Cone) -> bool:
    near = distance(a.centre, b.centre) <= LENGTH and abs(a.radius - b.radius) <= LENGTH
    return near and abs(a.low - b.low) <= LENGTH


def _runs_along(edge: Edge, bend: Bend) -> bool:
    if edge.centre is None or distance(edge.centre, bend.centre) > LENGTH:
        return False
    return abs(edge.radius - bend.radius) <= LENGTH


def _arcs(foot: Sequence[Edge], bend: Bend) -> list[tuple[float, float, bool]]:
    """The stretches of a circle that some arcs cover together: from, to (mm along it), and whether it is all of it."""
    spans = []
    for edge in foot:
        first = edge.a if edge.sweep > 0 else edge.b
        start = angle_of(bend.centre, first) % math.tau
        spans.append((start, start + abs(edge.sweep)))
    merged: list[tuple[float, float]] = []
    slack = LENGTH / bend.radius
    for a, b in sorted(spans):
        if merged and a <= merged[-1][1] + slack:
            merged[-1] = (merged[-1][0], max(b, merged[-1][1]))
        else:
            merged.append((a, b))
    if len(merged) > 1 and merged[-1][1] >= merged[0][0] + math.tau - slack:  # over the place where angles begin
        merged[0] = (merged.pop()[0] - math.tau, merged[0][1])
    if any(b - a >= math.tau - slack for a, b in merged):
        return [(0.0, math.tau * bend.radius, True)]
    return [(a * bend.radius, b * bend.radius, False) for a, b in merged]


def _joined(vees: Sequence[Vee], corners: Sequence[_Cone]) -> tuple[Vee, ...]:
    """Each with how it ends: on in another, straight or round a corner; what it goes on in bars it nowhere."""
    found = []
    for vee in vees:
        ends, faces = list(vee.ends), set(vee.faces)
        for k, t in enumerate((vee.start, vee.end)):
            at = vee.point(t, 0.0)
            mates = [(o, s) for o in vees if o is not vee for s in (o.start, o.end) if _meet(vee, o, at, s)]
            if mates:
                same = any(abs(_turn(vee.heading(t), o.heading(s))) <= COINCIDENT for o, s in mates)
                ends[k] = "on" if same else "turn"
                faces.update(f for o, _ in mates for f in o.faces)
                faces.update(c.index for c in corners if distance(c.centre, at) <= LENGTH)
        found.append(replace(vee, ends=(ends[0], ends[1]), faces=frozenset(faces)))
    return tuple(found)


def _meet(vee: Vee, other: Vee, at: Point2, end: float) -> bool:
    return distance(other.point(end, 0.0), at) <= LENGTH and abs(other.bottom - vee.bottom) <= LENGTH


def _turn(a: Point2, b: Point2) -> float:
    return a[0] * b[1] - a[1] * b[0]
