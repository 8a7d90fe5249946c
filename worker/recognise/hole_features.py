"""The features that a stack of bores, cones and seats on one axis makes: holes, compounds, ring grooves."""

from __future__ import annotations

import math
from dataclasses import replace

from schemas.base import Vec3, add, any_frame, cross, dot, norm, sub
from schemas.feature import FeatureClass
from schemas.tolerances import COAXIAL, CONE_POINT, LEDGE, LENGTH, SAME_LENGTH
from worker.recognise.access import Sight, opposite
from worker.recognise.extent import extent
from worker.recognise.hole_stacks import Piece, Stack
from worker.recognise.ids import Draft, upright
from worker.recognise.patches import PartShape
from worker.recognise.turns import coaxial

TAPERED = 40.0
"""A cone of no more than this angle (degrees, from side to side) is a tapered hole, a wider one a countersink.

Common practice: pipe threads 3.6 (1 : 16), pins 1.1 (1 : 50), spindles 16.6 (7 : 24); countersinks from 60 on."""


def hole_drafts(shape: PartShape, sight: Sight, stacks: list[Stack]) -> list[Draft]:
    """The features of all stacks: single holes, compounds and their elements, ring grooves."""
    return [draft for stack in stacks for draft in _stack_drafts(shape, sight, stack)]


def with_feet(stacks: list[Stack], drafts: list[Draft]) -> list[Draft]:
    """Drafts where a chamfer that something cuts off from its hole is one, as large as down to the hole's wall."""
    for piece in (piece for stack in stacks for piece in stack.pieces if piece.cut_off):
        parts = [d for d in drafts if d.class_ == "chamfer" and d.patches[0] in piece.patches]
        if parts:
            radii, depth = sorted((piece.low_radius, piece.high_radius)), piece.high - piece.low
            sizes = parts[0].sizes | {"diameter": 2 * radii[0], "width": radii[1] - radii[0], "depth": depth}
            access = tuple(way for way in parts[0].access if all(way in d.access for d in parts))
            patches = tuple(sorted(p for d in parts for p in d.patches))
            one = replace(parts[0], patches=patches, sizes=sizes, access=access)
            drafts = [one if d is parts[0] else d for d in drafts if d not in parts[1:]]
    return drafts


def _stack_drafts(shape: PartShape, sight: Sight, stack: Stack) -> list[Draft]:
    links = [p for p in stack.pieces if _is_element(shape, stack, p)]
    for piece in stack.pieces:
        if piece not in links and piece.patches[0] not in stack.chamfers:
            _give_floor(shape, piece, links)
    grooves = [p for p in links if _is_groove(shape, p)] if len(links) > 1 else []
    made = {id(p): _element(shape, sight, stack, p, links) for p in links if p not in grooves}
    _close_ends(shape, stack, grooves, {p: made[id(p)] for p in links if p not in grooves})
    rings = [_groove(shape, stack, p) for p in grooves]
    rings += [_round_groove(shape, stack, p) for p in stack.pieces if _is_round_groove(shape, p)]
    elements = [made[id(p)] for p in links if p not in grooves]
    if len(elements) < 2:
        return elements + rings
    return [_compound(shape, sight, stack, elements), *elements, *rings]


def _is_element(shape: PartShape, stack: Stack, piece: Piece) -> bool:
    """Bores, countersinks and tapered holes are elements; points, seats and chamfers are not."""
    if piece.kind == "cylinder":
        return True
    if piece.kind != "cone" or piece.patches[0] in stack.chamfers:
        return False
    return not _closes_wider(shape, stack, piece)


def _closes_wider(shape: PartShape, stack: Stack, piece: Piece) -> bool:
    """True for a cone that is the bottom of a wider bore: it meets its wall at its own wide end."""
    wide = max(piece.low_radius, piece.high_radius)
    for rim in shape.patches[piece.patches[0]].rims:
        rest = sub(rim.points[0], stack.origin)
        radius = norm(add(rest, stack.axis, -dot(rest, stack.axis)))
        if rim.convexity in ("concave", "smooth") and rim.other in stack.patches and radius > wide - SAME_LENGTH:
            return True
    return False


def _give_floor(shape: PartShape, piece: Piece, links: list[Piece]) -> None:
    """A seat, point or fillet goes to the bore it closes: the one it meets in a concave or smooth edge."""
    for patch in piece.patches:
        near = shape.patches[patch]
        owners = [p for p in links if set(p.patches) & set(near.concave + near.smooth)]
        if not owners:
            touching = {o for q in near.concave + near.smooth for o in shape.patches[q].neighbours}
            owners = [p for p in links if set(p.patches) & touching]
        if owners:
            max(owners, key=lambda p: p.diameter).floors.append(patch)


def _is_groove(shape: PartShape, piece: Piece) -> bool:
    """A bore shut off on both sides by seats that look at each other."""
    seats = [shape.patches[f] for f in piece.floors if shape.patches[f].surface.kind == "plane"]
    return any(dot(a.surface.axis, b.surface.axis) < 0 for a in seats for b in seats)


def _close_ends(shape: PartShape, stack: Stack, grooves: list[Piece], bores: dict[Piece, Draft]) -> None:
    """A bore that ends in a groove with a whole floor is blind: it is as deep as the groove, and flat."""
    for groove in grooves:
        for seat in (shape.patches[f] for f in groove.floors):
            if seat.surface.kind != "plane" or len(seat.loops) != 1:
                continue
            upwards = dot(seat.surface.axis, stack.axis) > 0
            for piece, draft in bores.items():
                if abs(piece.low - groove.high if upwards else piece.high - groove.low) < LENGTH:
                    draft.sizes.update(bottom="flat", depth=draft.sizes["depth"] + groove.high - groove.low)


def _groove(shape: PartShape, stack: Stack, piece: Piece) -> Draft:
    sizes = {"diameter": piece.diameter, "width": piece.high - piece.low}
    return _ring(stack, piece, (*piece.patches, *piece.floors), sizes)


def _ring(stack: Stack, piece: Piece, patches: tuple[int, ...], sizes: dict[str, float]) -> Draft:
    place = add(stack.origin, stack.axis, 0.5 * (piece.low + piece.high))
    told = "ring groove inside a bore: wider than the bore on both sides of it"
    return Draft("slot", patches, any_frame(place, stack.axis), (), {**sizes, "ends": "loop", "undercut": told})


def _is_round_groove(shape: PartShape, piece: Piece) -> bool:
    """True for a ring sunk into a bore's wall, with an edge on both sides of its middle."""
    patches = [shape.patches[p] for p in piece.patches]
    if piece.kind != "torus" or any(r.convexity != "convex" for p in patches for r in p.rims):
        return False
    middle = dot(patches[0].surface.origin, patches[0].surface.axis)
    return len(patches[0].loops) == 2 and patches[0].span(patches[0].surface.axis)[0] < middle - SAME_LENGTH


def _round_groove(shape: PartShape, stack: Stack, piece: Piece) -> Draft:
    ring = shape.patches[piece.patches[0]].surface
    low, high = extent(shape, piece.patches, stack.axis)
    sizes = {"diameter": 2 * (ring.radius + ring.minor), "width": high - low, "planar_radius": ring.minor}
    return _ring(stack, piece, piece.patches, sizes)


def _element(shape: PartShape, sight: Sight, stack: Stack, piece: Piece, links: list[Piece]) -> Draft:
    patches = (*piece.patches, *piece.floors)
    both = (_dir(stack.axis), opposite(stack.axis))
    access = tuple(d for d in both if sight.sees(patches, d))
    axis = _entry_side(shape, stack, piece, access, both)
    up = dot(axis, stack.axis) > 0
    low, high = _to_floor(shape, stack, piece, *_with_chamfers(shape, stack, piece))
    place = add(stack.origin, stack.axis, high if up else low)
    sizes = _hole_sizes(shape, piece, high - low)
    if not access:
        sizes["undercut"] = "no straight line of sight along its axis"
    return Draft("round_hole", (*patches, *piece.ledges), any_frame(place, axis), access, sizes)


def _is_pit(piece: Piece) -> bool:
    """True for a cone that ends in its point: a hole whose cylindrical part has no length."""
    return piece.kind == "cone" and min(piece.low_radius, piece.high_radius) < CONE_POINT


def _hole_sizes(shape: PartShape, piece: Piece, depth: float) -> dict[str, object]:
    sizes: dict[str, object] = {"diameter": piece.diameter, "depth": depth}
    if _is_pit(piece):
        sizes["depth"] = 0.0
        sizes.update(bottom="conical", tip_angle=2 * math.degrees(shape.patches[piece.patches[0]].surface.half_angle))
        return sizes
    if piece.kind == "cone":
        cone = shape.patches[piece.patches[0]].surface
        sizes.update(
            top_diameter=piece.diameter,
            angle=2 * math.degrees(cone.half_angle),
            slope=math.degrees(cone.half_angle),
            bottom="through",
        )
    return sizes | _bottom(shape, piece)


def _dir(axis: Vec3) -> Vec3:
    return opposite(opposite(axis))


def _entry_side(
    shape: PartShape, stack: Stack, piece: Piece, access: tuple[Vec3, ...], both: tuple[Vec3, Vec3]
) -> Vec3:
    """Where the hole is cut from: away from its floor; of two open ends the wider, then the upper side."""
    for floor in piece.floors:
        surface = shape.patches[floor].surface
        if surface.kind == "plane":
            return max(both, key=lambda d: dot(d, surface.axis))
        if surface.kind in ("cone", "sphere", "torus"):
            middle = 0.5 * sum(shape.patches[floor].span(stack.axis)) - dot(stack.origin, stack.axis)
            return both[0] if middle < 0.5 * (piece.low + piece.high) else both[1]
    if piece.kind == "cone":
        return both[0] if piece.high_radius > piece.low_radius else both[1]
    choices = access or both
    wide = {d: _widest_towards(stack, piece, d == both[0]) for d in both}
    return max(choices, key=lambda d: (round(wide[d], 3), upright(d)))


def _widest_towards(stack: Stack, piece: Piece, up: bool) -> float:
    if up:
        return max((p.diameter for p in stack.pieces if p.low >= piece.high - 1e-3), default=0.0)
    return max((p.diameter for p in stack.pieces if p.high <= piece.low + 1e-3), default=0.0)


def _with_chamfers(shape: PartShape, stack: Stack, piece: Piece) -> tuple[float, float]:
    """Span of a hole up to the faces it opens in, through the chamfers or rounds at its mouths."""
    low, high = piece.low, piece.high
    zero = dot(stack.origin, stack.axis)
    for patch in piece.patches:
        for other in shape.patches[patch].neighbours:
            mouth = shape.patches[other]
            broken = other in stack.chamfers or (
                mouth.surface.kind == "torus" and not mouth.surface.hollow and coaxial(mouth, stack.origin, stack.axis)
            )
            if broken:
                span = mouth.span(stack.axis)
                low, high = min(low, span[0] - zero), max(high, span[1] - zero)
    return low, high


def _to_floor(shape: PartShape, stack: Stack, piece: Piece, low: float, high: float) -> tuple[float, float]:
    """The span of a hole down to its flat floor, where a fillet lies between the floor and its wall."""
    kinds = {shape.patches[f].surface.kind for f in piece.floors}
    if kinds != {"torus", "plane"}:
        return low, high
    zero = dot(stack.origin, stack.axis)
    ends = [end - zero for end in extent(shape, tuple(piece.floors), stack.axis)]
    return min(low, ends[0]), max(high, ends[1])


def _bottom(shape: PartShape, piece: Piece) -> dict[str, object]:
    kinds = {shape.patches[f].surface.kind: shape.patches[f].surface for f in piece.floors}
    if "cone" in kinds:
        return {"bottom": "conical", "tip_angle": 2 * math.degrees(kinds["cone"].half_angle)}
    if "sphere" in kinds:
        return {"bottom": "spherical", "planar_radius": kinds["sphere"].radius}
    if "torus" in kinds:
        return {"bottom": "flat_with_radius", "planar_radius": kinds["torus"].minor}
    return {"bottom": "flat" if "plane" in kinds or _stands_on_a_shared_floor(shape, piece) else "through"}


def _stands_on_a_shared_floor(shape: PartShape, piece: Piece) -> bool:
    """True where a flat face at an end of the bore belongs to others as well: two blind holes that overlap.

    One between the ends closes nothing: the floor of a pocket whose corner the bore is drilled in.
    """
    axis = shape.patches[piece.patches[0]].surface.axis
    low, high = extent(shape, piece.patches, axis)
    ends = [shape.patches[o].surface for p in piece.patches for o in shape.patches[p].concave]
    flat = [dot(end.origin, axis) for end in ends if end.kind == "plane" and norm(cross(end.axis, axis)) < COAXIAL]
    return any(min(abs(level - low), abs(level - high)) < LEDGE for level in flat)


def _deepest(elements: list[Draft], axis: Vec3) -> dict[str, object]:
    """The bottom of a compound: that of the hole which ends farthest from the mouth; one open there goes through."""

    def end(hole: Draft) -> float:
        same = dot(hole.placement.axis, axis) > 0
        return dot(hole.placement.location, axis) - (hole.sizes["depth"] if same else 0.0)

    last = min(elements, key=lambda e: (round(end(e), 3), e.sizes["diameter"]))
    if dot(last.placement.axis, axis) < 0:
        return {"bottom": "through", "tip_angle": None}
    return {"bottom": last.sizes["bottom"], "tip_angle": last.sizes.get("tip_angle")}


def _compound(shape: PartShape, sight: Sight, stack: Stack, elements: list[Draft]) -> Draft:
    ordered = sorted(elements, key=lambda e: (-e.sizes["diameter"], e.placement.location))
    cones = [e for e in elements if e.sizes.get("angle", 0.0) > TAPERED]
    patches = tuple(sorted({p for e in elements for p in e.patches}))
    access = tuple(d for d in (_dir(stack.axis), opposite(stack.axis)) if sight.sees(patches, d))
    wide = ordered[0]
    plain = [e for e in ordered if e not in cones] or ordered
    heights = [dot(sub(e.placement.location, stack.origin), wide.placement.axis) for e in elements]
    ends = [
        h - e.sizes["depth"] * dot(e.placement.axis, wide.placement.axis)
        for h, e in zip(heights, elements, strict=True)
    ]
    sizes = {
        "diameter": plain[-1].sizes["diameter"],
        "top_diameter": wide.sizes["diameter"],
        "depth": max(heights + ends) - min(heights + ends),
        **_deepest(plain, wide.placement.axis),
    }
    if cones:
        sizes["angle"] = cones[0].sizes["angle"]
    sunk = cones and len(plain) == 1 and len(cones) < len(elements)
    class_: FeatureClass = "countersunk_hole" if sunk else "counterbore_hole"
    return Draft(class_, patches, wide.placement, access, sizes, elements=ordered)
