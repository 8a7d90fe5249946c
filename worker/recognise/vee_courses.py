"""V-grooves that bend, turn corners or close on themselves: lines of an engraving, rings, racetracks."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from schemas.base import Vec3, cross, dot, norm, sub
from schemas.tolerances import SAME_LENGTH, SQUARE
from worker.recognise.borders import circle_of
from worker.recognise.curved import Sizes
from worker.recognise.extent import extent
from worker.recognise.loops import length_of
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.recesses import Recess, is_wall


@dataclass(frozen=True)
class VeeCourse:
    """The ends of a groove between two leaning flanks, and its sizes; ``loop`` where it closes on itself."""

    ends: str
    sizes: Sizes


def vee_course(shape: PartShape, recess: Recess) -> VeeCourse | None:
    """The course of a groove whose flanks meet in one level line that is neither straight nor branches, and is as wide
    all along; None for any other. Its corners and ends may be turned by a cone, or ended by walls.

    ``length`` is that of the line, and what lies past its round ends; round one axis the ``diameter`` is the line's.
    """
    low = extent(shape, recess.patches, recess.axis)[0]
    foot = _foot(shape, recess, low)
    leans = {p: _lean(shape.patches[p], recess) for pair in foot for p in pair[:2]}
    turns = all(_turns(shape, recess, p, low) for p in recess.patches if p not in leans)
    known = {p: lean for p, lean in leans.items() if lean is not None}
    if not foot or not turns or len(known) < len(leans) or max(known.values()) < SQUARE:
        return None
    wide = {p: (extent(shape, (p,), recess.axis)[1] - low) * math.tan(lean) for p, lean in known.items()}
    widths = [sum(wide[p] for p in pair[:2]) for pair in foot]
    tips = _tips(list(foot.values()))
    if max(widths) - min(widths) > SAME_LENGTH or tips is None or _is_straight(foot.values()):
        return None
    ends = [_end(shape, recess, tip) for tip in tips]
    length = sum(length_of(r) for r in foot.values()) + ends.count("radiused") * max(widths) / 2
    sizes: Sizes = {"width": max(widths), "length": length, "slope": math.degrees(max(known.values()))}
    circle = circle_of(next(iter(foot.values())))
    if circle is not None and len({shape.carriers[p] for p in known}) == 2:
        sizes.update(diameter=2 * circle[2], length=length if ends else None)
    else:
        sizes["course_of_travel"] = "general"
    return VeeCourse(" ".join(sorted(ends, key=("open", "flat", "radiused").index)) or "loop", sizes)


def _foot(shape: PartShape, recess: Recess, low: float) -> dict[tuple[int, ...], Rim]:
    """The edges at the groove's lowest level in which two of its flanks meet, each once."""
    members = set(recess.patches)
    found: dict[tuple[int, ...], Rim] = {}
    for p in recess.patches:
        for rim in shape.patches[p].rims:
            level = all(abs(dot(q, recess.axis) - low) < SAME_LENGTH for q in rim.points)
            if rim.other in members and level and p < rim.other:
                found[p, rim.other, rim.edge] = rim
    return found


def _lean(patch: Patch, recess: Recess) -> float | None:
    """How far a plane, or a cone or cylinder about an upright axis, leans from the recess' axis (rad); else None."""
    surface = patch.surface
    along = dot(surface.axis, recess.axis)
    if surface.kind == "plane":
        return math.asin(along) if -SQUARE < along < 1 - SQUARE else None
    upright = norm(cross(surface.axis, recess.axis)) < SQUARE
    if surface.kind == "cylinder" and upright:
        return 0.0
    return surface.half_angle if surface.kind == "cone" and upright and surface.hollow == (along > 0) else None


def _turns(shape: PartShape, recess: Recess, patch: int, low: float) -> bool:
    """True for a cone that stands on its tip at the groove's lowest level, and for an upright wall."""
    surface = shape.patches[patch].surface
    if surface.kind == "cone":
        upright = norm(cross(surface.axis, recess.axis)) < SQUARE
        return upright and surface.hollow and abs(dot(surface.origin, recess.axis) - low) < SAME_LENGTH
    return is_wall(shape.patches[patch], recess.axis)


def _tips(foot: Sequence[Rim]) -> list[Vec3] | None:
    """Where a line of some edges ends, nowhere or at two places; None where it branches or is in pieces."""
    places: list[tuple[Vec3, list[int]]] = []
    for k, rim in enumerate(foot):
        for point in (rim.points[0], rim.points[-1]):
            near = next((own for at, own in places if norm(sub(at, point)) < SAME_LENGTH), None)
            if near is None:
                places.append((point, [k]))
            else:
                near.append(k)
    reached, waiting = set(), [0]
    while waiting:
        k = waiting.pop()
        reached.add(k)
        waiting += [o for _, own in places if k in own for o in own if o not in reached]
    tips = [at for at, own in places if len(own) == 1]
    simple = all(len(own) <= 2 for _, own in places) and len(reached) == len(foot)
    return tips if simple and len(tips) in (0, 2) else None


def _is_straight(foot: Collection[Rim]) -> bool:
    rims = list(foot)
    ways = [sub(r.points[-1], r.points[0]) for r in rims]
    lines = all(r.curve == "line" for r in rims)
    return lines and all(norm(cross(ways[0], way)) < SQUARE * norm(ways[0]) * norm(way) for way in ways)


def _end(shape: PartShape, recess: Recess, tip: Vec3) -> str:
    """What ends the line at a place: a cone that stands on its tip there, a wall, or nothing."""
    near = [shape.patches[p] for p in recess.patches if _touches(shape.patches[p], tip)]
    if any(p.surface.kind == "cone" and norm(sub(p.surface.origin, tip)) < SAME_LENGTH for p in near):
        return "radiused"
    return "flat" if any(is_wall(p, recess.axis) for p in near) else "open"


def _touches(patch: Patch, point: Vec3) -> bool:
    ends = (q for rim in patch.rims for q in (rim.points[0], rim.points[-1]))
    return any(norm(sub(q, point)) < SAME_LENGTH for q in ends)
