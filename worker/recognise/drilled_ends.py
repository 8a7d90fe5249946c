"""Slots at whose end a deeper hole stands: it takes the end wall, but the slot still ends there."""

from __future__ import annotations

import math

from schemas.base import Frame, Vec3, add, cross, dot, norm, scale, sub
from schemas.tolerances import LEDGE, ON_AXIS, SQUARE
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recesses import Recess

WIDE = 1.25
"""A slot ends in the axis of a hole that is up to this many times as wide; a wider one is a space it opens into.

Ours: a hole drilled for the cutter to enter is a little wider than the slot, a keyhole's head half as wide again."""
LEVELS = (0.1, 0.5, 0.9)
"""At these parts of a slot's depth the hole's far wall is looked for: another slot beyond it leaves none."""
FAN = tuple(math.radians(turn) for turn in (-60, -30, 0, 30, 60))


def with_drilled_ends(
    shape: PartShape, recess: Recess, place: Frame, sizes: dict[str, object], ends: str
) -> tuple[Frame, dict[str, object], str]:
    """Placement, sizes (mm) and ends of a slot as it was without the holes: round about the axis of each."""
    x, length, width = place.ref_direction, float(str(sizes["length"])), float(str(sizes["width"]))
    low, high = -length / 2, length / 2
    drilled = _drilled(shape, recess, place, sizes)
    for along in drilled:
        low, high = (low, along + width / 2) if along > 0 else (along - width / 2, high)
    words = sorted(ends.split(), key=lambda word: word != "open")
    words[: len(drilled)] = ["radiused" for word in words[: len(drilled)]]
    if not drilled:
        return place, sizes, ends
    place = Frame(location=add(place.location, x, (low + high) / 2), axis=place.axis, ref_direction=x)
    radius = {} if "flat" in words else {"orthogonal_radius": width / 2}
    return place, {**sizes, **radius, "length": high - low}, " ".join(sorted(words))


def _drilled(shape: PartShape, recess: Recess, place: Frame, sizes: dict[str, object]) -> list[float]:
    """How far along a slot from its placement (mm) the axes of the holes stand in which it ends, one an end."""
    found: dict[float, float] = {}
    width, depth = float(str(sizes["width"])), float(str(sizes["depth"]))
    for patch in _beyond(shape, recess):
        gap = sub(patch.surface.origin, place.location)
        along = dot(gap, place.ref_direction)
        off = abs(dot(gap, cross(place.axis, place.ref_direction)))
        fits = width - LEDGE < 2 * patch.surface.radius < WIDE * width + LEDGE
        if off < ON_AXIS and fits and _has_far_wall(shape, patch, place, depth, along):
            found.setdefault(math.copysign(1.0, along), along)
    return list(found.values())


def _beyond(shape: PartShape, recess: Recess) -> list[Patch]:
    """Hollow upright cylinders at which the floors of a recess end, that are not its own."""
    others = sorted({r.other for f in recess.floors for r in shape.patches[f].loops[0]} - set(recess.patches))
    return [p for p in (shape.patches[o] for o in others) if _is_upright(p, recess.axis)]


def _is_upright(patch: Patch, axis: Vec3) -> bool:
    surface = patch.surface
    return surface.kind == "cylinder" and surface.hollow and norm(cross(surface.axis, axis)) < SQUARE


def _has_far_wall(shape: PartShape, patch: Patch, place: Frame, depth: float, along: float) -> bool:
    """True when metal stands all round the far side of a hole, from the slot's floor to its top."""
    y = cross(place.axis, place.ref_direction)
    x = scale(place.ref_direction, math.copysign(1.0, along))
    foot = add(patch.surface.origin, place.axis, dot(sub(place.location, patch.surface.origin), place.axis) - depth)
    reach = WIDE * patch.surface.radius + LEDGE
    ways = [add(scale(x, math.cos(turn)), y, math.sin(turn)) for turn in FAN]
    return all(
        crossings(shape, add(foot, place.axis, part * depth), way, 0.0, reach) for part in LEVELS for way in ways
    )
