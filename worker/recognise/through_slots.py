"""Slots right through the part that another slot divides: pieces without a floor between the same two planes."""

from __future__ import annotations

from schemas.base import Vec3, add, cross, dot, scale, sub, unit
from schemas.tolerances import SQUARE
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, is_wall

OVER = 0.05
"""The air between two pieces is looked for this far above their floors (mm)."""
FAR = 2.0
"""Windows in one line are cut one by one when the air between is this many times as long as both walls together.

Ours: one long cutter makes both where there is less; the air is also longer than they are wide."""


def one_slot(shape: PartShape, a: Recess, b: Recess) -> bool:
    """True for two floorless pieces between the same two planes, equally high, with nothing but air between."""
    cheeks = _cheeks(shape, a, b)
    upright = all(is_wall(shape.patches[p], a.axis) for r in (a, b) for p in r.patches)
    spans = [extent(shape, r.own or r.patches, a.axis) for r in (a, b)]
    level = all(abs(p - q) < OVER for p, q in zip(*spans, strict=True))
    if not cheeks or not upright or not level:
        return False
    line = _middle_line(shape, a, b, cheeks)
    way = line[1]
    open_ = not _is_shut(shape, a, way) and not _is_shut(shape, b, scale(way, -1.0))
    return open_ and not crossings(shape, *line)


def _is_shut(shape: PartShape, piece: Recess, way: Vec3) -> bool:
    """True when a wall of the piece looks back from its end on that way."""
    return any(dot(shape.patches[p].normal, way) < -0.3 for p in piece.patches)


def _cheeks(shape: PartShape, a: Recess, b: Recess) -> tuple[int, ...]:
    """The two planes of ``a`` that face each other and go on in ``b``; none when there are more or fewer."""
    theirs = {shape.carriers[p] for p in b.patches}
    flat = [p for p in a.patches if shape.patches[p].surface.kind == "plane" and shape.carriers[p] in theirs]
    if len(flat) != 2 or dot(*(shape.patches[p].surface.axis for p in flat)) > -1 + SQUARE**2:
        return ()
    return tuple(flat)


def _along(shape: PartShape, a: Recess, cheek: int) -> Vec3:
    return unit(cross(a.axis, shape.patches[cheek].surface.axis))


def _middle_line(shape: PartShape, a: Recess, b: Recess, cheeks: tuple[int, ...]) -> tuple[Vec3, Vec3, float, float]:
    """Start, direction and both ends of the line between the middles of the pieces."""
    near, far = (shape.patches[c].surface for c in cheeks)
    along = _along(shape, a, cheeks[0])
    spots = [sum(extent(shape, r.own or r.patches, along)) / 2 for r in (a, b)]
    start = add(near.origin, near.axis, dot(sub(far.origin, near.origin), near.axis) / 2)
    start = add(start, a.axis, sum(extent(shape, a.own or a.patches, a.axis)) / 2 - dot(start, a.axis))
    start = add(start, along, spots[0] - dot(start, along))
    return start, scale(along, 1.0 if spots[1] > spots[0] else -1.0), 0.0, abs(spots[1] - spots[0])


def beside_gap(shape: PartShape, a: Recess, b: Recess) -> tuple[int, ...]:
    """What the pieces end at where they face each other: the walls of the slot that divides them."""
    cheeks = _cheeks(shape, a, b)
    found = {*a.bridged, *b.bridged}
    if cheeks:
        along = _along(shape, a, cheeks[0])
        low, high = sorted(sum(extent(shape, r.own or r.patches, along)) / 2 for r in (a, b))
        near = {o for r in (a, b) for p in r.patches for o in shape.patches[p].neighbours} - {*a.patches, *b.patches}
        walls = [o for o in near if is_wall(shape.patches[o], a.axis)]
        found.update(o for o in walls if low < sum(extent(shape, (o,), along)) / 2 < high)
    return tuple(sorted(found))
