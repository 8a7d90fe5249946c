"""What stands on one axis with a bore: counterbores, countersinks, stepped bores, ring grooves."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from schemas.base import Vec3, cross, dot, norm, sub
from schemas.tolerances import COAXIAL, LIMIT
from worker.recognise.extent import extent
from worker.recognise.holes import Bore, bores, cell_of
from worker.recognise.mouths_apart import mouths_apart
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.turns import coaxial, turn_of

COUNTERSINK = 1.6
"""A cone at a hole's mouth at least this many times as wide as the hole is a countersink; below, a chamfer.

Common practice: screw-head countersinks (DIN 74) are about twice the clearance hole, thread chamfers about 1.25 times
the drilled diameter."""


@dataclass(eq=False)
class Piece:
    """One link of a stack: a bore of equal diameter, a cone, a seat … with its span along the stack's axis."""

    kind: str
    patches: tuple[int, ...]
    low: float
    high: float
    low_radius: float
    high_radius: float
    floors: list[int] = field(default_factory=list)
    ledges: list[int] = field(default_factory=list)
    cut_off: bool = False
    """True for a cone that nothing of it joins to its hole's wall any more."""

    @property
    def diameter(self) -> float:
        """Its larger diameter (mm)."""
        return 2 * max(self.low_radius, self.high_radius)


@dataclass(eq=False)
class Stack:
    """Everything round on one axis that hangs together. ``pieces`` are sorted by height along ``axis``."""

    origin: Vec3
    axis: Vec3
    pieces: list[Piece]
    chamfers: list[int]
    patches: tuple[int, ...]


def find_stacks(shape: PartShape) -> list[Stack]:
    """All hole stacks of the part, in the order of their first patch."""
    mates = {p: bore for bore in bores(shape) for p in bore.patches}
    seats = _seats(shape, mates)
    apart = mouths_apart(shape, mates)
    stacks = []
    used: set[int] = set()
    for first, bore in mates.items():
        if first in used:
            continue
        stack = _stack(shape, bore, mates, seats, apart)
        used.update(stack.patches)
        stacks.append(stack)
    return stacks


def _seats(shape: PartShape, mates: dict[int, Bore]) -> dict[tuple[int, int], list[tuple[int, str]]]:
    """For planes on which bores stand and in which others begin, by the cells of their axes: these, and over what."""
    found: dict[tuple[int, int], list[tuple[int, str]]] = {}
    heads = {o for p in mates for o in shape.patches[p].concave if shape.patches[o].surface.kind == "plane"}
    for seat in sorted(heads):
        rims = {(r.other, r.convexity) for r in shape.patches[seat].rims if r.other in mates}
        for bore, convexity in sorted(rims) if len({c for _, c in rims}) > 1 else ():
            found.setdefault((seat, cell_of(shape.patches[bore].surface)), []).append((bore, convexity))
    return found


def _stack(
    shape: PartShape,
    bore: Bore,
    mates: dict[int, Bore],
    seats: dict[tuple[int, int], list[tuple[int, str]]],
    apart: dict[int, list[int]],
) -> Stack:
    surface = shape.patches[bore.patches[0]].surface
    origin, axis = surface.origin, surface.axis
    members: list[int] = []
    waiting = list(bore.patches)
    while waiting:
        index = waiting.pop(0)
        if index in members:
            continue
        members.append(index)
        waiting += (*(mates[index].patches if index in mates else ()), *apart.get(index, ()))
        for other in shape.patches[index].neighbours:
            if _belongs(shape, shape.patches[other], index, origin, axis, mates):
                waiting.append(other)
            else:
                waiting += _over_seat(shape, other, index, (origin, axis), seats)
    members.sort()
    return Stack(origin, axis, *_pieces(shape, members, origin, axis, mates), tuple(members))


def _belongs(shape: PartShape, patch: Patch, seen_from: int, origin: Vec3, axis: Vec3, mates: dict[int, Bore]) -> bool:
    """Whether a neighbour continues the stack: round about the axis and hollow, or a seat or floor square to it."""
    if patch.surface.kind == "plane":
        return _is_seat(shape, patch, origin, axis)
    if not coaxial(patch, origin, axis) or not patch.surface.hollow:
        return False
    if patch.surface.kind == "sphere":  # a ball's seat over a bore is a dish of its own
        return any(r.other == seen_from and r.convexity != "convex" for r in patch.rims)
    return patch.index in mates or patch.surface.kind in ("cone", "sphere", "torus")


def _is_seat(shape: PartShape, patch: Patch, origin: Vec3, axis: Vec3) -> bool:
    """A plane square to the axis that only hollow round faces about the axis stand on."""
    if norm(cross(patch.surface.axis, axis)) > COAXIAL:
        return False
    return bool(patch.carrying) and all(
        coaxial(shape.patches[r.other], origin, axis) and shape.patches[r.other].surface.hollow for r in patch.carrying
    )


def _over_seat(
    shape: PartShape,
    seat: int,
    seen_from: int,
    line: tuple[Vec3, Vec3],
    seats: dict[tuple[int, int], list[tuple[int, str]]],
) -> list[int]:
    """The bore across a seat that is level with the floor of what runs into it: one face, that is none of the stack's.

    The head's wall stands on it, the hole begins in it.
    """
    cell = cell_of(shape.patches[seen_from].surface)
    near = [pair for c in (cell - 1, cell, cell + 1) for pair in seats.get((seat, c), ())]
    ours = {convexity for bore, convexity in near if bore == seen_from}
    if not ours or norm(cross(shape.patches[seat].surface.axis, line[1])) > COAXIAL:
        return []
    over = [(bore, ours | {convexity}) for bore, convexity in near if coaxial(shape.patches[bore], *line)]
    return [bore for bore, both in over if both == {"concave", "convex"}]


def _pieces(
    shape: PartShape, members: list[int], origin: Vec3, axis: Vec3, mates: dict[int, Bore]
) -> tuple[list[Piece], list[int]]:
    zero = dot(origin, axis)
    pieces: list[Piece] = []
    done: set[int] = set()
    for index in members:
        if index in done:
            continue
        patch = shape.patches[index]
        group = tuple(p for p in _one_wall(shape, index, mates) if p in members)
        done.update(group)
        low, high = (end - zero for end in extent(shape, group, axis))
        size = _radii(_fullest(shape, group, axis), origin, axis, low, high)
        pieces.append(Piece(patch.surface.kind, group, low, high, *size))
    pieces.sort(key=lambda p: (p.low + p.high, p.low))
    pieces = _without_ledges(shape, pieces)
    for piece in pieces:
        _down_to_bore(shape, pieces, piece)
    return pieces, _chamfers(shape, pieces)


def _down_to_bore(shape: PartShape, pieces: list[Piece], cone: Piece) -> None:
    """Give what is left of a countersink that something cuts off from its hole the depth down to the hole's wall."""
    beside = [p for p in pieces if p.kind == "cylinder" and p.diameter < cone.diameter - LIMIT]
    if cone.kind != "cone" or not beside or any(r.convexity != "convex" for r in _rims(shape, cone)):
        return
    if any(_touch(shape, cone, p) for p in pieces if p is not cone):
        return
    cone.cut_off, radius = True, max(p.diameter for p in beside) / 2
    slope = math.tan(shape.patches[cone.patches[0]].surface.half_angle)
    over = (min(cone.low_radius, cone.high_radius) - radius) / slope
    if cone.high_radius > cone.low_radius:
        cone.low, cone.low_radius = cone.low - over, radius
    else:
        cone.high, cone.high_radius = cone.high + over, radius


def _rims(shape: PartShape, piece: Piece) -> list[Rim]:
    return [r for p in piece.patches for r in shape.patches[p].rims]


def _one_wall(shape: PartShape, index: int, mates: dict[int, Bore]) -> tuple[int, ...]:
    """The patches of the bore that a patch is of, or of the cone that something cut in pieces; else itself."""
    surface = shape.patches[index].surface
    if surface.kind == "cylinder" and index in mates:
        return mates[index].whole
    return tuple(shape.of_carrier[shape.carriers[index]]) if surface.kind == "cone" else (index,)


def _fullest(shape: PartShape, group: tuple[int, ...], axis: Vec3) -> Patch:
    """The patch that goes round farthest, then the longest: its size counts where sizes differ by less than a ledge."""

    def extent(index: int) -> tuple[float, float, int]:
        patch = shape.patches[index]
        low, high = patch.span(axis)
        return (round(turn_of([patch], patch.surface.origin, axis), 2), round(high - low, 2), -index)

    return shape.patches[max(group, key=extent) if len(group) > 1 else group[0]]


def _without_ledges(shape: PartShape, pieces: list[Piece]) -> list[Piece]:
    """The pieces without shoulders inside a bore: its sizes on both sides differ by less than a ledge."""
    kept = []
    for piece in pieces:
        owner = _bore_round(shape, pieces, piece)
        if owner is None:
            kept.append(piece)
        else:
            owner.ledges += piece.patches
    return kept


def _bore_round(shape: PartShape, pieces: list[Piece], seat: Piece) -> Piece | None:
    """The bore that reaches past a seat on both sides and is the only one that touches it."""
    beside = [p for p in pieces if seat.kind == "plane" and p.kind == "cylinder" and _touch(shape, seat, p)]
    inside = len(beside) == 1 and beside[0].low < seat.low and seat.high < beside[0].high
    return beside[0] if inside else None


def _radii(patch: Patch, origin: Vec3, axis: Vec3, low: float, high: float) -> tuple[float, float]:
    surface = patch.surface
    if surface.kind == "cylinder":
        return surface.radius, surface.radius
    if surface.kind == "cone":
        apex = dot(sub(surface.origin, origin), axis)
        slope = math.tan(surface.half_angle)
        return abs(low - apex) * slope, abs(high - apex) * slope
    rest = patch.vertices - np.array(origin)
    radial = np.linalg.norm(rest - np.outer(rest @ np.array(axis), np.array(axis)), axis=1)
    return (float(radial.max()),) * 2 if len(radial) else (0.0, 0.0)


def _chamfers(shape: PartShape, pieces: list[Piece]) -> list[int]:
    """Cones that only break the edge between a hole and what it opens into."""
    own = {p for piece in pieces for p in piece.patches}
    found: list[int] = []
    for piece in pieces:
        small, large = sorted((piece.low_radius, piece.high_radius))
        if piece.kind != "cone" or small < 1e-3 or large >= COUNTERSINK * small - LIMIT:
            continue
        if own & set(shape.patches[piece.patches[0]].concave):
            continue
        if piece.cut_off or any(p.kind == "cylinder" and _touch(shape, piece, p) for p in pieces):
            found += piece.patches
    return found


def _touch(shape: PartShape, a: Piece, b: Piece) -> bool:
    return any(o in b.patches for p in a.patches for o in shape.patches[p].neighbours)
