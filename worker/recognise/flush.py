"""Pockets and passages that share a wall: a window flush with the larger pocket that it opens into."""

from __future__ import annotations

from schemas.base import dot, norm, scale, sub, unit
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, components, is_wall, joined_to, standing_on


def through_below(shape: PartShape, sight: Sight, recess: Recess) -> tuple[Recess, list[Recess]] | None:
    """A pocket and the passages that go on through below its floor, where they have walls in common; else None.

    Where the floor runs all round a passage but for what they share, the passage ends at the floor; else it goes
    through the whole part, and the pocket is open to it.
    """
    if not recess.floors or recess.shared:
        return None
    floors = set(recess.floors)
    ground = min(dot(shape.patches[f].surface.origin, recess.axis) for f in floors)
    upright = [p for p in recess.patches if is_wall(shape.patches[p], recess.axis)]
    below = tuple(p for p in upright if extent(shape, (p,), recess.axis)[0] < ground - UNDER)
    lips = tuple(p for p in below if any(r.other in floors and r.convexity == "convex" for r in shape.patches[p].rims))
    shared = [p for p in below if standing_on(shape, recess, floors, floors) & {p}]
    if not lips or not shared or set(lips) & set(shared) or not _opens_below(shape, recess, below):
        return None
    kept = tuple(p for p in recess.patches if p not in below or p in shared)
    seen = tuple(d for d in recess.seen if sight.sees(kept, d))
    nested = _goes_round(shape, recess, lips)
    if not nested and len(floors) > 1:
        return None
    pocket = Recess(kept, recess.axis, recess.floors, seen, shared=True, bridged=lips if nested else ())
    own = [p for p in below if p not in shared]
    parts = _across_shared(shape, components(shape, own), shared)
    return pocket, [_passage(shape, sight, recess, part, shared) for part in parts]


def _across_shared(shape: PartShape, sides: list[tuple[int, ...]], shared: list[int]) -> list[tuple[int, ...]]:
    """Sides put together that face each other over air between the same two shared walls."""
    found: list[tuple[int, ...]] = []
    for side in sides:
        mate = next((f for f in found if _one_passage(shape, f, side, shared)), None)
        found = [f for f in found if f is not mate] + [tuple(sorted({*side, *(mate or ())}))]
    return found


def _one_passage(shape: PartShape, a: tuple[int, ...], b: tuple[int, ...], shared: list[int]) -> bool:
    beside = [{o for p in side for o in joined_to(shape, p)} & set(shared) for side in (a, b)]
    if len(beside[0] & beside[1]) < 2:
        return False
    gap = sub(shape.patches[b[0]].point, shape.patches[a[0]].point)
    return norm(gap) > 0 and not crossings(shape, shape.patches[a[0]].point, unit(gap), UNDER, norm(gap) - UNDER)


def _passage(shape: PartShape, sight: Sight, recess: Recess, own: tuple[int, ...], shared: list[int]) -> Recess:
    """The passage of some walls of its own, with the walls beside them that it shares; read from the far side."""
    up = scale(recess.axis, -1.0)
    near = {o for p in own for o in joined_to(shape, p)} & set(shared)
    seen = tuple(d for d in sight.distinct((up, recess.axis)) if sight.sees(own, d))
    axis = up if up in seen else recess.axis
    return Recess(tuple(sorted({*own, *near})), axis, (), seen, core=own, own=own)


UNDER = 0.05
"""A wall goes on below a floor when it ends so far below it (mm)."""


def _opens_below(shape: PartShape, recess: Recess, below: tuple[int, ...]) -> bool:
    """True when the lower ends of walls lead to nothing that was cut with them."""
    for wall in below:
        low = extent(shape, (wall,), recess.axis)[0]
        ends = [r for r in shape.patches[wall].rims if all(abs(dot(p, recess.axis) - low) < SQUARE for p in r.points)]
        if not ends or any(r.other in recess.patches for r in ends):
            return False
    return True


def _goes_round(shape: PartShape, recess: Recess, lips: tuple[int, ...]) -> bool:
    """True when the floor's edge leads from a wall past the passage to the same wall, or to one that meets it.

    Where the passage divides the floor, the edge of one piece leads from a wall to another, of the next piece back.
    """
    gaps = [gap for floor in recess.floors for gap in _gaps(shape.patches[floor].loops[0], lips)]
    carriers = [(shape.carriers[a], shape.carriers[b]) for a, b in gaps]
    return bool(gaps) and all(
        c[0] == c[1] or b in joined_to(shape, a) or (c[1], c[0]) in carriers
        for (a, b), c in zip(gaps, carriers, strict=True)
    )


def _gaps(loop: tuple[Rim, ...], lips: tuple[int, ...]) -> list[tuple[int, int]]:
    """What comes before and after each stretch of a floor's edge that leads into a passage."""
    at = [r.other in lips for r in loop]
    starts = [i for i, here in enumerate(at) if here and not at[i - 1]]
    ends = [next(k for k in range(i, i + len(loop)) if not at[k % len(loop)]) for i in starts]
    return [(loop[i - 1].other, loop[k % len(loop)].other) for i, k in zip(starts, ends, strict=True)]
