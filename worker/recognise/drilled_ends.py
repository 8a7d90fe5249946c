"""Slots at whose end a hole stands, or something else took the tip: the slot still ends there, all of its round end."""

from __future__ import annotations

import math
from collections.abc import Collection

from schemas.base import Frame, Vec3, add, cross, dot, norm, scale, sub
from schemas.tolerances import LEDGE, ON_AXIS, SQUARE
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recesses import Recess
from worker.recognise.turns import coaxial

WIDE = 2.0
"""A slot ends in a hole that is up to this many times as wide; a wider one is a space it opens into.

Ours: a keyhole's head is half as wide again to twice as wide. Nothing comes in from the side there: ISO 14649-10 calls
such an end radiused, an open one lets cutters out. The cutter goes down in the axis, the end is drawn about that."""
LITTLE_WIDER = 1.25
"""The same where its other end is open: the cutter comes in there, and runs out into a hole that is wider than this."""
CHAMFERED = 1.25
"""Up to this many times a hole's own radius its far wall is looked for: its mouth may be chamfered."""
LEVELS = (0.1, 0.5, 0.9)
"""At these parts of a slot's depth the hole's far wall is looked for: another slot beyond it leaves none."""
FAN = tuple(math.radians(turn) for turn in (-60, -30, 0, 30, 60))


def with_drilled_ends(
    shape: PartShape, recess: Recess, place: Frame, sizes: dict[str, object], ends: str
) -> tuple[Frame, dict[str, object], str]:
    """Placement, sizes (mm) and ends of a slot as it was without the holes: round about the axis of each."""
    x, length, width = place.ref_direction, float(str(sizes["length"])), float(str(sizes["width"]))
    low, high = -length / 2, length / 2
    drilled = _drilled(shape, recess, place, sizes, WIDE)
    if len(drilled) < ends.split().count("open"):
        drilled = _drilled(shape, recess, place, sizes, LITTLE_WIDER)
    left = {_lies(p, place)[0] > 0 for p in _round_ends(shape, recess, place, width)}
    if ends.count("radiused") >= len(left):  # they are told
        drilled = [along for along in drilled if (along > 0) not in left]
    for along in drilled:
        low, high = (low, along + width / 2) if along > 0 else (along - width / 2, high)
    words = sorted(ends.split(), key=lambda word: word != "open")
    words[: len(drilled)] = ["radiused" for word in words[: len(drilled)]]
    if not drilled:
        return place, sizes, ends
    place = Frame(location=add(place.location, x, (low + high) / 2), axis=place.axis, ref_direction=x)
    radius = {} if "flat" in words else {"orthogonal_radius": width / 2}
    return place, {**sizes, **radius, "length": high - low}, " ".join(sorted(words))


def holes_along(shape: PartShape, recess: Recess, width: float, depth: float, middle: Vec3) -> list[Patch]:
    """Holes in which a slot that runs about an axis through ``middle`` may end: as wide as it, and not much wider.

    Metal stands all round their far side. Lengths in mm.
    """
    found = []
    for patch in _beyond(shape, recess):
        arm = sub(patch.surface.origin, middle)
        line = cross(recess.axis, add(arm, recess.axis, -dot(arm, recess.axis)))
        fits = width - LEDGE < 2 * patch.surface.radius < WIDE * width + LEDGE and norm(line) > LEDGE
        if fits and any(_ends_there(shape, recess, patch, scale(line, way / norm(line)), depth) for way in (1.0, -1.0)):
            found.append(patch)
    return found


def _ends_there(shape: PartShape, recess: Recess, patch: Patch, way: Vec3, depth: float) -> bool:
    """True for metal all round the far side of a hole on that way, and none before it."""
    level = extent(shape, recess.floors or recess.patches, recess.axis)[0] + depth
    place = add(patch.surface.origin, recess.axis, level - dot(patch.surface.origin, recess.axis))
    before = add(place, way, -2 * patch.surface.radius)
    inside = add(before, recess.axis, -depth / 2)
    return _has_far_wall(
        shape, patch, Frame(location=before, axis=recess.axis, ref_direction=way), depth, 0.0
    ) and not crossings(shape, inside, way, 0.0, 2 * patch.surface.radius)


def with_whole_ends(
    shape: PartShape, recess: Recess, place: Frame, sizes: dict[str, object], within: Collection[int]
) -> tuple[Frame, dict[str, object]]:
    """Placement and sizes (mm) of a slot as far as its round ends go, whatever took their tips.

    ``within``: carriers of the walls between which it is not open.
    """
    length, width = float(str(sizes["length"])), float(str(sizes["width"]))
    low, high = -length / 2, length / 2
    ends = [p for p in _round_ends(shape, recess, place, width) if shape.carriers[p.index] in within]
    for middle in (_lies(patch, place)[0] for patch in ends):
        low, high = min(low, middle - width / 2), max(high, middle + width / 2)
    if high - low < length + LEDGE:
        return place, sizes
    where = add(place.location, place.ref_direction, (low + high) / 2)
    return Frame(location=where, axis=place.axis, ref_direction=place.ref_direction), {**sizes, "length": high - low}


def _drilled(shape: PartShape, recess: Recess, place: Frame, sizes: dict[str, object], widest: float) -> list[float]:
    """How far along a slot from its placement (mm) the middles of the ends stand that holes took, one an end.

    That is the axis of a hole which takes all of an end's width; of one which leaves some of a round end, the end's.
    """
    found: dict[float, float] = {}
    width, depth = float(str(sizes["width"])), float(str(sizes["depth"]))
    for patch in _beyond(shape, recess):
        (along, off), radius = _lies(patch, place), patch.surface.radius
        left = [_lies(p, place)[0] for p in _round_ends(shape, recess, place, width)]
        near = [middle for middle in left if abs(middle - along) < radius + width / 2 and middle * along > 0]
        ends = near or ([along] if off + width / 2 < radius + LEDGE else [])
        for middle in ends[:1] if 2 * radius < widest * width + LEDGE else ():
            if _has_far_wall(shape, patch, place, depth, math.hypot(middle - along, off)):
                found.setdefault(math.copysign(1.0, along), middle)
    return list(found.values())


def _lies(patch: Patch, place: Frame) -> tuple[float, float]:
    """How far along a slot, and off its middle line, the axis of an upright cylinder lies (mm)."""
    gap = sub(patch.surface.origin, place.location)
    return dot(gap, place.ref_direction), abs(dot(gap, cross(place.axis, place.ref_direction)))


def _round_ends(shape: PartShape, recess: Recess, place: Frame, width: float) -> list[Patch]:
    """What is left of a slot's own round ends."""
    upright = [p for p in (shape.patches[o] for o in recess.patches) if _is_upright(p, recess.axis)]
    return [p for p in upright if abs(2 * p.surface.radius - width) < LEDGE and _lies(p, place)[1] < ON_AXIS]


def _beyond(shape: PartShape, recess: Recess) -> list[Patch]:
    """Hollow upright cylinders at which the floors of a recess end, or its walls if it goes through."""
    rims = [r for f in recess.floors for r in shape.patches[f].loops[0]]
    rims = rims or [r for p in recess.patches for r in shape.patches[p].rims if r.convexity == "convex"]
    others = sorted({r.other for r in rims} - set(recess.patches))
    return [p for p in (shape.patches[o] for o in others) if _is_upright(p, recess.axis)]


def _is_upright(patch: Patch, axis: Vec3) -> bool:
    surface = patch.surface
    return surface.kind == "cylinder" and surface.hollow and norm(cross(surface.axis, axis)) < SQUARE


def _has_far_wall(shape: PartShape, patch: Patch, place: Frame, depth: float, more: float) -> bool:
    """True when metal stands all round the far side of a hole, from the slot's floor to its top.

    ``more``: how much farther than the hole's wall, or that of a wider one on its axis, it may stand (mm).
    """
    surface = patch.surface
    y = cross(place.axis, place.ref_direction)
    x = scale(place.ref_direction, math.copysign(1.0, _lies(patch, place)[0]))
    foot = add(surface.origin, place.axis, dot(sub(place.location, surface.origin), place.axis) - depth)
    reach = max(CHAMFERED * surface.radius, *_heads(shape, patch)) + more + LEDGE
    ways = [add(scale(x, math.cos(turn)), y, math.sin(turn)) for turn in FAN]
    return all(
        crossings(shape, add(foot, place.axis, part * depth), way, 0.0, reach) for part in LEVELS for way in ways
    )


def _heads(shape: PartShape, patch: Patch) -> list[float]:
    """Radii of a hole and of what is bored on its axis, up to that of a keyhole's head."""
    surface = patch.surface
    bores = [p for p in shape.patches if _is_upright(p, surface.axis) and coaxial(p, surface.origin, surface.axis)]
    return [r for r in (b.surface.radius for b in bores) if r < WIDE * surface.radius + LEDGE]
