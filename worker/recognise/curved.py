"""Slots that run in a circle (ISO 14649-10 circular course of travel): kidney slots, and grooves round a middle."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from schemas.base import Vec3, add, cross, dot, norm, sub
from schemas.tolerances import LIMIT, ON_AXIS, SAME_LENGTH, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.carriers import same_carrier
from worker.recognise.passages import distinct
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recesses import Recess
from worker.recognise.turns import turn_of, widest_gap

Sizes = dict[str, object]
LONG = 2.0
"""A slot with two flat ends is this many times as long as wide, along its middle: what is shorter is a pocket.

Ours, as for slots open at one end."""
SKEW = math.sin(math.radians(30))
"""Flat ends stand across the middle within this (sine): ends of a slot that is bent, not of a sickle."""


@dataclass(frozen=True, eq=False)
class Course:
    """Ends of a slot that runs in a circle, and its sizes (mm): middle diameter, width, length along the middle."""

    ends: str
    sizes: Sizes
    halfway: Vec3 | None = None
    """Where its middle is half-way between its ends, whatever divides it."""
    centre: Vec3 | None = None
    """The middle of what it runs round, where something took a piece of its outline."""


@dataclass(frozen=True, eq=False)
class _End:
    """How a slot ends: its word, a place on its middle, how far it goes on beyond that, radii of its corners (mm)."""

    word: str
    place: Vec3
    beyond: float = 0.0
    corners: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class Ring:
    """A wall that stands out about an axis, and a hollow one round it; lengths in mm."""

    core: Patch
    outer: Patch

    @property
    def origin(self) -> Vec3:
        """A point of the axis."""
        return self.outer.surface.origin

    @property
    def axis(self) -> Vec3:
        """The direction of the axis."""
        return self.outer.surface.axis

    @property
    def width(self) -> float:
        """How far the walls are apart."""
        return self.outer.surface.radius - self.core.surface.radius

    @property
    def middle(self) -> float:
        """The radius of the line half way between them."""
        return (self.outer.surface.radius + self.core.surface.radius) / 2

    def rounds(self, end: Surface) -> bool:
        """True for a round wall as wide as the slot, on its middle."""
        off = _off_axis(end.origin, self.origin, self.axis)
        return abs(2 * end.radius - self.width) < 2 * SAME_LENGTH and abs(off - self.middle) < 2 * SAME_LENGTH

    def crossed_by(self, end: Patch) -> Vec3 | None:
        """Where a flat wall crosses the middle; None for one that hardly stands across it."""
        normal = end.surface.axis
        foot = add(self.origin, normal, dot(sub(end.surface.origin, self.origin), normal))
        off = norm(sub(foot, self.origin))
        if off > SKEW * self.middle + LIMIT or abs(dot(normal, self.axis)) > SQUARE:
            return None
        half = math.sqrt(self.middle**2 - off**2)
        both = [add(foot, cross(self.axis, normal), way * half) for way in (1.0, -1.0)]
        return min(both, key=lambda place: _off_axis(end.point, place, self.axis))


def rings_of(shape: PartShape, patches: Iterable[int]) -> list[Ring]:
    """The pairs of walls among some patches of which one stands out about an axis and the other hollow round it."""
    round_ = [shape.patches[p] for p in distinct(shape, patches) if shape.patches[p].surface.kind == "cylinder"]
    outer = [p for p in round_ if p.surface.hollow]
    return [Ring(a, b) for a in round_ if not a.surface.hollow for b in outer if _round(a, b)]


def circular(shape: PartShape, run: Sequence[int], islands: list[list[int]]) -> Course | None:
    """The course of a recess by the walls all round it and those of each island; None when it is no circular slot."""
    outer = [shape.patches[w] for w in distinct(shape, run)]
    if len(islands) == 1:
        whole = len(outer) == 1 and outer[0].surface.kind == "cylinder"
        return _loop(outer[0], [shape.patches[w] for w in distinct(shape, islands[0])]) if whole else None
    return _kidney(shape, run) if not islands and len(outer) > 2 else None


def crossed_course(shape: PartShape, walls: Iterable[int]) -> Course | None:
    """The course of a kidney slot that others of its depth cross or end, by its own walls alone; None for others."""
    walls = tuple(walls)
    for ring in rings_of(shape, walls):
        sides = [shape.patches[w] for w in walls if shape.carriers[w] in _carriers(shape, ring.core, ring.outer)]
        if len(sides) + sum(ring.rounds(shape.patches[w].surface) for w in walls) < len(walls):
            continue  # a bend of a longer course
        round_ = [shape.patches[w].surface for w in distinct(shape, walls) if shape.patches[w].surface.hollow]
        ends = [_End("radiused", s.origin, ring.width / 2, (s.radius,)) for s in round_ if ring.rounds(s)]
        if len(ends) == 2:
            return _between(ring, ends)
        turn = math.tau - widest_gap(sides, ring.origin, ring.axis)
        length = ring.middle * turn + sum(end.beyond for end in ends)
        return Course("open radiused" if ends else "open open", _sizes(ring, length, ends))
    return None


def _loop(outer: Patch, inner: list[Patch]) -> Course | None:
    if len(inner) != 1 or not _round(inner[0], outer):
        return None
    far, near = outer.surface.radius, inner[0].surface.radius
    return Course("loop", {"diameter": far + near, "width": far - near, "length": None, "orthogonal_radius": None})


def _round(core: Patch, outer: Patch) -> bool:
    """True for a convex cylinder in the middle of a hollow one."""
    a, b = core.surface, outer.surface
    return a.kind == "cylinder" and b.hollow and not a.hollow and _off_axis(a.origin, b.origin, b.axis) < SAME_LENGTH


def _off(point: Vec3, origin: Vec3, axis: Vec3) -> Vec3:
    gap = sub(point, origin)
    return add(gap, axis, -dot(gap, axis))


def _off_axis(point: Vec3, origin: Vec3, axis: Vec3) -> float:
    return norm(_off(point, origin, axis))


def _kidney(shape: PartShape, run: Sequence[int]) -> Course | None:
    """A slot between two walls about one axis, with a round or a flat end at both of their ends.

    Flat ends tell a slot only where it is ``LONG``; corners may be rounded.
    """
    walls = _squeezed([shape.patches[w] for w in (run[-1], *run)])
    core = [i for i, p in enumerate(walls) if p.surface.kind == "cylinder" and not p.surface.hollow]
    if len(core) != 1:
        return None
    core_, *rest = walls[core[0] :] + walls[: core[0]]
    outer = [i for i, p in enumerate(rest) if _round(core_, p)]
    if len(outer) != 1:
        return None
    ring = Ring(core_, rest[outer[0]])
    ends = [_end(ring, rest[: outer[0]]), _end(ring, rest[outer[0] + 1 :])]
    return _between(ring, [end for end in ends if end])


def open_course(
    shape: PartShape, recess: Recess, runs: Sequence[Sequence[int]], holes: Sequence[Patch] = ()
) -> Course | None:
    """The course of a recess that is open at one end or both; None when it runs in no circle.

    ``holes``: those in which it may end; one that stands on its middle is drilled where it ends.
    """
    walls = [[p, *_squeezed([p, *(shape.patches[w] for w in run)])] for run in runs if (p := shape.patches[run[0]])]
    first, last = walls[0][0], walls[-1][-1]
    if len(walls) > 2 or (len(walls) == 2 and any(len(run) > 1 for run in walls)):
        return None
    core, outer = (first, last) if last.surface.hollow else (last, first)
    if core.surface.kind != "cylinder" or not _round(core, outer):
        return None
    ring = Ring(core, outer)
    sides = [shape.patches[p] for p in recess.patches if shape.carriers[p] in _carriers(shape, core, outer)]
    turn = turn_of(sides, ring.origin, ring.axis)
    end = _end(ring, walls[0][1:-1]) if len(walls) == 1 else _End("open", ring.origin)
    if end and (drilled := _drilled(ring, end, holes)):
        return _between(ring, drilled)
    length = ring.middle * turn + (end.beyond if end else 0.0)
    if not end or (end.word == "flat" and length < LONG * ring.width - LIMIT):
        return None
    return Course(f"open {end.word}", _sizes(ring, length, [end]))


def _drilled(ring: Ring, end: _End, holes: Sequence[Patch]) -> list[_End]:
    """Both ends of a slot of which holes took those that no wall closes; none where one is open."""
    half, found = ring.width / 2, list[_End]()
    for place in (p.surface.origin for p in holes):
        aside = abs(_off_axis(place, ring.origin, ring.axis) - ring.middle) > ON_AXIS
        if not aside and all(_off_axis(place, other.place, ring.axis) > ON_AXIS for other in found):
            found.append(_End("radiused", place, half, (half,)))
    ends = [end, *found] if end.word != "open" else found
    return ends if len(ends) == 2 else []


def _carriers(shape: PartShape, *patches: Patch) -> set[int]:
    return {shape.carriers[p.index] for p in patches}


def _between(ring: Ring, ends: list[_End]) -> Course | None:
    """The slot between two ends; None where one is missing, or both are flat and near each other."""
    if len(ends) != 2:
        return None
    turn = abs(_turn(ring, ends[0].place, ends[1].place))
    length = ring.middle * turn + sum(end.beyond for end in ends)
    words = sorted(end.word for end in ends)
    if words == ["flat", "flat"] and length < LONG * ring.width - LIMIT:
        return None
    return Course(" ".join(words), _sizes(ring, length, ends), _halfway(ring, ends[0].place, ends[1].place))


def _sizes(ring: Ring, length: float, ends: list[_End]) -> Sizes:
    """The sizes of a slot (mm); its long walls are no corners."""
    corner = min((radius for end in ends for radius in end.corners), default=None)
    return {"diameter": 2 * ring.middle, "width": ring.width, "length": length, "orthogonal_radius": corner}


def _squeezed(walls: list[Patch]) -> list[Patch]:
    """Walls in order but the first, each once where its pieces follow each other."""
    return [b for a, b in pairwise(walls) if not same_carrier(a.surface, b.surface)]


def _end(ring: Ring, walls: list[Patch]) -> _End | None:
    """How a slot ends by the walls between its core and its outer wall; None for any other shape."""
    round_ = [p.surface for p in walls if p.surface.kind == "cylinder" and p.surface.hollow]
    flat = [p for p in walls if p.surface.kind == "plane"]
    if len(round_) + len(flat) != len(walls) or len(flat) > 1:
        return None
    if not flat:
        fits = len(round_) == 1 and ring.rounds(round_[0])
        return _End("radiused", round_[0].origin, ring.width / 2, (round_[0].radius,)) if fits else None
    corners = tuple(corner.radius for corner in round_)
    if any(radius > ring.width / 2 + SAME_LENGTH for radius in corners):
        return None
    place = ring.crossed_by(flat[0])
    return _End("flat", place, corners=corners) if place else None


def _halfway(ring: Ring, a: Vec3, b: Vec3) -> Vec3:
    """The place half-way from one end to the other along the middle."""
    arm, turn = _off(a, ring.origin, ring.axis), _turn(ring, a, b) / 2
    return add(add(ring.origin, arm, math.cos(turn)), cross(ring.axis, arm), math.sin(turn))


def _turn(ring: Ring, a: Vec3, b: Vec3) -> float:
    """Angle (rad) from one place to another about the axis, by the way on which the outer wall lies: either sign."""
    arms = [_off(p, ring.origin, ring.axis) for p in (a, b, ring.outer.point)]
    angles = [math.atan2(dot(cross(arms[0], arm), ring.axis), dot(arms[0], arm)) % (2 * math.pi) for arm in arms]
    return angles[1] if angles[2] < angles[1] else angles[1] - 2 * math.pi
