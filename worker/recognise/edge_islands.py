"""What stands in a recess at the side of the part: the walls round a boss that is flush with it, not of the recess."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from schemas.base import cross, dot
from schemas.tolerances import LIMIT, SAME_LENGTH, SQUARE
from worker.recognise.curved import LONG
from worker.recognise.extent import extent
from worker.recognise.loops import gap_of
from worker.recognise.passages import Outline
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recesses import Recess, hollow, is_wall


def with_edge_islands(shape: PartShape, recess: Recess, outline: Outline) -> Outline:
    """The outline with walls that lead from one side of the part round a block and back to that side as an island.

    A recess that goes round it is open there on both sides of it. Round posts are islands wherever they stand. What is
    no wider than slots of one width round a block is those, and the block what they leave, as the core of a groove that
    closes on itself (``loops``).
    """
    if not outline.open_to or recess.core or not recess.floors:
        return outline
    blocks = [run for run in outline.runs if _is_block(shape, recess, run)]
    left = tuple(run for run in outline.runs if run not in blocks)
    return replace(outline, runs=left, islands=(*outline.islands, *blocks))


def _is_block(shape: PartShape, recess: Recess, run: Sequence[int]) -> bool:
    """True for walls that turn outwards all round, sharply or over rounds, between two edges of one outer plane."""
    walls = [shape.patches[w] for w in run]
    flat = all(walls[k].surface.kind == "plane" for k in (0, -1))
    if not flat or len(run) < 2 or not all(is_wall(w, recess.axis) and not hollow(w) for w in walls):
        return False
    outwards = all(_turns_out(recess, a, b) for a, b in pairwise(walls))
    ends = _sides(shape, recess, run[0]) & _sides(shape, recess, run[-1])
    return outwards and bool(ends) and not _is_left_by_slots(shape, recess, run)


def _is_left_by_slots(shape: PartShape, recess: Recess, run: Sequence[int]) -> bool:
    """True for a block with walls as far ahead of each of its own, at least ``LONG`` times as wide as that."""
    flat = [w for w in run if shape.patches[w].surface.kind == "plane"]
    gaps = [_gap_ahead(shape, recess, w) for w in flat]
    if min(gaps) < SAME_LENGTH or max(gaps) - min(gaps) > SAME_LENGTH:
        return False
    spans = [extent(shape, run, shape.patches[w].surface.axis) for w in flat]
    return all(high - low >= LONG * gaps[0] - LIMIT for low, high in spans)


def _gap_ahead(shape: PartShape, recess: Recess, wall: int) -> float:
    """How far the nearest wall of a recess stands that looks back at some of a flat one (mm); 0 for none."""
    surface = shape.patches[wall].surface
    along = cross(recess.axis, surface.axis)
    low, high = extent(shape, (wall,), along)
    found = [(gap, p) for p in recess.patches if (gap := gap_of(surface, shape.patches[p].surface)) > 0]
    spans = [(gap, extent(shape, (p,), along)) for gap, p in found]
    return min((gap for gap, (a, b) in spans if min(b, high) - max(a, low) > SAME_LENGTH), default=0.0)


def _turns_out(recess: Recess, a: Patch, b: Patch) -> bool:
    """True where the second of two walls bends away from the first, or would if nothing took the edge between."""
    if b.index in a.convex or b.index in a.smooth:
        return True
    flat = a.surface.kind == b.surface.kind == "plane"  # a floor lies left of its edge
    return flat and dot(cross(a.surface.axis, recess.axis), b.surface.axis) > SQUARE


def _sides(shape: PartShape, recess: Recess, wall: int) -> set[int]:
    """The carriers of upright planes outside a recess that a wall ends at, bending away from it."""
    beside = (shape.patches[o] for o in shape.patches[wall].convex if o not in recess.patches)
    return {shape.carriers[o.index] for o in beside if o.surface.kind == "plane" and is_wall(o, recess.axis)}
