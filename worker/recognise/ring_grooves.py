"""Grooves cut round the outside of a boss or a shaft, and the bosses whole that such grooves divide."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from schemas.base import Vec3, add, any_frame, cross, dot, norm, sub
from schemas.tolerances import COAXIAL, LEDGE, SAME_LENGTH
from worker.recognise.access import Sight, opposite
from worker.recognise.borders import circle_of
from worker.recognise.extent import extent
from worker.recognise.holes import FULL
from worker.recognise.ids import Draft, step_of, upright
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess, is_wall
from worker.recognise.turns import coaxial, turn_of

ALIKE = 1.25
"""A neck longer than it is thick is a groove only between ends that differ by no more than this factor.

Ours: a stem between a plate and a head is none, the neck of a spool is."""


def ring_groove(shape: PartShape, group: tuple[int, ...]) -> Draft | None:
    """The groove that a group of patches is: all round one axis, sunk between two edges that are thicker.

    Its ``diameter`` is that of its floor, as of a groove inside a bore.
    """
    patches = [shape.patches[p] for p in group]
    turned = next((p.surface for p in patches if p.surface.kind in ("cylinder", "cone", "torus")), None)
    if turned is None or not all(round_about(p, turned.origin, turned.axis) for p in patches):
        return None
    if any(p.surface.kind in ("cylinder", "cone") and p.surface.hollow for p in patches):
        return None
    mouths = {r for p in patches for loop in p.loops if _is_mouth(shape, loop) for r in loop}
    edges = [r for p in patches for r in p.rims if r.other not in group and r not in mouths]
    loops = [loop for p in patches for loop in p.loops if all(r.other not in group for r in loop)]
    loops = [loop for loop in loops if loop[0] not in mouths]
    if (
        len(loops) != 2
        or sum(map(len, loops)) != len(edges)
        or any(r.convexity not in ("convex", "smooth") for r in edges)
    ):
        return None
    lips = [_ring(loop, turned.origin, turned.axis) for loop in loops]
    low, high = extent(shape, group, turned.axis)
    floor = min(_least(p, turned.origin, turned.axis) for p in patches)
    radii = [lip for lip in lips if lip is not None and lip > floor + SAME_LENGTH]
    if len(radii) < 2 or (high - low > 2 * floor and max(radii) > ALIKE * min(radii)):
        return None
    return _draft(shape, group, (turned.origin, turned.axis), (low, high), 2 * floor)


def _is_mouth(shape: PartShape, loop: Iterable[Rim]) -> bool:
    """True for the edge of a hole in a groove's floor: an opening that only bores lead to, and no circle of the groove.

    A bore on the groove's own axis is no hole in its floor, but what the whole part is bored with.
    """
    others = [shape.patches[r.other].surface for r in loop]
    return all(s.kind in ("cylinder", "cone") and s.hollow for s in others) and all(r.curve == "other" for r in loop)


def _draft(
    shape: PartShape, group: tuple[int, ...], line: tuple[Vec3, Vec3], span: tuple[float, float], diameter: float
) -> Draft:
    origin, axis = line[0], max(line[1], opposite(line[1]), key=upright)
    if dot(axis, line[1]) < 0:
        span = -span[1], -span[0]
    place = add(origin, axis, (span[0] + span[1]) / 2 - dot(origin, axis))
    sizes: dict[str, object] = {
        "diameter": diameter,
        "width": span[1] - span[0],
        "ends": "loop",
        "undercut": "ring groove round the outside: thinner than what stands on both sides of it",
    }
    fillets = [s.minor for s in (shape.patches[p].surface for p in group) if s.kind == "torus" and s.hollow]
    if fillets:
        sizes["planar_radius"] = min(fillets)
    return Draft("slot", group, any_frame(place, axis), (), sizes)


def round_about(patch: Patch, origin: Vec3, axis: Vec3) -> bool:
    """True for a patch that goes all round the axis: a plane square to it, or a round face about it."""
    if patch.surface.kind == "plane":
        return norm(cross(patch.surface.axis, axis)) < COAXIAL and turn_of([patch], origin, axis) > FULL
    return patch.surface.kind != "sphere" and coaxial(patch, origin, axis) and turn_of([patch], origin, axis) > FULL


def _ring(loop: Iterable[Rim], origin: Vec3, axis: Vec3) -> float | None:
    """The radius of an edge that is a circle about the axis; None for any other."""
    radii = []
    for rim in loop:
        if rim.length < LEDGE:  # too short to tell its circle: a sliver's end
            radii += [off_axis(p, origin, axis) for p in (rim.points[0], rim.points[-1])]
            continue
        circle = circle_of(rim) if rim.curve == "circle" else None
        if circle is None or off_axis(circle[0], origin, axis) > SAME_LENGTH:
            return None
        radii.append(circle[2])
    return min(radii) if radii and max(radii) - min(radii) < SAME_LENGTH else None


def off_axis(point: Vec3, origin: Vec3, axis: Vec3) -> float:
    """How far a place lies from an axis (mm)."""
    rest = sub(point, origin)
    return norm(add(rest, axis, -dot(rest, axis)))


def _least(patch: Patch, origin: Vec3, axis: Vec3) -> float:
    """The patch's least distance from the axis; exact for cylinders and for rings that go in and out again."""
    surface = patch.surface
    if surface.kind == "cylinder":
        return surface.radius
    edge = min(off_axis(p, origin, axis) for rim in patch.rims for p in rim.points)
    rest = patch.vertices - np.array(origin)
    inner = float(np.linalg.norm(rest - np.outer(rest @ np.array(axis), axis), axis=1).min())
    if surface.kind != "torus" or inner > edge - SAME_LENGTH:
        return min(edge, inner)
    return surface.radius - surface.minor


def lone_boss(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> Draft | None:
    """The boss that a round outer wall is which stands on nothing of its own width: above a groove or a shoulder."""
    surface = shape.patches[group[0]].surface
    patches = [shape.patches[p] for p in group]
    if len(group) > 1 or surface.kind != "cylinder" or surface.hollow:
        return None
    return _boss(shape, sight, group) if turn_of(patches, surface.origin, surface.axis) > FULL else None


def _boss(shape: PartShape, sight: Sight, walls: tuple[int, ...], axis: Vec3 | None = None) -> Draft:
    surface = shape.patches[walls[0]].surface
    axis = axis or max(surface.axis, opposite(surface.axis), key=upright)
    low, high = extent(shape, walls, axis)[0], top_of(shape, Recess(walls, axis, (), ()))
    place = add(surface.origin, axis, high - dot(surface.origin, axis))
    size = 2 * surface.radius
    sizes: dict[str, object] = {"height": high - low, "length": size, "width": size, "diameter": size}
    access = tuple(d for d in (sight.known(axis), sight.known(opposite(axis))) if sight.sees(walls, d))
    return Draft("boss", walls, any_frame(place, axis), access, sizes)


def with_whole_bosses(shape: PartShape, sight: Sight, drafts: list[Draft], grooves: list[Draft]) -> list[Draft]:
    """The drafts, with those round bosses as one that a groove divides, or something deeper than their foot."""
    drafts = _put_together(shape, sight, drafts)
    bosses, standing = _by_wall(shape, drafts), Counter(id(b) for d in drafts for b in d.bosses)
    for groove in grooves:
        near = {boss.whole for p in _near(shape, groove) for boss in bosses.get(p, ())}
        mates = sorted((boss for boss in near if boss.carrier is not None), key=lambda boss: boss.place)
        twins = [(a, b) for a in mates for b in mates if a is not b and a.carrier == b.carrier]
        if twins:
            # the one that stands on the part keeps its place in the face round it
            keep, other = max(twins, key=lambda t: (standing[id(t[0].draft)] > 0, -min(t[0].patches)))
            keep.take(other)
            standing.subtract(id(b) for b in other.draft.bosses)
    every = {boss.place: boss for alike in bosses.values() for boss in alike}
    for boss in every.values():
        if boss.whole is boss and len(boss.patches) > len(boss.draft.patches):
            whole_boss(shape, sight, boss.draft, boss.patches)
    gone = {boss.place for boss in every.values() if boss.whole is not boss}
    return [draft for place, draft in enumerate(drafts) if place not in gone]


def _put_together(shape: PartShape, sight: Sight, drafts: list[Draft]) -> list[Draft]:
    """The drafts, with those round bosses as one that are pieces of one wall between the same heights."""
    first: dict[tuple[object, ...], Draft] = {}
    whole: dict[int, Draft] = {}
    for draft in (d for d in drafts if d.class_ == "boss" and not d.elements):
        walls = _walls(shape, draft)
        carriers = {shape.carriers[p] for p in draft.patches if is_wall(shape.patches[p], draft.placement.axis)}
        if walls and len(carriers) == 1 and not shape.patches[walls[0]].surface.hollow:
            ends = (step_of(end) for end in extent(shape, walls, draft.placement.axis))
            whole[id(draft)] = first.setdefault((*carriers, draft.placement.axis, *ends), draft)
    for boss in first.values():
        patches = {p for d in drafts if whole.get(id(d)) is boss for p in d.patches}
        if patches != set(boss.patches):
            whole_boss(shape, sight, boss, patches)
    for draft in (d for d in drafts if d.bosses):
        draft.bosses = list({id(b): b for b in (whole.get(id(b), b) for b in draft.bosses)}.values())
    return [d for d in drafts if whole.get(id(d), d) is d]


@dataclass(eq=False)
class _Round:
    """A round boss, or more and more of it: ``patches``; ``carrier`` of its walls, if that is one; ``into`` which it
    went; ``place``: its number."""

    draft: Draft
    place: int
    carrier: int | None
    patches: set[int]
    into: _Round | None = None

    @property
    def whole(self) -> _Round:
        """The boss that it is part of now."""
        found = self
        while found.into:
            found = found.into
        if found is not self:
            self.into = found
        return found

    def take(self, other: _Round) -> None:
        """The other one becomes part of it."""
        less, more = sorted((self.patches, other.patches), key=len)
        more |= less
        self.patches, other.into = more, self


def whole_boss(shape: PartShape, sight: Sight, draft: Draft, patches: set[int]) -> None:
    """Make a draft of a round boss that of all patches."""
    draft.patches = tuple(sorted(patches))
    whole = _boss(shape, sight, tuple(_walls(shape, draft)), draft.placement.axis)
    draft.placement, draft.sizes = whole.placement, draft.sizes | whole.sizes
    draft.access = tuple(d for d in whole.access if sight.sees(draft.patches, d))


def _by_wall(shape: PartShape, drafts: list[Draft]) -> dict[int, list[_Round]]:
    """The round bosses that each patch is a wall of."""
    found: dict[int, list[_Round]] = {}
    for place, draft in enumerate(drafts):
        walls = _walls(shape, draft) if draft.class_ == "boss" and not draft.elements else []
        carriers = {shape.carriers[w] for w in walls}
        boss = _Round(draft, place, min(carriers) if len(carriers) == 1 else None, set(draft.patches))
        for wall in walls:
            found.setdefault(wall, []).append(boss)
    return found


def _walls(shape: PartShape, boss: Draft) -> list[int]:
    return [p for p in boss.patches if shape.patches[p].surface.kind == "cylinder"]


def _near(shape: PartShape, groove: Draft) -> set[int]:
    """Where a boss has a wall that begins or ends where a groove does, or at the groove's broken lip."""
    beside = {o for p in groove.patches for o in shape.patches[p].neighbours}
    return beside | {n for o in beside for n in shape.patches[o].neighbours}
