"""The stretches of a V-groove that bends, branches or closes on itself, by the part's triangles (setup's frame, mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.field.bound import by_face
from worker.field.grooves import Groove, Joint, Plane, facing_planes, groove_of, planes_of
from worker.field.lines import Floats
from worker.field.scene import UPRIGHT, Scene

NO_RADIUS = 1e-4
"""The lower rim of a cone that turns a corner has no greater radius (mm)."""
TRUE = 1e-5
"""Corners of triangles lie so near to the cone (mm) that they stand for."""


@dataclass(frozen=True, eq=False)
class _Rounded:
    """A cone about an upright axis through (x, y): radius at its lower end, ``lean`` its growth per height, less than
    nothing for one that narrows upwards; ``corners`` of its triangles (n, 3, 3)."""

    face: int
    x: float
    y: float
    radius: float
    lean: float
    corners: Floats

    @property
    def low(self) -> float:
        return float(self.corners[..., 2].min())

    @property
    def high(self) -> float:
        return float(self.corners[..., 2].max())


def grooves_of(scene: Scene, feature: Feature) -> list[Groove]:
    """The stretches between the feature's flanks; empty where no two face each other along a level line."""
    one = groove_of(scene, feature)
    round_ = _rounded(scene, feature)
    bends = _bends([c for c in round_ if c.radius > NO_RADIUS])
    lines = _straight(scene, feature)
    if one is not None and not bends and len(lines) < 2:
        return [one]
    return _linked([*lines, *bends], [c for c in round_ if c.radius <= NO_RADIUS])


def _straight(scene: Scene, feature: Feature) -> list[Groove]:
    """Grooves between two planes, in however many pieces, that meet where both end below."""
    sheets: list[list[Plane]] = []
    for plane in planes_of(scene, feature):
        home = next((s for s in sheets if _is_same(s[0], plane)), None)
        sheets.append([plane]) if home is None else home.append(plane)
    found = (_at_foot(a, b) for a, b in combinations(sheets, 2) if facing_planes(a[0], b[0]))
    return [groove for groove in found if groove is not None]


def _is_same(a: Plane, b: Plane) -> bool:
    aside = math.dist(a.out, b.out)
    return aside <= TRUE and abs(a.lean - b.lean) <= TRUE and abs(a.foot - b.foot) <= LENGTH


def _at_foot(a: Sequence[Plane], b: Sequence[Plane]) -> Groove | None:
    height = -(a[0].foot + b[0].foot) / (a[0].lean + b[0].lean)
    if any(abs(min(p.low for p in side) - height) > LENGTH for side in (a, b)):
        return None
    first, second = (a, b) if a[0].out > b[0].out else (b, a)
    groove = Groove(tuple(first), tuple(second))
    corners = np.concatenate([p.corners for p in groove.planes])
    foot = corners[np.abs(corners[:, 2] - height) <= LENGTH]
    along = foot[:, :2] @ np.array(groove.way)
    stretch = (float(along.min()), float(along.max()))
    is_line = stretch[1] - stretch[0] > LENGTH  # a pit's sides meet in a point
    return replace(groove, stretch=stretch) if is_line else None


def _rounded(scene: Scene, feature: Feature) -> list[_Rounded]:
    mine = np.flatnonzero(scene.of(feature) & (scene.looks > UPRIGHT) & (scene.looks < 1 - COINCIDENT))
    found = (_cone(scene.part[mine[own]], int(face)) for face, own in by_face(scene.owner[mine]))
    return [cone for cone in found if cone is not None]


def _cone(corners: Floats, face: int) -> _Rounded | None:
    """The cone on which all corners of a face lie."""
    points = np.unique(corners.reshape(-1, 3).round(9), axis=0)
    z = points[:, 2] - points[:, 2].min()
    rim = points[z <= TRUE]
    centre = rim[0, :2] if len(rim) == 1 else _middle(rim[:, :2])
    if centre is None or z.max() <= TRUE:
        return None
    away = np.hypot(*(points[:, :2] - centre).T)
    radius = float(away[z <= TRUE].mean())
    top = int(np.argmax(z))
    lean = float((away[top] - radius) / z[top])
    if np.abs(away - radius - lean * z).max() > TRUE or abs(lean) <= TRUE:
        return None
    return _Rounded(face, float(centre[0]), float(centre[1]), radius, lean, corners)


def _middle(points: Floats) -> Floats | None:
    """The middle of the circle through some points; None for such on one line."""
    if len(points) < 3:
        return None
    base = points.mean(axis=0)
    rest = points - base
    try:
        found = np.linalg.solve(2 * rest.T @ rest, rest.T @ (rest**2).sum(axis=1))
    except np.linalg.LinAlgError:
        return None
    return np.asarray(found + base)


def _bends(cones: Sequence[_Rounded]) -> list[Groove]:
    """Grooves between a cone that narrows upwards and one that widens, about one axis, from one circle."""
    found: list[Groove] = []
    rest = list(cones)
    while rest:
        one = rest[0]
        alike = [c for c in rest if _is_round_with(c, one)]
        rest = [c for c in rest if c not in alike]
        outer, inner = [c for c in alike if c.lean > 0], [c for c in alike if c.lean < 0]
        if not outer or not inner:
            continue
        circle = (one.x, one.y, one.radius)
        first = tuple(_as_plane(c, one.radius, 1.0) for c in outer)
        second = tuple(_as_plane(c, one.radius, -1.0) for c in inner)
        for start, end in _stretches(np.concatenate([c.corners for c in alike]), circle, one.low):
            whole = end - start >= 2 * math.pi - LENGTH / one.radius
            joints: tuple[Joint, Joint] = ("on", "on") if whole else ("free", "free")
            found.append(Groove(first, second, (start * one.radius, end * one.radius), joints, frozenset(), circle))
    return found


def _is_round_with(a: _Rounded, b: _Rounded) -> bool:
    near = math.hypot(a.x - b.x, a.y - b.y) <= LENGTH and abs(a.radius - b.radius) <= LENGTH
    return near and abs(a.low - b.low) <= LENGTH


def _as_plane(cone: _Rounded, radius: float, sign: float) -> Plane:
    """The cone as a flank: what counts across is the distance from its axis."""
    lean = abs(cone.lean)
    area = float(np.ptp(cone.corners[..., 2]))
    corners = cone.corners.reshape(-1, 3)
    return Plane((sign, 0.0), sign * radius - cone.low * lean, lean, cone.low, cone.high, area, cone.face, corners)


def _stretches(corners: Floats, circle: tuple[float, float, float], low: float) -> list[tuple[float, float]]:
    """From where to where (rad) sides of triangles lie on a circle, joined where they touch."""
    x, y, radius = circle
    a, b = corners.reshape(-1, 3), np.roll(corners, -1, axis=1).reshape(-1, 3)
    on = [np.abs(np.hypot(p[:, 0] - x, p[:, 1] - y) - radius) + np.abs(p[:, 2] - low) <= LENGTH for p in (a, b)]
    some = on[0] & on[1]
    at, past = (np.arctan2(p[some, 1] - y, p[some, 0] - x) for p in (a, b))
    turn = (past - at + math.pi) % (2 * math.pi) - math.pi
    start = np.where(turn > 0, at, past) % (2 * math.pi)
    found: list[list[float]] = []
    for s, e in sorted(zip(start.tolist(), (start + np.abs(turn)).tolist(), strict=True)):
        if found and s <= found[-1][1] + LENGTH / radius:
            found[-1][1] = max(found[-1][1], e)
        else:
            found.append([s, e])
    if len(found) > 1 and found[-1][1] >= found[0][0] + 2 * math.pi - LENGTH / radius:
        found[0][0] = found.pop()[0] - 2 * math.pi
    return [(s, min(e, s + 2 * math.pi)) for s, e in found]


def _linked(grooves: Sequence[Groove], corners: Sequence[_Rounded]) -> list[Groove]:
    """Each with what goes on at its ends, which bars it nowhere."""
    found = []
    for groove in grooves:
        joints, others = list(groove.joints), set(groove.others)
        for k, t in enumerate(groove.ends):
            x, y = groove.foot_at(t)
            mates = [
                (o, s) for o in grooves if o is not groove and abs(o.bottom - groove.bottom) <= LENGTH
                for s in o.ends if math.dist(o.foot_at(s), (x, y)) <= LENGTH
            ]  # fmt: skip
            if mates:
                ways = [(groove.heading(t), o.heading(s)) for o, s in mates]
                joints[k] = "on" if any(abs(a[0] * b[1] - a[1] * b[0]) <= TRUE for a, b in ways) else "turn"
                others |= {p.face for o, _ in mates for p in o.planes}
                others |= {c.face for c in corners if math.hypot(c.x - x, c.y - y) <= LENGTH}
        found.append(replace(groove, joints=(joints[0], joints[1]), others=frozenset(others)))
    return found
