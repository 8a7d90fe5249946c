"""Round holes and what stands on one axis with them: counterbores, countersinks, stepped bores, ring grooves."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, add, any_frame, cross, dot, norm, sub
from schemas.tolerances import COAXIAL, LEDGE, ON_AXIS
from worker.recognise.access import Sight
from worker.recognise.patches import PartShape, Patch, Rim

BORE = math.radians(200)
"""A hollow cylinder is a bore when its faces go round further than this; less is a corner or the end of a slot."""
FULL = math.radians(350)
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


def turn_of(patches: Iterable[Patch], origin: Vec3, axis: Vec3) -> float:
    """How far round the axis the patches go (rad), gaps not counted."""
    frame = any_frame(origin, axis)
    basis = np.array([frame.x, frame.y])
    starts, ends = [], []
    for patch in patches:
        flat = (patch.corners - np.array(origin)) @ basis.T
        angles = np.arctan2(flat[..., 1], flat[..., 0])
        rest = (angles - angles[:, :1] + math.pi) % (2 * math.pi) - math.pi
        starts.append(angles[:, 0] + rest.min(axis=1))
        ends.append(angles[:, 0] + rest.max(axis=1))
    return _covered(np.concatenate(starts), np.concatenate(ends)) if starts else 0.0


def _covered(starts: NDArray[np.float64], ends: NDArray[np.float64]) -> float:
    """How much of a circle (rad) some arcs cover together; none is longer than half of it."""
    whole = 2 * math.pi
    turns = np.floor(starts / whole) * whole
    starts, ends = starts - turns, ends - turns
    over = ends > whole
    low = np.concatenate([starts, np.zeros(int(over.sum()))])
    high = np.concatenate([np.minimum(ends, whole), ends[over] - whole])
    order = np.argsort(low, kind="stable")
    low, high = low[order], high[order]
    before = np.concatenate([[0.0], np.maximum.accumulate(high)[:-1]])
    return float(np.maximum(high - np.maximum(low, before), 0.0).sum())


def find_stacks(shape: PartShape, sight: Sight) -> list[Stack]:
    """All hole stacks of the part, in the order of their first patch."""
    bores = _bores(shape, sight)
    mates = {p: b for b in bores for p in b}
    stacks = []
    used: set[int] = set()
    for bore in bores:
        if bore[0] in used:
            continue
        stack = _stack(shape, bore, mates)
        used.update(stack.patches)
        stacks.append(stack)
    return stacks


def _bores(shape: PartShape, sight: Sight) -> list[tuple[int, ...]]:
    """Groups of hollow cylinder (or lone cone) patches of one carrier that are parts of one bore."""
    groups = _carriers(shape, [p for p in shape.patches if _is_round_inside(p) and not opens_dish(shape, p)])
    found = []
    for group in groups:
        for part in _joined(sight, group):
            surface = part[0].surface
            turn = turn_of(part, surface.origin, surface.axis)
            if turn > BORE and not any(_is_other_wall(shape, p, turn) for p in part):
                found.append(tuple(p.index for p in part))
    cylinders = [b for b in found if shape.patches[b[0]].surface.kind == "cylinder"]
    return cylinders + [b for b in found if shape.patches[b[0]].surface.kind == "cone"]


def _is_round_inside(patch: Patch) -> bool:
    return patch.surface.kind in ("cylinder", "cone") and patch.surface.hollow and len(patch.corners) > 0


def _is_other_wall(shape: PartShape, patch: Patch, turn: float) -> bool:
    return _rings_island(shape, patch) or _runs_on(shape, patch, turn) or _has_flat(shape, patch)


def _has_flat(shape: PartShape, patch: Patch) -> bool:
    """True for a wall that ends on both sides at one flat that cuts off its circle: a D, which no drill makes."""
    sides = [r for r in patch.rims if r.curve == "line" and r.convexity == "concave"]
    flats = {r.other for r in sides if shape.patches[r.other].surface.kind == "plane"}
    return any(sum(r.other == f for r in sides) > 1 for f in flats)


def _rings_island(shape: PartShape, patch: Patch) -> bool:
    """True for a round wall whose floor has something standing in it: a pocket or a groove, no hole."""
    axis = patch.surface.axis
    fillets = [o for o in patch.smooth if shape.patches[o].surface.kind == "torus" and shape.patches[o].surface.hollow]
    near = {*patch.concave, *(f for o in fillets for f in shape.patches[o].smooth)}
    floors = [p for p in (shape.patches[o] for o in sorted(near)) if p.surface.kind == "plane"]
    return any(
        _stands_up(shape, rim)
        for floor in floors
        if norm(cross(floor.surface.axis, axis)) < COAXIAL
        for loop in floor.loops[1:]
        for rim in loop
    )


def _runs_on(shape: PartShape, patch: Patch, turn: float) -> bool:
    """True for a wall that does not close and runs on smoothly into a round end: the outer wall of a kidney slot."""
    ends = [shape.patches[r.other].surface for r in patch.rims if r.curve == "line" and r.convexity == "smooth"]
    return turn < FULL and any(s.kind == "cylinder" and s.hollow for s in ends)


def _stands_up(shape: PartShape, rim: Rim) -> bool:
    other = shape.patches[rim.other].surface
    return rim.convexity == "concave" or (rim.convexity == "smooth" and other.kind == "torus" and other.hollow)


def opens_dish(shape: PartShape, patch: Patch) -> bool:
    """True for a hollow cone that breaks the edge of a ball-shaped recess: no hole begins there."""
    over = [shape.patches[r.other].surface for r in patch.rims if r.convexity == "convex"]
    dish = any(s.kind in ("sphere", "torus") and s.hollow for s in over)
    return patch.surface.kind == "cone" and patch.surface.hollow and dish


def _carriers(shape: PartShape, patches: Iterable[Patch]) -> list[list[Patch]]:
    """Patches grouped by carrier surface, in the order of their first."""
    groups: dict[int, list[Patch]] = {}
    for patch in patches:
        groups.setdefault(shape.carriers[patch.index], []).append(patch)
    return list(groups.values())


def _joined(sight: Sight, group: list[Patch]) -> list[list[Patch]]:
    """One carrier's patches split where metal lies between them on the axis."""
    surface = group[0].surface
    zero = dot(surface.origin, surface.axis)
    ordered = sorted(group, key=lambda p: (p.span(surface.axis), p.index))
    parts = [[ordered[0]]]
    top = ordered[0].span(surface.axis)[1]
    for patch in ordered[1:]:
        low, high = patch.span(surface.axis)
        if low > top + 1e-3 and _metal_between(sight, surface.origin, surface.axis, top - zero, low - zero):
            parts.append([])
        parts[-1].append(patch)
        top = max(top, high)
    return parts


def _metal_between(sight: Sight, origin: Vec3, axis: Vec3, low: float, high: float) -> bool:
    """True when metal lies half-way between two heights over ``origin`` on the axis, or beside that middle."""
    frame = any_frame(origin, axis)
    beside = add(add(origin, frame.x, 0.0137), frame.y, 0.0071)
    return len(crossings(sight.shape, beside, axis, 0.5 * (low + high), math.inf)) % 2 == 1 or bool(
        crossings(sight.shape, origin, axis, low + 1e-3, high - 1e-3)
    )


def crossings(shape: PartShape, origin: Vec3, axis: Vec3, low: float, high: float) -> list[float]:
    """Heights over ``origin`` between ``low`` and ``high`` at which the line through it meets the part."""
    start, line = np.array(origin), np.array(axis)
    reach = min(high, 2 * shape.diagonal + float(np.abs(start - shape.corners[0, 0]).sum()))
    ends = np.stack([start + low * line, start + reach * line])
    corners = shape.corners[_within(shape, ends.min(axis=0) - 1e-6, ends.max(axis=0) + 1e-6)]
    e1, e2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    h = np.cross(line, e2)
    det = np.einsum("ij,ij->i", e1, h)
    safe = np.where(np.abs(det) > 1e-14, det, 1.0)
    s = start - corners[:, 0]
    u = np.einsum("ij,ij->i", s, h) / safe
    q = np.cross(s, e1)
    v = (q @ line) / safe
    t = np.einsum("ij,ij->i", e2, q) / safe
    hit = (np.abs(det) > 1e-14) & (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9) & (t > low) & (t < high)
    return sorted(float(x) for x in t[hit])


def _within(shape: PartShape, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.intp]:
    """Triangles whose box meets a box: of those patches whose box does."""
    near = np.flatnonzero(_meets(shape.boxes, low, high))
    inside = np.concatenate([np.arange(shape.slices[p].start, shape.slices[p].stop) for p in near.tolist()] or [near])
    least, most = shape.bounds
    return np.asarray(inside[_meets((least[inside], most[inside]), low, high)])


def _meets(
    boxes: tuple[NDArray[np.float64], NDArray[np.float64]], low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.bool_]:
    return np.asarray(((boxes[0] <= high) & (boxes[1] >= low)).all(axis=1))


def coaxial(patch: Patch, origin: Vec3, axis: Vec3) -> bool:
    """True when a round patch turns about the axis (a sphere: has its centre on it)."""
    surface = patch.surface
    gap = sub(surface.origin, origin)
    off = norm(add(gap, axis, -dot(gap, axis)))
    if surface.kind == "sphere":
        return off < ON_AXIS
    return surface.kind in ("cylinder", "cone", "torus") and off < ON_AXIS and norm(cross(surface.axis, axis)) < COAXIAL


def _stack(shape: PartShape, bore: tuple[int, ...], mates: dict[int, tuple[int, ...]]) -> Stack:
    surface = shape.patches[bore[0]].surface
    origin, axis = surface.origin, surface.axis
    members: list[int] = []
    waiting = list(bore)
    while waiting:
        index = waiting.pop(0)
        if index in members:
            continue
        members.append(index)
        for mate in mates.get(index, ()):
            waiting.append(mate)
        for other in shape.patches[index].neighbours:
            if _belongs(shape, shape.patches[other], index, origin, axis, mates):
                waiting.append(other)
    members.sort()
    return Stack(origin, axis, *_pieces(shape, members, origin, axis, mates), tuple(members))


def _belongs(
    shape: PartShape, patch: Patch, seen_from: int, origin: Vec3, axis: Vec3, mates: dict[int, tuple[int, ...]]
) -> bool:
    """Whether a neighbour continues the stack: round about the axis and hollow, or a seat or floor square to it."""
    if patch.surface.kind == "plane":
        return _is_seat(shape, patch, origin, axis)
    if not coaxial(patch, origin, axis) or not patch.surface.hollow:
        return False
    return patch.index in mates or patch.surface.kind in ("cone", "sphere", "torus")


def _is_seat(shape: PartShape, patch: Patch, origin: Vec3, axis: Vec3) -> bool:
    """A plane square to the axis that only hollow round faces about the axis stand on."""
    if norm(cross(patch.surface.axis, axis)) > COAXIAL:
        return False
    walls = [r for r in patch.rims if r.convexity in ("concave", "smooth")]
    return bool(walls) and all(
        coaxial(shape.patches[r.other], origin, axis) and shape.patches[r.other].surface.hollow for r in walls
    )


def _pieces(
    shape: PartShape, members: list[int], origin: Vec3, axis: Vec3, mates: dict[int, tuple[int, ...]]
) -> tuple[list[Piece], list[int]]:
    zero = dot(origin, axis)
    pieces: list[Piece] = []
    done: set[int] = set()
    for index in members:
        if index in done:
            continue
        patch = shape.patches[index]
        group = mates.get(index, (index,)) if patch.surface.kind == "cylinder" else (index,)
        done.update(group)
        spans = [shape.patches[p].span(axis) for p in group]
        low, high = min(s[0] for s in spans) - zero, max(s[1] for s in spans) - zero
        pieces.append(Piece(patch.surface.kind, group, low, high, *_radii(patch, origin, axis, low, high)))
    pieces.sort(key=lambda p: (p.low + p.high, p.low))
    pieces = _without_ledges(shape, pieces)
    return pieces, _chamfers(shape, pieces)


def _without_ledges(shape: PartShape, pieces: list[Piece]) -> list[Piece]:
    """Bores of the same size but for a ledge as one, of the longer one's diameter."""
    for ledge in [p for p in pieces if p.kind == "plane"]:
        beside = [p for p in pieces if p.kind == "cylinder" and _touch(shape, ledge, p)]
        if len(beside) == 2 and abs(beside[0].low_radius - beside[1].low_radius) < LEDGE:
            pieces = [p for p in pieces if p is not ledge and p not in beside] + [_over_ledge(ledge, *beside)]
    return sorted(pieces, key=lambda p: (p.low + p.high, p.low))


def _over_ledge(ledge: Piece, a: Piece, b: Piece) -> Piece:
    longer = max(a, b, key=lambda p: (p.high - p.low, -p.low))
    radius = longer.low_radius
    ends = (min(a.low, b.low), max(a.high, b.high))
    ledges = [*a.ledges, *b.ledges, *ledge.patches]
    return Piece("cylinder", (*a.patches, *b.patches), *ends, radius, radius, ledges=ledges)


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
    found = []
    for piece in pieces:
        small, large = sorted((piece.low_radius, piece.high_radius))
        if piece.kind != "cone" or small < 1e-3 or large / small >= COUNTERSINK:
            continue
        if shape.patches[piece.patches[0]].concave:
            continue
        if any(p.kind == "cylinder" and _touch(shape, piece, p) for p in pieces):
            found.append(piece.patches[0])
    return found


def _touch(shape: PartShape, a: Piece, b: Piece) -> bool:
    return any(o in b.patches for p in a.patches for o in shape.patches[p].neighbours)


def upright(direction: Vec3) -> tuple[float, float, float]:
    """Order of preference between two opposite directions: up, else back, else right."""
    return (round(direction[2], 6), round(direction[1], 6), round(direction[0], 6))
