"""Chamfers and edge rounds: outer edges that the part does not leave sharp (ISO 14649-10 transition features)."""

from __future__ import annotations

import math
from collections.abc import Collection, Container, Iterable, Sequence

from schemas.base import Vec3, add, any_frame, cross, dot, norm, scale, sub, unit
from schemas.tolerances import LIMIT, SAME_ANGLE, SAME_LENGTH, SQUARE, STRIP
from worker.recognise.access import Sight, tidy
from worker.recognise.chamfer_corners import corner_draft
from worker.recognise.divided import whole
from worker.recognise.extent import extent
from worker.recognise.holes import opens_dish
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.recesses import hollow
from worker.recognise.strips import is_crest, is_land, line_of, long_sides, straight
from worker.recognise.turns import turn_of
from worker.recognise.window_corners import window_corners

NARROW = 0.55
"""A slanted face is a chamfer when it is narrower than this share of both faces beside it."""
SMALL = 1.5
"""Longest leg in mm of a chamfer of 45 degrees that may be as wide as a narrow face beside it, and wider than a ledge
under a wall (common practice: edges are broken by 0.2 to 1.5 mm, also on narrow lands)."""
SLIGHT, UPRIGHT = math.radians(8), math.radians(85)
"""A slanted face that leans less, or more, against a face beside it breaks no edge: it is that face's own wall."""
OPEN = math.radians(150)
"""Two faces that meet at less of an angle have no edge that a slant could break."""
DRAFTED = math.radians(40)
"""A slant round a window that leans less against a land below it is a drafted wall. Ours: countersinks have 45 degrees
and more, drafted walls up to 20 (common practice)."""
BLEND = math.radians(150)
"""An outer cylinder that turns further is a round end or a boss, not a rounded edge."""
STEEP = 0.35
"""An outer cone is a chamfer when its leg is shorter than this share of its radius."""


def plane_chamfers(shape: PartShape, outer: Collection[int]) -> dict[int, dict[str, float]]:
    """Plane patches that are chamfers, with width (across), depth (leg) and angle (degrees).

    ``outer``: the planes with the whole part behind them.
    """
    flat = [patch for patch in shape.patches if patch.surface.kind == "plane"]
    found = {patch.index: sizes for patch in flat if (sizes := _plane_chamfer(shape, patch)) is not None}
    found = {p: sizes for p, sizes in found.items() if not is_land(shape, p, found)}
    found = {p: sizes for p, sizes in found.items() if not is_crest(shape, p, outer)}
    for index in list(found):
        found.update(_pieces(shape, index, found))
    return found


def _pieces(shape: PartShape, index: int, found: dict[int, dict[str, float]]) -> dict[int, dict[str, float]]:
    """What is left of a chamfer beyond a slot that runs out through it, along the same edge: shorter than wide too."""
    sides = long_sides(shape.patches[index])
    if sides is None:
        return {}
    line, beside = line_of(sides[0]), {shape.carriers[side.other] for side in sides}
    more = {}
    for twin in (p for p in shape.of_carrier[shape.carriers[index]] if p not in found):
        along = [r for r in straight(shape.patches[twin].rims) if abs(dot(line_of(r), line)) > 1 - STRIP]
        low, high = extent(shape, (twin,), line)
        between = {shape.carriers[r.other] for r in along if r.convexity == "convex"} >= beside
        if between and high - low < found[index]["width"]:
            more[twin] = {**found[index], "length": high - low}
    return more


def _plane_chamfer(shape: PartShape, patch: Patch) -> dict[str, float] | None:
    sides = long_sides(patch)
    ends = [p for p in (shape.patches[o] for o in patch.smooth) if p.surface.kind == "cylinder" and hollow(p)]
    if sides is None or ends:  # the side of a slot that leads in askew, beside its round ends
        return None
    first, second = sides
    if not all(SLIGHT < side.angle < UPRIGHT for side in sides) or first.angle + second.angle > OPEN:
        return None
    line = line_of(first)
    across = cross(patch.surface.axis, line)
    low, high = extent(shape, (patch.index,), across)
    width = high - low
    beside = [_width_beside(shape, patch, r) for r in sides]
    widest = _widest(shape, sides, width, beside, _around(shape, patch, sides))
    if width > widest + LIMIT or _has_floor(shape, patch) or not _ends_well(shape, patch, sides):
        return None
    small = min(first.angle, second.angle)
    low, high = extent(shape, (patch.index,), line)
    return {
        "width": width,
        "length": high - low,
        "depth": width * math.sin(small),
        "angle": math.degrees(small),
    }


def _widest(
    shape: PartShape, sides: tuple[Rim, Rim], width: float, beside: Sequence[float], around: Sequence[Patch]
) -> float:
    """How wide a slanted face may be to break an edge, by the faces beside it (mm).

    Going on round corners as cones that break the same edge, it may be as wide as the narrower face; unless it is its
    drafted wall, that one may even be a sliver of a land below a chamfer, as it may below a countersink.
    """
    even = abs(sides[0].angle - sides[1].angle) < SAME_ANGLE
    if around:
        land = sides[0] if beside[0] < beside[1] else sides[1]
        breaks = land.angle > DRAFTED and all(p.surface.kind == "other" or _breaks_rim(shape, p) for p in around)
        return max(min(beside), NARROW * max(beside)) if breaks else min(beside)
    small = even and width * math.sin(sides[0].angle) < SMALL + SAME_LENGTH
    if small and _is_ledge(shape, sides[0] if beside[0] < beside[1] else sides[1]):
        return max(min(beside), NARROW * max(beside))
    return min(beside) if small else NARROW * min(beside)


def _is_ledge(shape: PartShape, side: Rim) -> bool:
    """True for a face beside a strip with a wall along its other side: it was a ledge before, however narrow."""
    walls = [r for r in straight(shape.patches[side.other].rims) if r.convexity == "concave"]
    return any(abs(dot(line_of(r), line_of(side))) > 1 - STRIP for r in walls)


def _around(shape: PartShape, patch: Patch, sides: tuple[Rim, Rim]) -> list[Patch]:
    """The strips along the same edge that one runs smoothly into: there the chamfer goes on round a corner."""
    bent = [shape.patches[o] for o in patch.smooth if shape.patches[o].surface.kind in ("cone", "other")]
    beside = {s.other for s in sides}
    return [strip for strip in bent if any(r.convexity == "convex" and r.other in beside for r in strip.rims)]


def _has_floor(shape: PartShape, patch: Patch) -> bool:
    """True when cutting the slant left a floor of its own: then it is the wall of a step. The next stretch of an edge
    that turns inwards is none."""
    return any(shape.patches[o].concave == (patch.index,) and not _slants(shape, o) for o in patch.concave)


def _ends_well(shape: PartShape, patch: Patch, sides: tuple[Rim, Rim]) -> bool:
    """False when the slant ends at a wall that never met the edge: one of a recess, with the slant for its next wall.

    A wall at which an edge ends stands on one of the two faces that meet in the edge, or has a chamfer of its own.
    """
    beside = {side.other for side in sides}
    return all(beside & set(shape.patches[o].concave) or _slants(shape, o) for o in patch.concave)


def _slants(shape: PartShape, index: int) -> bool:
    sides = long_sides(shape.patches[index])
    return sides is not None and all(SLIGHT < side.angle < UPRIGHT for side in sides)


def _width_beside(shape: PartShape, patch: Patch, side: Rim) -> float:
    """Width of the face beside a side of a strip, whole even where something divides it."""
    other = shape.patches[side.other]
    if other.surface.kind != "plane":
        return 2 * other.surface.radius
    near = {r.other for r in straight(patch.rims) if shape.carriers[r.other] == shape.carriers[other.index]}
    low, high = extent(shape, near, cross(other.surface.axis, line_of(side)))
    return high - low


def cone_chamfers(shape: PartShape, planes: Container[int] = ()) -> list[int]:
    """Outer cones that break the edge between a cylinder and a plane square to it, or continue such a chamfer."""
    return [p.index for p in shape.patches if p.surface.kind == "cone" and _is_cone_chamfer(shape, p, planes)]


def _is_cone_chamfer(shape: PartShape, patch: Patch, planes: Container[int]) -> bool:
    strips = [o in planes for o in patch.smooth if shape.patches[o].surface.kind == "plane"]
    if strips and not any(strips):  # it turns the corner of walls
        return False
    goes_on = not patch.concave and (sum(strips) >= 2 or _is_stop(shape, patch))
    return goes_on or opens_dish(shape, patch) or _breaks_rim(shape, patch)


def _is_stop(shape: PartShape, patch: Patch) -> bool:
    """True for a hollow cone that a cutter leaves where a chamfer ends within its edge: between the same two faces."""
    beside = {o for strip in patch.smooth for o in shape.patches[strip].convex}
    return patch.surface.hollow and len(patch.smooth) == 1 and len(patch.convex) == 2 and beside >= set(patch.convex)


def _breaks_rim(shape: PartShape, patch: Patch) -> bool:
    """True for a cone between a plane square to it and a cylinder about the same line, part of a turn where hollow; or
    between such a plane and flats along it where it stands out, as round the corners of a hexagon."""
    axis = patch.surface.axis
    if not _ends_at_walls(shape, patch):
        return False
    if turn_of([patch], patch.surface.origin, axis) > math.radians(355) and patch.surface.hollow:
        return False
    sides = {"plane": False, "cylinder": False}
    flats = 0
    for rim in patch.rims:
        other = shape.patches[rim.other].surface
        if rim.convexity == "convex" and other.kind in sides and norm(cross(other.axis, axis)) < STRIP:
            sides[other.kind] = True
        flats += rim.convexity == "convex" and other.kind == "plane" and abs(dot(other.axis, axis)) < SQUARE
    low, high = extent(shape, (patch.index,), axis)
    far = high - dot(patch.surface.origin, axis)
    radius = far * math.tan(patch.surface.half_angle)
    leg = (high - low) * math.tan(patch.surface.half_angle)
    between = sides["plane"] and (sides["cylinder"] or (flats >= 2 and not patch.surface.hollow))
    return between and (leg < STEEP * radius + LIMIT or patch.surface.hollow)


def _ends_at_walls(shape: PartShape, patch: Patch) -> bool:
    """True where nothing rises from a cone but faces that run along its axis: its ends, as where a slot's wall is
    broken round the outside and the strip ends on the slot's floor."""
    axis, others = patch.surface.axis, (shape.patches[o].surface for o in patch.concave)
    return all(o.kind == "plane" and abs(dot(o.axis, axis)) < SQUARE for o in others)


def edge_rounds(shape: PartShape) -> list[int]:
    """Convex cylinders and tori that run smoothly into a face on either side, and the ball corners between them."""
    walls = window_corners(shape)
    found = [p.index for p in shape.patches if p.index not in walls and _is_round(shape, p)]
    corners = [
        p.index
        for p in shape.patches
        if p.surface.kind in ("sphere", "torus")
        and not p.surface.hollow
        and p.index not in found
        and len(set(p.smooth) & set(found)) >= 2
    ]
    return sorted(found + corners)


def _is_round(shape: PartShape, patch: Patch) -> bool:
    surface = patch.surface
    if surface.hollow or surface.kind not in ("cylinder", "torus"):
        return False
    if surface.kind == "torus":
        return len(patch.smooth) >= 2
    sides = {r.other for r in straight(patch.rims) if r.convexity == "smooth"}
    if len(sides) < 2 or turn_of([patch], surface.origin, surface.axis) > BLEND:
        return False
    return not _stands_with(shape, patch, sides)


def _stands_with(shape: PartShape, patch: Patch, sides: set[int]) -> bool:
    """True for the corner of a boss: it stands on the same floor as the walls beside it."""
    return any(all(floor in shape.patches[s].concave for s in sides) for floor in patch.concave)


def chains(shape: PartShape, patches: Iterable[int]) -> list[tuple[int, ...]]:
    """Patches that run smoothly into one another, as one feature each."""
    left = set(patches)
    found = []
    for start in sorted(left):
        group, waiting = [], [start]
        while waiting:
            index = waiting.pop()
            if index in left:
                left.remove(index)
                group.append(index)
                waiting += [o for o in shape.patches[index].smooth if o in left]
        if group:
            found.append(tuple(sorted(group)))
    return found


def transition_drafts(
    shape: PartShape,
    sight: Sight,
    planes: dict[int, dict[str, float]],
    cones: Iterable[int],
    rounds: Iterable[int],
    corners: Iterable[int] = (),
) -> list[Draft]:
    """Features of all transitions."""
    broken = [
        one for group in whole(shape, chains(shape, [*planes, *cones])) for one in _seen_whole(shape, sight, group)
    ]
    drafts = [_chamfer(shape, sight, group, planes) for group in broken]
    drafts += [corner_draft(shape, facet, seen_from(shape, sight, (facet,)), sight.sides) for facet in corners]
    return drafts + [_edge_round(shape, sight, group) for group in whole(shape, chains(shape, rounds))]


def _seen_whole(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> list[tuple[int, ...]]:
    """One edge, or each stretch for itself where only then something sees it: they are cut in different setups."""
    stretches = chains(shape, group)
    apart = len(stretches) > 1 and not seen_from(shape, sight, group)
    return stretches if apart and all(seen_from(shape, sight, one) for one in stretches) else [group]


def _chamfer(shape: PartShape, sight: Sight, group: tuple[int, ...], planes: dict[int, dict[str, float]]) -> Draft:
    flat = [p for p in group if p in planes]
    if not flat:
        return _cone_chamfer(shape, sight, group)
    patch = shape.patches[
        max(flat, key=lambda p: (round(planes[p]["length"], 3), _rounded(shape.patches[p].surface.axis)))
    ]
    sides = long_sides(patch)
    assert sides is not None
    line = line_of(sides[0])
    access = seen_from(shape, sight, group)
    axis = _best(access, patch.surface.axis)
    sizes: dict[str, object] = dict(planes[patch.index])
    low, high = extent(shape, _stretches(shape, patch.index, flat), line)
    sizes["length"] = high - low
    across = cross(patch.surface.axis, line)
    middle = _at(extent(shape, (patch.index,), across), across, patch.surface.origin)
    middle = _at((low, high), line, middle)
    return Draft("chamfer", group, any_frame(middle, axis), access, sizes)


def _stretches(shape: PartShape, index: int, group: Iterable[int]) -> tuple[int, ...]:
    """The patches of a group on one carrier: one edge, though something may divide it."""
    return tuple(p for p in group if shape.carriers[p] == shape.carriers[index])


def _at(span: tuple[float, float], direction: Vec3, point: Vec3) -> Vec3:
    """The point moved along a direction to the middle of a span."""
    return add(point, direction, 0.5 * (span[0] + span[1]) - dot(point, direction))


def _cone_chamfer(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> Draft:
    cones = tuple(p for p in group if shape.patches[p].surface.kind == "cone")
    surface = shape.patches[cones[0]].surface
    zero = dot(surface.origin, surface.axis)
    low, high = extent(shape, cones, surface.axis)
    slope = math.tan(surface.half_angle)
    access = seen_from(shape, sight, group)
    axis = _best(access, scale(surface.axis, 1.0 if surface.hollow else -1.0))
    top = high if dot(axis, surface.axis) > 0 else low
    sizes: dict[str, object] = {
        "diameter": 2 * (low - zero) * slope,
        "top_diameter": 2 * (high - zero) * slope,
        "width": (high - low) * slope,
        "depth": high - low,
        "angle": math.degrees(surface.half_angle),
    }
    return Draft("chamfer", group, any_frame(add(surface.origin, surface.axis, top - zero), axis), access, sizes)


def _best(access: tuple[Vec3, ...], normal: Vec3) -> Vec3:
    if not access:
        return tidy(normal)
    return max(access, key=lambda d: (round(dot(d, normal), 6), d[2], d[1], d[0]))


def _edge_round(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> Draft:
    access = seen_from(shape, sight, group)
    length, place, index = max(_strip(shape, p, group) for p in group)
    surface = shape.patches[index].surface
    radius = surface.minor if surface.kind == "torus" else surface.radius
    sizes: dict[str, object] = {"radius": radius}
    if length > 0:
        sizes["length"] = length
    axis = _best(access, _outward(shape.patches[index]))
    return Draft("edge_round", group, any_frame(place, axis), access, sizes)


def _outward(patch: Patch) -> Vec3:
    """The way half way between a round's two long edges, whatever is gone of it; its mean normal where it has none."""
    surface = patch.surface
    gaps = [sub(r.points[0], surface.origin) for r in straight(patch.rims) if surface.kind == "cylinder"]
    ways = [unit(add(gap, surface.axis, -dot(gap, surface.axis))) for gap in gaps]
    if not ways:
        return patch.normal
    far = min(ways, key=lambda way: dot(way, ways[0]))
    middle = add(ways[0], far)
    return unit(middle) if norm(middle) > SQUARE else patch.normal


def _strip(shape: PartShape, index: int, group: tuple[int, ...]) -> tuple[float, Vec3, int]:
    """Length and middle of a straight rounded edge (0 and the centre of other rounds): the longest, highest first."""
    surface = shape.patches[index].surface
    if surface.kind != "cylinder":
        return 0.0, _rounded(surface.origin), index
    low, high = extent(shape, _stretches(shape, index, group), surface.axis)
    return round(high - low, 6), _rounded(_at((low, high), surface.axis, surface.origin)), index


def _rounded(point: Vec3) -> Vec3:
    return (round(point[0], 6), round(point[1], 6), round(point[2], 6))


def seen_from(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> tuple[Vec3, ...]:
    """Free directions of a transition: along the faces beside it, its own, and the part's sides that it leans towards.

    Of a round mouth in a turned bar nothing beside it is square to the way it is cut from; where none of these sees it,
    the part's sides that it stands along are asked too.
    """
    wanted: list[Vec3] = []
    for index in group:
        patch = shape.patches[index]
        own = [patch.surface.axis] if patch.surface.kind in ("plane", "cylinder", "cone", "torus") else []
        beside = [shape.patches[o].surface.axis for o in patch.neighbours if shape.patches[o].surface.kind == "plane"]
        wanted += [*own, *beside, *(scale(d, -1.0) for d in own + beside)]
    leant = [d for d in sight.sides if all(_leans(shape.patches[p], d) for p in group)]
    seen = tuple(d for d in sight.distinct([*wanted, *leant]) if sight.sees(group, d))
    return seen or tuple(d for d in sight.sides if sight.sees(group, d))


def _leans(patch: Patch, direction: Vec3) -> bool:
    """False for a plane that stands along a direction: an end mill's flank would cut it from there, no chamfer mill."""
    return patch.surface.kind != "plane" or dot(patch.surface.axis, direction) > SQUARE
