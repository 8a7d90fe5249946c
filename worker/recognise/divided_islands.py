"""What stands on a floor that something deeper divides, and is divided with it: an island in pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from schemas.base import Vec3, cross, dot
from worker.recognise.divided_outlines import Chain, chains_round, closed
from worker.recognise.passages import Outline
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess


def with_divided_islands(shape: PartShape, recess: Recess, outline: Outline) -> Outline:
    """The outline of floors that are open to the sides, with walls that make a whole round what stands on them."""
    bent = [run for run in outline.runs if len(run) > 1]
    if len(recess.floors) < 2 or len(bent) < 2 or not outline.open_to or recess.core:
        return outline
    chains = [chain for chain in chains_round(shape, recess) if len(chain.walls) > 1]  # what turns a corner
    rings = [ring for ring in closed(shape, recess, chains) if ring.closed and len(ring.gaps) > 1]
    carriers = [{shape.carriers[w] for w in ring.walls} for ring in rings if _is_outside(recess.axis, ring)]
    islands = [tuple(p for p in recess.patches if shape.carriers[p] in own) for own in carriers]
    left = [run for run in outline.runs if not any({shape.carriers[w] for w in run} <= own for own in carriers)]
    return replace(outline, runs=tuple(left), islands=(*outline.islands, *islands))


def _is_outside(axis: Vec3, ring: Chain) -> bool:
    """True for walls that have the floor outside: with that on their left they go round to the right."""
    return _turn(axis, [place for gap in ring.gaps for place in gap]) < 0


def _turn(axis: Vec3, places: Sequence[Vec3]) -> float:
    """Twice the area that places in order go round, seen with the axis up; less than 0 to the right."""
    return sum(dot(cross(a, b), axis) for a, b in pairwise([*places, places[0]]))
