"""What stands in a recess at the side of the part: the walls round a boss that is flush with it, not of the recess."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from schemas.base import cross, dot
from schemas.tolerances import SQUARE
from worker.recognise.passages import Outline
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recesses import Recess, hollow, is_wall


def with_edge_islands(shape: PartShape, recess: Recess, outline: Outline) -> Outline:
    """The outline with walls that lead from one side of the part round a block and back to that side as an island.

    A recess that goes round it is open there on both sides of it. Round posts are islands wherever they stand.
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
    return outwards and bool(_sides(shape, recess, run[0]) & _sides(shape, recess, run[-1]))


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
