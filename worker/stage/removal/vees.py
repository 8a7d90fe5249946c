"""V-grooves as a pointed cutter meets them: two leaning flanks along a level line, and how its tip runs between them.

All in the setup's frame, mm: ``t`` along the groove, ``v`` across it (to the left of its way), z up. At each height of
the tip the axis may stand between two limits: so far from either flank, and from what ends it, that the cone enters
none. Above the lowest pass others follow up the flanks, no farther apart than the cone is high: its body takes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from schemas.base import Vec3, add, unit
from schemas.feature import Feature
from schemas.plan import Workingstep
from schemas.tolerances import ANGLE, COINCIDENT, LENGTH
from schemas.tool import Tool
from worker.kernel.facefacts import FaceFacts
from worker.kernel.planar_edge import Point2, polar
from worker.kernel.shadow import Skyline, face_facts
from worker.kernel.shape import Body
from worker.stage.removal.edges import flank_of_tool
from worker.stage.removal.levels import terraces
from worker.stage.removal.slants import Flank

STRAIGHT = 1e-6
"""Unit normals of a plane differ by no more."""
HALVINGS = 60
"""By which the lowest height with room for the tip is found."""


@dataclass(frozen=True)
class Side:
    """A plane piece of a flank across the groove: from (``v``, ``z``) up to ``top``, ``lean`` outwards per height;
    v is counted outwards from the middle line on either side."""

    v: float
    z: float
    top: float
    lean: float

    def at(self, z: float) -> float:
        """How far out the plane stands at a height."""
        return self.v + (z - self.z) * self.lean


End = Literal["free", "on", "turn"]
"""How a stretch of a groove ends: by itself, or where the next one goes on, straight on or another way."""


@dataclass(frozen=True)
class Bend:
    """The circle of a groove's bottom line; along it ``t`` is measured counter-clockwise, from where x is greatest."""

    centre: Point2
    radius: float


@dataclass(frozen=True)
class Vee:
    """``way`` is the groove's direction, ``v0`` where its middle line runs; ``left`` and ``right`` flanks, from
    ``start`` to ``end`` along it; ``bottom`` and ``top`` the lowest and the highest height that both have, ``faces``
    the part's numbers of them and of those that it goes on in. Of one that runs round a ``bend`` the left flank is the
    inner one, and ``way`` says nothing."""

    way: Point2
    v0: float
    left: tuple[Side, ...]
    right: tuple[Side, ...]
    start: float
    end: float
    bottom: float
    top: float
    faces: frozenset[int]
    bend: Bend | None = None
    ends: tuple[End, End] = ("free", "free")

    def heading(self, t: float) -> Point2:
        """The way at a place along the groove."""
        if self.bend is None:
            return self.way
        angle = t / self.bend.radius
        return (-math.sin(angle), math.cos(angle))

    @property
    def gap(self) -> float:
        """How wide it is at its bottom."""
        return sum(min(s.at(self.bottom) for s in side) for side in (self.left, self.right))

    @property
    def leans(self) -> tuple[float, ...]:
        """Of all its flanks."""
        return tuple(s.lean for s in (*self.left, *self.right))

    def point(self, t: float, v: float) -> Point2:
        """In the setup's x, y."""
        if self.bend is not None:
            return polar(self.bend.centre, self.bend.radius - v, t / self.bend.radius)
        v += self.v0
        return (t * self.way[0] - v * self.way[1], t * self.way[1] + v * self.way[0])


@dataclass(frozen=True)
class Pass:
    """One height of the tip, and from where to where the axis may stand across (v from the middle line)."""

    tip: float
    low: float
    high: float


@dataclass(frozen=True)
class Flat:
    """A flank as it leans outwards: ``base`` is how far out its plane stands at height 0."""

    index: int
    out: Point2
    lean: float
    base: float
    low: float
    high: float
    area: float


def vee_of(sky: Skyline, feature: Feature) -> Vee | None:
    """The groove between the feature's leaning plane faces; None where no two of them face each other along a level
    line, or more than one such line would do."""
    flats = [flat for i in feature.faces if (flat := flat_of(sky, i)) is not None]
    pairs = _pairs(flats)
    if not pairs:
        return None
    found = max(pairs, key=_size)
    if sum(_size(pair) > 0.5 * _size(found) for pair in pairs) > 1:
        return None
    return between(sky, *found)


def way_into(body: Body, feature: Feature) -> Vec3 | None:
    """Half way between the two planes of a groove without a floor (part's frame): a pointed cutter as wide as they open
    fits it from there. None for any other."""
    all_facts = face_facts(body)
    looks = [all_facts[i].normals[0] for i in feature.faces if _is_plane(all_facts[i])]
    first = [n for n in looks if math.dist(n, looks[0]) <= STRAIGHT]
    others = [n for n in looks if n not in first]
    if len(looks) < len(feature.faces) or not others or any(math.dist(n, others[0]) > STRAIGHT for n in others):
        return None
    return unit(add(first[0], others[0]))


def flat_of(sky: Skyline, index: int) -> Flat | None:
    """A plane face that leans and looks up; None for any other."""
    shown, facts = sky.shown[index], face_facts(sky.body)[index]
    if shown.look != "up" or shown.flat or not _is_plane(facts):
        return None
    nx, ny, nz = sky.view.direction_to_local(facts.normals[0])
    level = math.hypot(nx, ny)
    spot = facts.adaptor.Value(facts.adaptor.FirstUParameter(), facts.adaptor.FirstVParameter())
    x, y, z = sky.view.to_local((spot.X(), spot.Y(), spot.Z()))
    out = (-nx / level, -ny / level)
    lean = nz / level
    return Flat(index, out, lean, x * out[0] + y * out[1] - z * lean, shown.low, shown.high, sky.region(index).area)


def _is_plane(facts: FaceFacts) -> bool:
    """Of a face without a simple carrier by where it looks: some files write planes as splines."""
    if facts.kind in ("plane", "other"):
        return all(math.dist(n, facts.normals[0]) <= STRAIGHT for n in facts.normals)
    return False


def _pairs(flats: Sequence[Flat]) -> list[tuple[list[Flat], list[Flat]]]:
    """The faces that look the same way in plan, with those that look the other way; each pair once."""
    ways: list[list[Flat]] = []
    for flat in flats:
        same = next((way for way in ways if same_way(way[0].out, flat.out, 1.0)), None)
        if same is None:
            ways.append([flat])
        else:
            same.append(flat)
    return [(a, b) for i, a in enumerate(ways) for b in ways[i + 1 :] if same_way(a[0].out, b[0].out, -1.0)]


def same_way(a: Point2, b: Point2, sign: float) -> bool:
    """True for two ways that are parallel, the same (1) or opposite (-1)."""
    return abs(a[0] * b[1] - a[1] * b[0]) <= math.radians(ANGLE) and (a[0] * b[0] + a[1] * b[1]) * sign > 0


def _size(pair: tuple[list[Flat], list[Flat]]) -> float:
    return min(sum(flat.area for flat in side) for side in pair)


def between(sky: Skyline, one: list[Flat], other: list[Flat]) -> Vee | None:
    """The groove between flats that look at each other; None for a ridge."""
    out = max(one[0].out, other[0].out)  # whichever face comes first
    left, right = (one, other) if out == one[0].out else (other, one)
    way = (out[1], -out[0])
    bottom = max(min(f.low for f in side) for side in (left, right))
    inner_left, inner_right = (min(f.base + bottom * f.lean for f in side) for side in (left, right))
    v0 = (inner_left - inner_right) / 2
    if inner_left + inner_right < -LENGTH:  # back to back: a ridge
        return None
    spans = [p[0] * way[0] + p[1] * way[1] for f in (*left, *right) for e in sky.border(f.index) for p in (e.a, e.b)]
    return Vee(
        way,
        v0,
        _sides(left, -v0),
        _sides(right, v0),
        start=min(spans),
        end=max(spans),
        bottom=bottom,
        top=min(max(f.high for f in side) for side in (left, right)),
        faces=frozenset(f.index for f in (*one, *other)),
    )


def _sides(flats: Sequence[Flat], shift: float) -> tuple[Side, ...]:
    return tuple(Side(f.base + f.low * f.lean + shift, f.low, f.high, f.lean) for f in flats)


def fitting(tool: Tool, vee: Vee) -> Flank | None:
    """The tool's cone, with the very lean of the groove's flanks where that is its own within ANGLE."""
    flank = flank_of_tool(tool)
    if flank is None:
        return None
    same = [lean for lean in vee.leans if _is_lean(flank, lean)]
    return replace(flank, rise=min(same)) if same else flank


def _is_lean(flank: Flank, lean: float) -> bool:
    return abs(math.degrees(math.atan(lean) - math.atan(flank.rise))) <= ANGLE


def follows(flank: Flank, vee: Vee) -> bool:
    """Whether the cone leaves both flanks as they are."""
    return all(_is_lean(flank, lean) for lean in vee.leans)


def passes(vee: Vee, flank: Flank, step: Workingstep, tool: Tool, floor: float) -> tuple[Pass, ...]:
    """The passes from the lowest up; none where the tip finds no room. ``floor``: what it may not go below."""
    stated = step.bottom_z
    first = stated if stated is not None else _lowest(vee, flank, step, floor)
    if first is None:
        return ()
    found: list[Pass] = []
    for tip in (first, *_above(vee, flank, step, tool, first)):
        low, high = _room(vee, flank, step, tip)
        if low > high + (COINCIDENT if stated is None or found else math.inf):
            continue
        middle = (low + high) / 2
        found.append(Pass(tip, min(low, middle), max(high, middle)) if low <= high else Pass(tip, middle, middle))
    return tuple(found)


def _lowest(vee: Vee, flank: Flank, step: Workingstep, floor: float) -> float | None:
    """The lowest tip that has room; a cone steeper than the flanks goes no deeper than they do."""
    slim = all(flank.rise < lean and not _is_lean(flank, lean) for lean in vee.leans)
    low = (max(floor, vee.bottom) if slim else floor) + step.allowance_bottom
    high = vee.top + step.allowance_bottom
    if _fits(vee, flank, step, low, COINCIDENT):
        return low
    if not _fits(vee, flank, step, high - LENGTH):
        return None
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if _fits(vee, flank, step, middle) else (middle, high)
    return high


def _fits(vee: Vee, flank: Flank, step: Workingstep, tip: float, slack: float = 0.0) -> bool:
    low, high = _room(vee, flank, step, tip)
    return low <= high + slack


def _above(vee: Vee, flank: Flank, step: Workingstep, tool: Tool, first: float) -> list[float]:
    """Heights of the passes up the flanks: those that leave the flanks as they are join, the cone's height apart."""
    top = vee.top + step.allowance_bottom
    if not follows(flank, vee):
        found = terraces(step, tool, first, top)
        if all(b - a <= flank.height for a, b in pairwise(found)):
            return list(found)
    return [first + k * flank.height for k in range(1, max(math.ceil((top - first) / flank.height - LENGTH), 1))]


def _room(vee: Vee, flank: Flank, step: Workingstep, tip: float) -> Point2:
    return (-_limit(vee.right, flank, step, tip), _limit(vee.left, flank, step, tip))


def _limit(sides: Sequence[Side], flank: Flank, step: Workingstep, tip: float) -> float:
    """How far out the axis may stand: what the tool reaches beyond it is greatest where a flank ends or begins, at the
    tip, or where the cone is at its widest."""
    found, raised = math.inf, step.allowance_bottom
    for side in sides:
        low, high = side.z + raised, side.top + raised
        for z in (low, high, tip, tip + flank.height):
            if max(low, tip) - COINCIDENT <= z <= high + COINCIDENT:
                found = min(found, side.at(z - raised) - step.allowance_side - float(flank.at(max(z - tip, 0.0))))
    return found
