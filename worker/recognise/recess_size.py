"""How large a recess is: its placement, sizes, radii, wall slope and what its bottom is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from schemas.base import Frame, Vec3, add, cross, dot, norm, scale
from schemas.feature import FeatureClass
from schemas.tolerances import LIMIT, SQUARE, STRIP
from worker.recognise.beside_bores import beside_bores
from worker.recognise.corners_apart import ends_beyond
from worker.recognise.extent import extent, extent_between
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.recesses import DRAFT, Recess, hollow, is_wall, long_direction

BROKEN = 5.0
"""What breaks an edge is no higher than this (mm). Ours: edges are broken by 0.2 to 1.5 mm, rims rounded by up to 5."""


def sizes_of(
    shape: PartShape, recess: Recess, class_: FeatureClass, travel: Vec3 | None = None
) -> tuple[Frame, dict[str, object]]:
    """Placement, depth, length and width (mm) of a recess; ``length`` runs along ``travel`` where that is given."""
    axis = recess.axis
    x = travel or long_direction(shape, recess)
    if class_ == "slot" and is_vee(shape, recess) and travel is None:
        x = _along_vee(shape, recess)
    y = cross(axis, x)
    low, _ = extent(shape, recess.floors or recess.own or recess.patches, axis)
    high = low if class_ == "planar_face" else top_of(shape, recess)
    if not recess.span and bottom_of(shape, recess) == "through":
        low = min(low, foot_of(shape, recess))
    if recess.span:
        low, high = low if recess.floors else max(low, recess.span[0]), min(high, recess.span[1])
    spans = _lies(shape, recess, class_, (x, y))
    if class_ == "slot":
        spans[1] = _between_walls(shape, recess, y) or spans[1]
    across = [s[1] - s[0] for s in spans]
    place = add(add(scale(x, sum(spans[0]) / 2), y, sum(spans[1]) / 2), axis, high)
    if across[1] > across[0] + 1e-6 and class_ not in ("slot", "step"):
        x, across = y, across[::-1]
    sizes: dict[str, object] = {"depth": high - low, "length": across[0], "width": across[1]}
    if class_ == "step":
        sizes["height"] = high - low
    slopes = [_slope(shape.patches[p], axis) for p in recess.patches if p not in recess.floors]
    steep = [s for s in slopes if s is not None]
    if steep:
        sizes["slope"] = max(steep)
    return Frame(location=place, axis=axis, ref_direction=x), sizes


def _lies(shape: PartShape, recess: Recess, class_: FeatureClass, ways: Sequence[Vec3]) -> list[tuple[float, float]]:
    """Where a recess begins and ends along some directions square to its axis."""
    if recess.reach:
        places = [[dot(p, d) for p in recess.reach] for d in ways]
        walls = [extent(shape, recess.core, d) for d in ways]
        return [(min(w[0], *p), max(w[1], *p)) for w, p in zip(walls, places, strict=True)]
    ground = (recess.floors and class_ != "planar_face" and recess.core) or ground_of(shape, recess)
    if class_ == "planar_face" or (recess.shared and not recess.own):
        return [extent(shape, ground, d) for d in ways]
    members = recess.own or recess.patches
    if recess.seen and not recess.own and (reach := beside_bores(shape, recess)):  # a hole lets cutters in elsewhere
        return [reach(d) for d in ways]
    if not recess.span:
        beyond, spans = ends_beyond(shape, members), [extent(shape, members, d) for d in ways]
        ends = [[dot(place, d) for place in beyond] for d in ways]
        return [(min((low, *more)), max((high, *more))) for (low, high), more in zip(spans, ends, strict=True)]
    return [extent_between(shape, members, d, recess.axis, recess.span) for d in ways]


def _between_walls(shape: PartShape, recess: Recess, across: Vec3) -> tuple[float, float] | None:
    """Where the plane walls on both sides of a slot stand; None where it has not both. Its floor may be wider at its
    ends, where chamfers round the outside of the part end on it."""
    walls = [p for p in recess.own or recess.patches if shape.patches[p].surface.kind == "plane"]
    facing = [[p for p in walls if side * dot(shape.patches[p].surface.axis, across) > 1 - STRIP] for side in (1, -1)]
    if not all(facing):
        return None
    (low, _), (_, high) = (extent(shape, side, across) for side in facing)
    return (low, high) if low < high else None


def ground_of(shape: PartShape, recess: Recess) -> tuple[int, ...]:
    """The floors of a recess with the fillets round them."""
    fillets = {o for f in recess.floors for o in shape.patches[f].smooth if o in recess.patches}
    return tuple(sorted({*recess.floors, *fillets}))


def is_vee(shape: PartShape, recess: Recess) -> bool:
    """True for two planes without a floor, in however many pieces."""
    flat = all(shape.patches[p].surface.kind == "plane" for p in recess.patches)
    return not recess.floors and flat and len({shape.carriers[p] for p in recess.patches}) == 2


def _along_vee(shape: PartShape, recess: Recess) -> Vec3:
    a, b = (shape.patches[p].surface.axis for p in sorted({shape.carriers[p] for p in recess.patches}))
    line = cross(a, b)
    size = norm(line)
    return scale(line, 1.0 / size) if size > 1e-6 else long_direction(shape, recess)


def _slope(patch: Patch, axis: Vec3) -> float | None:
    if patch.surface.kind == "plane":
        lean = dot(patch.surface.axis, axis)
        return math.degrees(math.asin(lean)) if SQUARE < lean < 1 - SQUARE else None
    return None


def top_of(shape: PartShape, recess: Recess) -> float:
    """Height of the entry plane: the top of the walls, or of the transitions that break their upper edge."""
    members = set(recess.patches)
    walls = (not recess.floors and recess.own) or recess.patches
    top = extent(shape, walls, recess.axis)[1]
    for index in walls:
        for rim in shape.patches[index].rims:
            if rim.other in members or rim.convexity == "concave":
                continue
            if dot(rim.points[0], recess.axis) < top - BROKEN - LIMIT:  # what breaks an edge there ends below the top
                continue
            if breaks_edge(shape, rim, recess.axis):
                top = max(top, extent(shape, (rim.other,), recess.axis)[1])
    return top


def foot_of(shape: PartShape, recess: Recess) -> float:
    """Height of the plane that walls come out of below: the end of the transitions that break their lower edge."""
    return -top_of(shape, replace(recess, axis=scale(recess.axis, -1.0)))


def breaks_edge(shape: PartShape, rim: Rim, axis: Vec3) -> bool:
    """True when the patch over a rim is a narrow slant or round that leads up to a plane square to the axis."""
    patch = shape.patches[rim.other]
    if is_wall(patch, axis) or is_square(patch, axis) or patch.surface.kind == "other":
        return False
    low, high = extent(shape, (rim.other,), axis)
    own = {r.other for r in patch.rims if r.edge == rim.edge}
    heights = [dot(p, axis) for r in patch.rims if r.other in own for p in r.points]  # the edge may be in pieces
    leads_up = any(is_square(shape.patches[o], axis) for o in patch.neighbours)
    return leads_up and max(heights) < low + 0.5 * (high - low) and high - low < BROKEN + LIMIT


def radii_of(shape: PartShape, recess: Recess) -> dict[str, object]:
    """Smallest corner radius of the walls, radius of the floor fillets."""
    corners, fillets = [], []
    for index in recess.patches:
        surface = shape.patches[index].surface
        if not surface.hollow:
            continue
        if surface.kind == "cylinder" and is_wall(shape.patches[index], recess.axis):
            corners.append(surface.radius)
        elif surface.kind == "cylinder":
            fillets.append(surface.radius)
        elif surface.kind == "torus":
            fillets.append(surface.minor)
        elif surface.kind == "sphere":
            fillets.append(surface.radius)
    found: dict[str, object] = {}
    if corners:
        found["orthogonal_radius"] = min(corners)
    if fillets:
        found["planar_radius"] = min(fillets)
    return found


def bottom_of(shape: PartShape, recess: Recess) -> str:
    """Its bottom in the words of ISO 14649-10; a cap of one sphere alone is spherical."""
    if recess.floors:
        return "planar"
    slanted = [p for p in recess.patches if not is_wall(shape.patches[p], recess.axis)]
    if not slanted or _leads_through(shape, recess, slanted):
        return "through"
    if len(slanted) == len(recess.patches) and {shape.patches[p].surface.kind for p in slanted} == {"sphere"}:
        return "spherical"
    return "radiused" if all(hollow(shape.patches[p]) for p in slanted) else "general"


def _leads_through(shape: PartShape, recess: Recess, slanted: Sequence[int]) -> bool:
    """True for free-form or drafted walls, none of them a bottom, that end at a face which looks the other way."""
    axis = np.array(recess.axis)
    if any((shape.normals[shape.slices[p]] @ axis).max(initial=-1.0) > DRAFT for p in slanted):
        return False
    below = {r.other for p in slanted for r in shape.patches[p].rims if r.convexity == "convex"} - set(recess.patches)
    return any(dot(shape.patches[o].looks, recess.axis) < -SQUARE * shape.patches[o].area for o in below)


def is_square(patch: Patch, axis: Vec3) -> bool:
    """True for a plane square to the direction, whichever way it looks."""
    return patch.surface.kind == "plane" and norm(cross(patch.surface.axis, axis)) < SQUARE
