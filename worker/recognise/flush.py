"""Pockets and passages that share a wall: a window flush with the larger pocket that it opens into."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from schemas.base import dot, scale
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.outside import is_round_end
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, directions, is_steep, joined_to, sees_own, standing_on
from worker.recognise.sections import Run, runs_at

UNDER = 0.05
"""A wall goes on below a floor when it ends so far below it (mm)."""
LAYERS = 12
"""At so many heights, in the thickest layers, passages are looked for."""


@dataclass(frozen=True, eq=False)
class Side:
    """What is cut from one side: a recess with its floors and all walls seen from there, and what goes on below."""

    recess: Recess
    ground: float
    """Height of the deepest floor."""
    below: tuple[int, ...]
    """Walls that go on below that."""
    lips: tuple[int, ...]
    """Those of them that begin at a floor's edge."""
    shared: tuple[int, ...]
    """Those that stand on a floor as well."""

    @property
    def lower(self) -> tuple[int, ...]:
        """Those that stand on none."""
        return tuple(p for p in self.below if p not in self.shared)


def side_of(shape: PartShape, recess: Recess) -> Side | None:
    """What goes on below the floors of a recess; None where it was cut with the floors, from the same side."""
    floors = set(recess.floors)
    ground = ground_level(shape, recess)
    steep = [p for p in recess.patches if is_steep(shape.patches[p], recess.axis)]
    below = tuple(p for p in steep if extent(shape, (p,), recess.axis)[0] < ground - UNDER)
    lips = tuple(p for p in below if any(r.other in floors and r.convexity == "convex" for r in shape.patches[p].rims))
    on = standing_on(shape, recess, floors, floors)
    shared = tuple(p for p in below if p in on)
    apart = not set(lips) & set(shared) and _opens_below(shape, recess, below, ground)
    return Side(recess, ground, below, lips, shared) if apart else None


def ground_level(shape: PartShape, recess: Recess) -> float:
    """Height of the deepest floor."""
    return min(dot(shape.patches[f].surface.origin, recess.axis) for f in recess.floors)


def through_below(shape: PartShape, sight: Sight, recess: Recess) -> tuple[Recess, list[Recess]] | None:
    """A pocket and the passages that go on through below its floor, where they have walls in common; else None.

    Where the floor runs all round a passage but for what they share, the passage ends at the floor; else it goes
    through the whole part, and the pocket is open to it.
    """
    if not recess.floors or recess.shared:
        return None
    side = side_of(shape, recess)
    if not side or not side.shared or not (side.lips or all(is_round_end(shape, shape.patches[p]) for p in side.below)):
        return None
    end = min(extent(shape, (p,), recess.axis)[0] for p in side.below)
    runs = passages(shape, [side], end) if side.lips else []
    runs = [run for run in runs if not any(is_round_end(shape, shape.patches[p]) for p in run.walls)]
    if len(recess.floors) > 1 and not all(_is_round(shape, side, run) for run in runs):
        return None
    pocket = pocket_of(shape, side, runs)
    tried = sight.distinct((*recess.seen, *directions(shape, sight, pocket.patches)))
    pocket = replace(pocket, seen=tuple(d for d in tried if sees_own(sight, pocket, pocket.patches, d)))
    return pocket, [window_of(shape, sight, [side], run, runs) for run in runs]


def passages(shape: PartShape, sides: Sequence[Side], end: float) -> list[Run]:
    """The walls of each passage below the floors, as far down as ``end``; at a height where they are least in pieces.

    Walls have the same neighbours between the heights at which edges end: half-way there they are looked at.
    """
    axis, ground = sides[0].recess.axis, sides[0].ground
    walls = sorted({p for side in sides for p in side.below})
    ends = {round(dot(q, axis), 3) for p in walls for r in shape.patches[p].rims for q in (r.points[0], r.points[-1])}
    heights = [end, *sorted(h for h in ends if end + UNDER < h < ground - UNDER), ground]
    layers = sorted(((b - a, (a + b) / 2) for a, b in pairwise(heights)), reverse=True)[:LAYERS]
    return min((runs_at(shape, walls, axis, height) for _, height in layers), key=len)


def pocket_of(shape: PartShape, side: Side, runs: Sequence[Run]) -> Recess:
    """The recess of a side without what goes on below it."""
    kept = tuple(p for p in side.recess.patches if p not in side.lower)
    crossed = {p for run in runs for p in run.walls if _is_round(shape, side, run)}
    bridged = tuple(p for p in side.lips if p in crossed)
    own = tuple(p for p in kept if p not in side.shared)
    span = (side.ground, math.inf)
    return Recess(kept, side.recess.axis, side.recess.floors, (), shared=True, bridged=bridged, own=own, span=span)


def window_of(shape: PartShape, sight: Sight, sides: Sequence[Side], run: Run, runs: Sequence[Run]) -> Recess:
    """A passage from floor to floor; as far as the part goes on a side whose pocket is open to it.

    How large it is is told by the walls that belong to no other passage, nor run on along a pocket that is open to it,
    and by where the others end. Two walls alone are a step.
    """
    axis = sides[0].recess.axis
    times = Counter(p for other in runs for p in other.walls)
    run_on = {p for side in sides if not _is_nested(shape, side, run) for p in side.shared}
    own = tuple(sorted(p for p in run.walls if times[p] == 1 and p not in run_on)) or run.walls
    ends = [_end(shape, side, run) for side in sides]
    span = (-ends[1] if len(ends) > 1 else -math.inf, ends[0])
    ways = sight.distinct((axis, scale(axis, -1.0)))
    window = Recess(tuple(sorted(run.walls)), axis, (), (), core=own, own=own, span=span, reach=run.ends)
    window = replace(window, seen=tuple(d for d in ways if sees_own(sight, window, own, d)))
    if step := _corner(shape, sight, window):
        return step
    far = len(sides) == 1 and ways[1] in window.seen
    return replace(window, axis=ways[1], span=(-span[1], -span[0])) if far else window


def _corner(shape: PartShape, sight: Sight, window: Recess) -> Recess | None:
    """Two flat walls that meet in an inner edge as a step, whose floor is the wall that is seen squarely."""
    flat = [p for p in window.patches if shape.patches[p].surface.kind == "plane"]
    square = [p for p in window.own if p in flat and sight.sees((p,), shape.patches[p].surface.axis)]
    if len(flat) != 2 or len(window.patches) != 2 or not square or flat[0] not in shape.patches[flat[1]].concave:
        return None
    floor = max(square, key=lambda p: (round(shape.patches[p].area, 3), -p))
    up = sight.known(shape.patches[floor].surface.axis)
    along = tuple(d for d in window.seen if sight.sees(window.patches, d))
    return Recess(window.patches, up, (floor,), (up, *along), core=(floor,), shared=True)


def _end(shape: PartShape, side: Side, run: Run) -> float:
    """Height of the floor at which a passage ends on one side; infinite where it goes on to the surface."""
    if not _is_nested(shape, side, run):
        return math.inf
    lips = [shape.patches[p] for p in run.walls if p in side.lips]
    floors = {r.other for p in lips for r in p.rims if r.other in side.recess.floors}
    return max(dot(shape.patches[f].surface.origin, side.recess.axis) for f in floors)


def _opens_below(shape: PartShape, recess: Recess, below: tuple[int, ...], ground: float) -> bool:
    """True when what walls lead to under the floors was not cut with them, but for other walls."""
    deep = [
        r for p in below for r in shape.patches[p].rims if all(dot(q, recess.axis) < ground - UNDER for q in r.points)
    ]
    cut_too = {r.other for r in deep if r.other in recess.patches}
    return all(is_steep(shape.patches[o], recess.axis) for o in cut_too)


def _is_nested(shape: PartShape, side: Side, run: Run) -> bool:
    """True when the floor runs round a passage, and none of the passage's own walls goes on above it."""
    beside = [p for p in run.walls if p not in side.lips and p not in side.shared]
    tall = any(extent(shape, (p,), side.recess.axis)[1] > side.ground + UNDER for p in beside)
    return not tall and _is_round(shape, side, run)


def _is_round(shape: PartShape, side: Side, run: Run) -> bool:
    """True when the floor's edge leads from a wall past the passage to the same wall, or to one that meets it.

    Where the passage divides the floor, the edge of one piece leads from a wall to another, of the next piece back.
    """
    lips = set(run.walls) & set(side.lips)
    gaps = [gap for floor in side.recess.floors for gap in _gaps(shape.patches[floor].loops[0], lips)]
    carriers = [(shape.carriers[a], shape.carriers[b]) for a, b in gaps]
    return bool(gaps) and all(
        c[0] == c[1] or b in joined_to(shape, a) or (c[1], c[0]) in carriers
        for (a, b), c in zip(gaps, carriers, strict=True)
    )


def _gaps(loop: tuple[Rim, ...], lips: set[int]) -> list[tuple[int, int]]:
    """What comes before and after each stretch of a floor's edge that leads into a passage."""
    at = [r.other in lips for r in loop]
    starts = [i for i, here in enumerate(at) if here and not at[i - 1]]
    ends = [next(k for k in range(i, i + len(loop)) if not at[k % len(loop)]) for i in starts]
    return [(loop[i - 1].other, loop[k % len(loop)].other) for i, k in zip(starts, ends, strict=True)]
